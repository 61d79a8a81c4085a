"""The calendar file, read back by an independent library of iCalendar (icalendar, RFC 5545)."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from earwitness.work.calendar import Event, calendar

MADE = datetime(2026, 11, 20, 9, 30, tzinfo=UTC)
MONDAY = date(2026, 11, 30)


def read(events: list[Event]) -> list[icalendar.Event]:
    parsed = icalendar.Calendar.from_ical(calendar(events, MADE))
    assert parsed["VERSION"] == "2.0" and parsed["PRODID"]  # both required, RFC 5545 section 3.6
    assert not parsed.errors
    return [c for c in parsed.walk("VEVENT")]


def event(**changed) -> Event:
    kept = {"uid": "1@earwitness", "first": MONDAY, "after": MONDAY + timedelta(days=5), "summary": "Mend the capper"}
    return Event(**{**kept, "description": "fitter, 1 h", "location": "Filling hall", **changed})


def test_an_event_is_read_back_as_it_was_meant():
    (one,) = read([event()])
    assert not one.errors
    assert (one["UID"], one["SUMMARY"], one["LOCATION"]) == ("1@earwitness", "Mend the capper", "Filling hall")
    assert one["DESCRIPTION"] == "fitter, 1 h"
    assert one["DTSTAMP"].dt == MADE
    assert (one["DTSTART"].dt, one["DTEND"].dt) == (MONDAY, date(2026, 12, 5))  # all day; the end is not in it, 3.6.1
    assert one["DTSTART"].params["VALUE"] == "DATE"
    assert one.duration == timedelta(days=5)
    assert one["TRANSP"] == "TRANSPARENT"


def test_each_event_has_an_identity_of_its_own_and_none_is_lost():
    found = read([event(uid=f"{n}@earwitness") for n in range(300)])
    assert len({e["UID"] for e in found}) == 300


def test_an_empty_plan_is_still_a_calendar():
    assert read([]) == []


def test_no_text_can_add_a_property():
    (one,) = read([event(summary="x\r\nATTENDEE:mailto:a@example.com\r\nEND:VEVENT", location="a\nBEGIN:VALARM")])
    assert "ATTENDEE" not in one
    assert not one.subcomponents
    assert one["SUMMARY"] == "x\nATTENDEE:mailto:a@example.com\nEND:VEVENT"


@pytest.mark.parametrize(
    "text", ["a;b,c\\d", "semi; comma, back\\n slash", "tab\there", "Ölpresse 3 · Zulauf", "漏" * 60]
)
def test_signs_of_the_format_come_back(text):
    (one,) = read([event(summary=text, location=text, description=text)])
    assert (one["SUMMARY"], one["LOCATION"], one["DESCRIPTION"]) == (text, text, text)


ANY = st.text(st.characters(exclude_categories=("Cs", "Cc"), include_characters="\n\t"), max_size=200)


@settings(max_examples=200, deadline=None)
@given(ANY.filter(str.strip))
def test_any_text_is_read_back_and_every_line_is_short(text):
    data = calendar([event(description=text)], MADE)
    lines = data.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)  # section 3.1
    assert all(line.decode("utf-8") is not None for line in lines)  # no character is cut
    assert not re.search(rb"[^\r]\n", data)
    (one,) = read([event(description=text)])
    assert one["DESCRIPTION"] == text
