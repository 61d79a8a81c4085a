"""The short identifier that hangs at a point: no look-alike characters, one check character.

Eight characters of thirty (no 0 O, 1 I L, U), written in two groups; the last is a check character by the hybrid
system of ISO 7064 (MOD N+1, N), which catches every single wrong character and nearly every swap of neighbours.
"""

from __future__ import annotations

import uuid

from earwitness.errors import InputError

ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 7  # characters before the check character: 2·10^10 codes


def check_character(text: str, alphabet: str = ALPHABET) -> str:
    """Check character of `text` by ISO 7064, hybrid system MOD (N+1, N), with N characters in the alphabet."""
    n = len(alphabet)
    product = n
    for character in text:
        total = (product + alphabet.index(character)) % n or n
        product = total * 2 % (n + 1)
    return alphabet[(1 - product) % n]


def tag_of(identity: uuid.UUID) -> str:
    """The tag that belongs to an identity, always the same: "K7M4-R9TC"."""
    number, digits = identity.int % len(ALPHABET) ** LENGTH, ""
    for _ in range(LENGTH):
        number, digit = divmod(number, len(ALPHABET))
        digits += ALPHABET[digit]
    code = digits + check_character(digits)
    return f"{code[:4]}-{code[4:]}"


def read_tag(text: str) -> str:
    """A tag as typed or scanned, in its written form; raises InputError where it cannot be one."""
    code = "".join(text.upper().split()).replace("-", "")
    if len(code) != LENGTH + 1 or any(c not in ALPHABET for c in code):
        raise InputError("tag", text, "eight of the characters " + ALPHABET)
    if check_character(code[:-1]) != code[-1]:
        raise InputError("tag", text, "a tag whose check character fits; one character was misread")
    return f"{code[:4]}-{code[4:]}"
