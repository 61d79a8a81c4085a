"""Dates and times: ISO 8601, other spellings where they can mean one day only; what could be two is refused."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from earwitness.sentence import say
from earwitness.units import UnitError

_MONTHS = "jan feb mar apr may jun jul aug sep oct nov dec"
_NUMBERS = re.compile(r"^(\d{1,2})([./\-])(\d{1,2})\2(\d{2}|\d{4})(?:[ T,]+(.+))?$")
_YEAR_FIRST = re.compile(r"^(\d{4})[./](\d{1,2})[./](\d{1,2})(?:[ T,]+(.+))?$")
_NAMED = re.compile(
    r"^(?:(\d{1,2})\.?[ \-]([A-Za-z]{3,9})\.?|([A-Za-z]{3,9})\.?[ \-](\d{1,2}),?)[ \-](\d{4})(?:[ T,]+(.+))?$"
)
_CLOCK = re.compile(r"^(\d{1,2})[:h](\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*(am|pm|h|uhr)?$", re.IGNORECASE)


def _refused(code: str, template: str, text: str, where: str, **args: str) -> UnitError:
    return UnitError(say(code, "{where}: " + template, where=where, given=" ".join(text.split())[:60], **args))


def moment(text: str, *, where: str, zone: ZoneInfo | None = None, day: date | None = None) -> tuple[datetime, bool]:
    """When `text` is, in its own zone or in `zone`, and whether it carries a time of day.

    Parameters
    ----------
    zone : dates what has no zone of its own
    day : the day of a bare time ("10:42")

    Raises
    ------
    UnitError : no date, one that could be two dates, or an hour that the clocks repeat or skip

    Examples
    --------
    >>> moment("2026-11-20T10:42:00+01:00", where="taken_at")[0].isoformat()
    '2026-11-20T10:42:00+01:00'
    """
    cleaned = " ".join(text.split())
    if len(cleaned) > 60:
        raise _refused("not-a-date", "'{given}' is no date; write for example 2026-11-20T10:42.", text, where)
    found, timed = _iso(cleaned)
    if found is None:
        clock = _clock(cleaned)
        if clock is not None:
            if day is None:
                raise _refused("time-without-date", "'{given}' has no date; write for example 2026-11-20T10:42.",
                               text, where)  # fmt: skip
            found, timed = datetime.combine(day, clock), True
        else:
            found, timed = _spelled(cleaned, text, where)
    if found.tzinfo is not None:
        return found, timed
    return (_zoned(found, zone, text, where) if timed else found.replace(tzinfo=zone)), timed


def _iso(text: str) -> tuple[datetime | None, bool]:
    if not re.match(r"^\d{4}-?(?:\d{2}|W\d{2})", text) or re.fullmatch(r"\d{4,7}", text):
        return None, False
    candidate = re.sub(r"(?<=\d) (?=[+\-]\d{2}:?\d{2}$|Z$)", "", text)
    try:
        found = datetime.fromisoformat(candidate.replace(",", "."))
    except ValueError:
        return None, False
    return found, bool(re.search(r"[T ]\d", candidate)) or ":" in candidate


def is_clock(text: str) -> bool:
    """Whether `text` is a time of day without its day."""
    return _clock(" ".join(text.split())) is not None


def _clock(text: str) -> time | None:
    match = _CLOCK.match(text)
    if not match:
        return None
    hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
    half = (match[4] or "").casefold()
    if half in ("am", "pm"):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    try:
        return time(hour, minute, second)
    except ValueError:
        return None


def _spelled(cleaned: str, text: str, where: str) -> tuple[datetime, bool]:
    """A date that is not ISO: read where it can be one day only."""
    days: set[date] = set()
    rest: str | None = None
    if match := _YEAR_FIRST.match(cleaned):
        rest = match[4]
        days = _possible((match[1], match[2], match[3]))
    elif match := _NUMBERS.match(cleaned):
        a, b, year, rest = match[1], match[3], match[4], match[5]
        if len(year) == 4:
            days = _possible((year, b, a), (year, a, b))
        else:
            days = _possible(("20" + year, b, a), ("20" + year, a, b), ("20" + a, b, year))
    elif match := _NAMED.match(cleaned):
        month = _month(match[2] or match[3])
        rest = match[6]
        if month:
            days = _possible((match[5], str(month), match[1] or match[4]))
    if len(days) > 1:
        raise _refused("date-could-be-two", "'{given}' could be {choices}; write it as one of these.", text, where,
                       choices=" or ".join(day.isoformat() for day in sorted(days)))  # fmt: skip
    clock = _clock(rest) if rest else time()
    if not days or clock is None:
        raise _refused("not-a-date", "'{given}' is no date; write for example 2026-11-20T10:42.", text, where)
    return datetime.combine(days.pop(), clock), bool(rest)


def _month(word: str) -> int:
    """The month that an English word begins, 0 for none."""
    return _MONTHS.split().index(word[:3].casefold()) + 1 if word[:3].casefold() in _MONTHS.split() else 0


def _possible(*parts: tuple[str, str, str]) -> set[date]:
    days = set()
    for year, month, day in parts:
        try:
            days.add(date(int(year), int(month), int(day)))
        except ValueError:
            continue
    return days


def _zoned(found: datetime, zone: ZoneInfo | None, text: str, where: str) -> datetime:
    if zone is None:
        return found
    first, second = found.replace(tzinfo=zone, fold=0), found.replace(tzinfo=zone, fold=1)
    try:
        repeated = first.utcoffset() != second.utcoffset()
        exists = first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == found
    except OverflowError:
        return found
    if repeated:
        what = "comes twice" if exists else "does not exist"
        raise _refused("clock-change", "'{given}' {what} in {zone} where the clocks change; add the offset, "
                       "for example +01:00.", text, where, what=what, zone=zone.key)  # fmt: skip
    return first
