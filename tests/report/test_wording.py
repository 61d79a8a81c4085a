"""Numbers and sentences as people read them."""

from __future__ import annotations

import pytest

from earwitness.report import blocks, wording
from earwitness.report.build import build
from earwitness.report.format import Unit, likely, unit_for, when, with_interval
from tests.report import site


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("value", "low", "high", "shown"),
    [
        (60.2, 20.4, 178.0, "about 60 l (20–180)"),  # wide: two digits each
        (1352.0, 1243.0, 1468.0, "about 1 350 l (1 240–1 470)"),  # tight: a common step
        (100.4, 99.95, 100.9, "about 100.40 l (99.95–100.90)"),
        (0.24, 0.026, 2.31, "about 0.24 l (0.026–2.3)"),
        (9.96, 9.0, 25.0, "about 10.0 l (9.0–25)"),
    ],
)
def test_digits_follow_the_interval(value, low, high, shown):
    assert plain(with_interval({"value": value, "low": low, "high": high}, Unit("l"))) == shown


def test_no_interval_no_brackets_no_value_no_text():
    assert plain(with_interval({"value": 1234.0}, Unit("EUR"))) == "about 1 200 EUR"
    assert with_interval({}, Unit("EUR")) == "" == with_interval({"value": float("nan")}, Unit("EUR"))


@pytest.mark.parametrize(
    ("name", "quantity", "unit", "shown"),
    [
        # 1 m3/s = 60 000 l/min = 60 m3/min; 1 kg/s = 3600 kg/h = 3 600 000 g/h (definitions of litre, minute, hour)
        ("volume_flow", {"value": 1e-3, "unit": "m3/s"}, "l/min", 60.0),
        ("volume_flow", {"value": 0.05, "unit": "m3/s"}, "m³/min", 3.0),
        ("mass_flow", {"value": 2e-3, "unit": "kg/s"}, "kg/h", 7.2),
        ("mass_flow", {"value": 2e-5, "unit": "kg/s"}, "g/h", 72.0),
        ("cost_per_year", {"value": 5.0, "unit": "EUR, what it wastes"}, "EUR a year", 5.0),
    ],
)
def test_units_of_the_floor(name, quantity, unit, shown):
    chosen = unit_for(name, quantity)
    assert plain(chosen.name) == unit
    assert chosen.of(quantity["value"]) == pytest.approx(shown)


def test_never_certain_never_impossible():
    assert plain(likely(0.9999)) == "very likely (more than 99 %)"
    assert plain(likely(0.97)) == "very likely (97 %)"
    assert plain(likely(0.8)) == "likely (80 %)"


@pytest.mark.parametrize("stamp", ["2026-13-01", "3/4/2026", "", "2026-11-18T9"])
def test_what_is_no_date_stays_as_it_is(stamp):
    assert when(stamp) == stamp


def test_the_headline_says_what_how_sure_how_much_and_what_it_costs():
    leak = next(r for r in site.findings()["readings"] if r["reading"] == "R-002")
    assert plain(wording.headline(leak)) == (
        "Air leak, very likely (97 %), about 60 l/min (20–180); wastes about 410 EUR a year (140–1 200), of which the "
        "controls give back about 130 EUR a year (44–390)."
    )
    assert wording.headline({**leak, "summary": {"code": "x", "text": "Given."}}) == "Given."


def test_controls_give_nothing_back_of_a_gas_that_is_bought():
    leak = next(r for r in site.findings()["readings"] if r["reading"] == "R-002")
    assert "controls" not in wording.headline({**leak, "medium": "LPG"})
    assert "of which the controls give back" in wording.headline({**leak, "medium": None})


@pytest.mark.parametrize(
    ("name", "given", "shown"),
    [
        ("speed_rpm", {"given": "1480", "value": 24.67, "unit": "Hz"}, ("speed", "1480 rpm")),
        ("distance_m", {"given": "25 cm", "value": 0.25, "unit": "m"}, ("distance", "25 cm")),
        ("rolling_elements", {"given": "9", "value": 9.0, "unit": "1"}, ("rolling elements", "9")),
        ("centre_khz", {"given": "40000", "value": 40000.0, "unit": "Hz"}, ("centre", "40000 Hz")),
        (
            "hours_per_year",
            {"given": "6200", "value": 6200.0, "unit": "h", "from": "survey"},
            ("hours per year", "6200 h (from the survey's settings)"),
        ),
    ],
)
def test_conditions_carry_their_unit(name, given, shown):
    label, text = wording.condition(name, given)
    assert (label, plain(text)) == shown


def test_strong_evidence_has_its_line_and_weak_evidence_its_place():
    weights = [3.0, -2.0, 1.0, 0.5, 0.31, 0.2, 0.15, 0.05, 0.0]
    pieces = [
        {"name": f"piece {n}", "value": 1.0, "unit": "dB", "criterion": "> 0", "for": "leak", "weight": w}
        for n, w in enumerate(weights)
    ]
    kept, weaker = blocks.evidence_split({"evidence": pieces})
    assert [e.name for e in kept] == [f"Piece {n}" for n in range(5)]
    assert kept[1].speaks == "strongly against leak (−2.0)"
    assert weaker.startswith("Piece 5, for leak (+0.2); Piece 6, for leak (+0.1")
    assert plain(weaker).endswith("2 pieces more that say next to nothing")


def test_a_note_on_nearly_every_reading_is_said_once():
    findings = site.findings()
    note = {"code": "signal-inferred", "args": {}, "text": "Read as heterodyned audio."}
    for reading in findings["readings"]:
        reading["notes"] = [*reading.get("notes", []), note]
    report = build(findings, {})
    assert note["text"] in report.judged
    shown = [*report.urgent, *report.blocks, *report.undecided]
    assert not any(note["text"] in b.notes for b in shown)
    assert any("typical for its size" in n for b in shown for n in b.notes)


def test_what_the_survey_set_for_all_stands_in_the_record_once():
    findings = site.findings()
    for reading in findings["readings"]:
        given = {"given": "6200", "value": 6200.0, "unit": "h", "from": "survey"}
        reading["conditions"] = {**reading.get("conditions", {}), "hours_per_year": given}
    report = build(findings, {})
    assert [plain(s.text) for s in report.record if s.label == "hours per year"] == [
        "6200 h (from the survey's settings)"
    ]
    assert not any(s.label == "hours per year" for b in report.blocks for s in b.place)
