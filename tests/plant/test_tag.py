from __future__ import annotations

import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st

from earwitness.errors import InputError
from earwitness.plant.tag import ALPHABET, check_character, read_tag, tag_of


@pytest.mark.parametrize(
    ("text", "alphabet", "expected"),
    [
        ("0794", "0123456789", "5"),  # ISO 7064 MOD 11,10, the standard's example (from memory)
        # ISO 7064 MOD 37,36: the example of the Global Release Identifier standard, A1-2425G-ABC1234002-M (from memory)
        ("A12425GABC1234002", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", "M"),
    ],
)
def test_check_character_of_the_standards_examples(text, alphabet, expected):
    assert check_character(text, alphabet) == expected


@given(st.uuids(), st.integers(0, 7), st.sampled_from(ALPHABET))
def test_a_wrong_character_is_noticed(identity, place, other):
    code = tag_of(identity).replace("-", "")
    wrong = code[:place] + other + code[place + 1 :]
    if wrong == code:
        assert read_tag(wrong.lower()) == tag_of(identity)
    else:
        with pytest.raises(InputError, match="misread"):
            read_tag(wrong)


def test_the_same_identity_has_the_same_tag():
    identity = uuid.UUID("12345678-1234-5678-1234-567812345678")
    assert tag_of(identity) == tag_of(identity) != tag_of(uuid.UUID(int=identity.int + 1))
