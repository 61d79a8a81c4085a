"""Greasing by ear: the most it takes, when to stop, what the log shows."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from earwitness.errors import EarwitnessError
from earwitness.ledger import points, sites
from earwitness.plant.reading import Machine
from earwitness.work.file_survey import file_survey
from earwitness.work.greasing import advise, record
from earwitness.work.trends import point_of
from tests.ledger.surveys import folder, judged, row

AT = datetime(2026, 2, 1, 9, tzinfo=UTC)
OPEN = Machine(speed_hz=25.0, bearing="6205", bore_m=0.025, outside_m=0.052, width_m=0.015)


@pytest.fixture
def book(ledger, tmp_path):
    rows = [row("B-1", "no-fault-heard", kind="bearing", point="Fan", level_db="22", pressure="", saving=""),
            row("A-1", "leak", point="Hose")]  # fmt: skip
    file_survey(ledger, judged(folder(tmp_path / "s", rows)))
    machine(ledger, OPEN)
    return ledger


def machine(book, m):
    with book.writing() as c:
        points.change_point(c, point_of(c, sites.site_of(c, None).id, "Fan").id, machine=m)


def advice(book, name="Fan", **given):
    with book.reading() as c:
        return advise(c, point_of(c, sites.site_of(c, None).id, name), **given)


def greased(book, grams=3.0, at=AT, before=33.0, levels=(32.0, 27.0, 22.5), after=22.5):
    return record(book, None, "Fan", who="Greaser", at=at, grams=grams, before_db=before, levels_db=levels,
                  after_db=after)  # fmt: skip


def test_amount_and_interval_of_a_deep_groove_bearing(book):
    """6205, ISO 15: 25 × 52 × 15 mm; 0.005·D·B and 10·(14e6/(n·√d) − 4·d) at 1500 rpm."""
    found = advice(book)
    assert found.dose.grams == pytest.approx(3.9) and found.interval_hours == pytest.approx(17_667, rel=1e-4)
    assert advice(book, temperature_k=358.15, vertical=True).interval_hours == pytest.approx(17_667 / 4, rel=1e-4)


@pytest.mark.parametrize("designation", ["6205-2RS", "6205 ZZ", "6205-2Z"])
def test_a_sealed_bearing_gets_none_and_none_is_filed(designation, book):
    machine(book, Machine(speed_hz=25.0, bearing=designation))
    found = advice(book)
    assert found.dose.grams is None and found.interval_hours is None
    with pytest.raises(EarwitnessError, match="no grease"):
        greased(book)
    assert not advice(book).log


@pytest.mark.parametrize(
    ("m", "code"),
    [
        (Machine(speed_hz=25.0, bearing="NU 210", bore_m=0.05), "grease-interval-other"),
        (Machine(bearing="6205", bore_m=0.025), "grease-interval-unknown"),
        (Machine(speed_hz=600.0, bearing="6205", bore_m=0.025), "grease-interval-none"),
    ],
)
def test_no_interval_where_the_formula_does_not_hold(m, code, book):
    machine(book, m)
    assert advice(book).interval_said.code == code and advice(book).interval_hours is None
    assert "grease-size-not-known" in {n.code for n in advice(book).notes}


@pytest.mark.parametrize(
    ("levels", "grams", "code"),
    [
        ((33.0, 30.0), 1.0, "grease-go-on"),
        ((33.0, 26.0, 22.5), 2.0, "grease-baseline"),
        ((33.0, 26.0, 28.0), 2.0, "grease-rising"),
        ((33.0, 30.0), 3.9, "grease-amount-in"),
    ],
)
def test_the_stop_rule(levels, grams, code, book):
    assert advice(book, levels_db=levels, grams=grams).stop.sentence.code == code


def test_the_log_keeps_level_before_during_and_after_and_why_it_stopped(book):
    greased(book)
    (done,) = advice(book).log
    assert (done.level_before_db, list(done.levels_db), done.level_after_db) == (33.0, [32.0, 27.0, 22.5], 22.5)
    assert done.at == AT and "baseline" in done.stopped_because


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"grams": 6.0}, "grease-too-much"),
        ({"before": 30.0, "levels": (31.0,), "after": 35.0}, "grease-level-rose"),
    ],
)
def test_over_greasing_is_warned_of(given, code, book):
    assert code in {n.code for n in greased(book, **given).notes}


def test_too_often_is_warned_of(book):
    greased(book)
    assert not greased(book, at=AT + timedelta(days=365)).notes
    assert [n.code for n in greased(book, at=AT + timedelta(days=380)).notes] == ["grease-too-often"]


def test_a_leak_is_not_greased(book):
    with pytest.raises(EarwitnessError, match="bearing"):
        advice(book, "Hose")
