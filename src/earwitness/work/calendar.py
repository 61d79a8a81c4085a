"""A calendar file (iCalendar, RFC 5545): one all-day event for each planned repair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

FOLD = 75  # octets of a line, section 3.1


@dataclass(frozen=True)
class Event:
    uid: str
    first: date
    after: date  # the first day that no longer belongs to it
    summary: str
    description: str
    location: str = ""


def calendar(events: Sequence[Event], made: datetime) -> bytes:
    """The file; `made` is the moment that the events carry as their own.

    >>> event = Event("1@example", date(2026, 11, 23), date(2026, 11, 28), "Mend, then listen", "")
    >>> print(calendar([event], datetime(2026, 11, 20, 9, tzinfo=UTC)).decode().splitlines()[7])
    SUMMARY:Mend\\, then listen
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Earwitness//plan//EN"]
    stamp = made.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    for e in events:
        lines += [
            "BEGIN:VEVENT",
            f"UID:{_text(e.uid)}",
            f"DTSTAMP:{stamp}",
            f"DTSTART;VALUE=DATE:{e.first:%Y%m%d}",
            f"SUMMARY:{_text(e.summary)}",
            f"DTEND;VALUE=DATE:{e.after:%Y%m%d}",
            f"DESCRIPTION:{_text(e.description)}",
            *([f"LOCATION:{_text(e.location)}"] if e.location else []),
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    return b"".join(_folded(line) for line in [*lines, "END:VCALENDAR"])


def _text(value: str) -> str:
    """Section 3.3.11: backslash, semicolon, comma and line breaks are escaped; no other control is allowed."""
    escaped = value.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    escaped = escaped.replace("\r\n", "\n").replace("\r", "\n").replace("\n", "\\n")
    return "".join(c for c in escaped if c == "\t" or ord(c) >= 32)


def _folded(line: str) -> bytes:
    """Lines of at most 75 octets, never cut within a character."""
    out, width = bytearray(), 0
    for character in line:
        octets = character.encode("utf-8")
        if width + len(octets) > FOLD:
            out += b"\r\n "
            width = 1
        out += octets
        width += len(octets)
    return bytes(out) + b"\r\n"
