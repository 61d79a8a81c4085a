"""A number as people write it, read by a strict grammar: never evaluated."""

from __future__ import annotations

import re
import unicodedata

from earwitness.errors import EarwitnessError
from earwitness.sentence import Sentence, say

_LONGEST = 200
_LARGEST = 1e100  # beyond it a unit could lead out of the range of numbers
_SIGN = r"[+\-−–]"
_DIGITS = r"(?:\d{1,3}(?:[ '’]\d{3})+(?:[.,]\d+)?|\d+(?:[.,]\d+)*|[.,]\d+)"
_NUMBER = re.compile(rf"(?P<sign>{_SIGN}?)\s*(?P<digits>{_DIGITS})(?P<exponent>[eE][+\-−]?\d{{1,3}})?(?![\d.,]*\d)")
_FRACTION = re.compile(
    r"(?:(?P<whole>\d{1,3})[ -])?(?P<top>\d{1,3})/(?P<bottom>\d{1,3})(?=\s*(?:in|inch|inches|\")\s*$)"
)
_ABOUT = re.compile(r"^(?:~|≈|about\b|approx\.?|ca\.?)\s*(?=[\d.,+\-−])", re.IGNORECASE)


class UnitError(EarwitnessError):
    """A text that is not the quantity asked for; `sentence` says what was wrong, where, and what would do."""

    def __init__(self, sentence: Sentence) -> None:
        self.sentence = sentence
        super().__init__(sentence.text)


def plain(text: str) -> str:
    """The text with raised digits, odd spaces and look-alike signs made ordinary."""
    text = text.translate({0xBA: "°", 0x2DA: "°", 0x2033: '"', 0x2D: "-", 0x22C5: "·", 0xB7: "·", 0x207B: "-"})
    text = unicodedata.normalize("NFKC", text).replace("\u2044", "/").replace("µ", "u").replace("μ", "u")
    return " ".join(text.replace("''", '"').split())


def shown(text: str) -> str:
    """The text as a message repeats it: short and on one line."""
    text = " ".join(str(text).split())
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= 60 else text[:57] + "…"


def number(text: str, *, where: str, decimal: str | None = None) -> float:
    """The bare number that `text` is.

    Parameters
    ----------
    where : the place, as the message names it
    decimal : "." or "," where the sheet has shown which it uses; None where it has not

    Examples
    --------
    >>> number("1 200,5", where="load")
    1200.5
    """
    value, rest = split(text, where=where, decimal=decimal)
    if rest:
        raise UnitError(say("not-a-number", "{where}: '{given}' is not a number.", where=where, given=shown(text)))
    return value


def split(text: str, *, where: str, decimal: str | None = None) -> tuple[float, str]:
    """The number at the head of `text` and what follows it."""
    cleaned = _ABOUT.sub("", plain(text))
    if len(cleaned) <= _LONGEST:
        if match := _FRACTION.match(cleaned):
            top, bottom = int(match["top"]), int(match["bottom"])
            if bottom:
                return int(match["whole"] or 0) + top / bottom, cleaned[match.end() :].strip()
        elif match := _NUMBER.match(cleaned):
            value = float(
                _mantissa(match["digits"], decimal, where, text) + (match["exponent"] or "").replace("−", "-")
            )
            if value < _LARGEST:
                return -value if match["sign"] in ("-", "−", "–") else value, cleaned[match.end() :].strip()
    raise UnitError(
        say("not-a-number", "{where}: '{given}' does not begin with a number.", where=where, given=shown(text))
    )


def _mantissa(digits: str, decimal: str | None, where: str, given: str) -> str:
    """Digits with a decimal point and nothing else, or the reason why they could be two numbers."""
    digits = re.sub(r"[ '’]", "", digits)
    commas, points = digits.count(","), digits.count(".")
    if not commas and not points:
        return digits
    last = max(digits.rfind(","), digits.rfind("."))
    whole, tail = digits[:last], digits[last + 1 :]
    if commas and points:
        grouping = "," if digits[last] == "." else "."
        if digits.count(digits[last]) == 1 and _grouped(whole, grouping):
            return whole.replace(grouping, "") + "." + tail
    elif commas + points > 1:
        if _grouped(digits, digits[last]):
            return digits.replace(digits[last], "")
    elif not (len(tail) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0")) or decimal == digits[last]:
        return (whole or "0") + "." + tail
    elif decimal is not None:
        return whole + tail
    elif digits[last] == ".":
        return digits
    else:
        raise UnitError(
            say(
                "comma-could-be-two-numbers",
                "{where}: '{given}' could be {small} or {large}; write {small} or {large}, without a comma.",
                where=where, given=shown(given), small=f"{whole}.{tail}", large=whole + tail,
            )
        )  # fmt: skip
    raise UnitError(say("not-a-number", "{where}: '{given}' is not a number.", where=where, given=shown(given)))


def _grouped(digits: str, grouping: str) -> bool:
    head, *groups = digits.split(grouping)
    return 1 <= len(head) <= 3 and all(len(group) == 3 for group in groups)
