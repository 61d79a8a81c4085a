"""Every cell of the table of signal words, written out again here as the survey's contract has it."""

import itertools

import pytest

from earwitness.danger.hazard import SIGNAL_WORDS
from earwitness.danger.signal_word import RULES, Situation, rule_for
from earwitness.errors import InputError

BAR = 1e5
D, W, C, N = SIGNAL_WORDS

CELLS = [
    # flammable gas leak: confined; or indoors and X > 25 %; or liquid escapes | every other one
    ("flammable", Situation("confined", lfl_fraction=0.0), D),
    ("flammable", Situation("indoors", lfl_fraction=0.26), D),
    ("flammable", Situation("indoors", lfl_fraction=1e9), D),
    ("flammable", Situation("indoors", lfl_fraction=0.0, liquid=True), D),
    ("flammable", Situation("outdoors", liquid=True), D),
    ("flammable", Situation("indoors", lfl_fraction=0.25), W),
    ("flammable", Situation("indoors", lfl_fraction=0.0), W),
    ("flammable", Situation("outdoors"), W),
    # flammability unknown: confined | indoors | outdoors
    ("flammability-unknown", Situation("confined"), D),
    ("flammability-unknown", Situation("indoors"), W),
    ("flammability-unknown", Situation("outdoors"), C),
    # toxic: confined, or over IDLH | indoors, or over the short-term limit | outdoors
    ("toxic", Situation("confined", over_idlh=False, over_short_term=False), D),
    ("toxic", Situation("indoors", over_idlh=True), D),
    ("toxic", Situation("outdoors", over_idlh=True), D),
    ("toxic", Situation("indoors", over_idlh=False, over_short_term=False), W),
    ("toxic", Situation("indoors", over_idlh=False, over_short_term=True), W),
    ("toxic", Situation("outdoors", over_idlh=False, over_short_term=True), W),
    ("toxic", Situation("outdoors", over_idlh=False, over_short_term=False), C),
    ("toxic", Situation("outdoors"), C),
    # displaces or enriches oxygen: confined, or leaves 19.5–23.5 % | oxygen, or indoors without room data | other
    ("oxygen-level", Situation("confined", oxygen_out_of_range=False, room_known=True), D),
    ("oxygen-level", Situation("indoors", oxygen_out_of_range=True, room_known=True), D),
    ("oxygen-level", Situation("indoors", is_oxygen=True, oxygen_out_of_range=True, room_known=True), D),
    ("oxygen-level", Situation("indoors", is_oxygen=True, oxygen_out_of_range=False, room_known=True), W),
    ("oxygen-level", Situation("outdoors", is_oxygen=True), W),
    ("oxygen-level", Situation("indoors"), W),
    ("oxygen-level", Situation("indoors", oxygen_out_of_range=False, room_known=True), C),
    ("oxygen-level", Situation("outdoors"), C),
    # steam: superheated or over 10 bar, to the open | to the open | through a trap or valve
    ("steam", Situation(superheated=True, gauge_pressure=2 * BAR), D),
    ("steam", Situation(gauge_pressure=10.1 * BAR), D),
    ("steam", Situation(gauge_pressure=10 * BAR), W),
    ("steam", Situation(gauge_pressure=2 * BAR), W),
    ("steam", Situation(gauge_pressure=2 * BAR, to_open=False), C),
    ("steam", Situation(superheated=True, gauge_pressure=20 * BAR, to_open=False), C),
    # compressed air, vacuum: over 40 bar | other
    ("pressure", Situation(gauge_pressure=40.1 * BAR), W),
    ("pressure", Situation(gauge_pressure=40 * BAR), C),
    ("pressure", Situation(gauge_pressure=-0.8 * BAR), C),
    # electrical
    ("arcing", Situation(voltage=24.0), D),
    ("arcing", Situation(), D),
    ("tracking", Situation(voltage=1000.0), D),
    ("tracking", Situation(voltage=11_000.0), D),
    ("tracking", Situation(), D),
    ("tracking", Situation(voltage=999.0), W),
    ("corona", Situation(voltage=11_000.0), W),
    ("corona", Situation(), W),
    ("electrical-standing", Situation(voltage=11_000.0), N),
    # bearing, gear: damage at act with guards open or lifting persons | damage | friction
    ("machine-damage", Situation(act=True, guards_open=True), W),
    ("machine-damage", Situation(act=True, lifts_persons=True), W),
    ("machine-damage", Situation(act=True), C),
    ("machine-damage", Situation(guards_open=True, lifts_persons=True), C),
    ("machine-damage", Situation(), C),
    ("machine-friction", Situation(), N),
]


@pytest.mark.parametrize(("hazard", "situation", "word"), CELLS)
def test_cell(hazard, situation, word):
    assert rule_for(hazard, situation).word == word


def test_every_rule_is_reached_by_a_cell():
    reached = {(rule.hazard, rule.word, rule.when) for h, s, _ in CELLS if (rule := rule_for(h, s))}
    assert reached == {(rule.hazard, rule.word, rule.when) for rule in RULES}


def test_rules_of_a_hazard_stand_from_the_worst_down_and_end_with_one_that_always_holds():
    for _, rules in itertools.groupby(RULES, key=lambda rule: rule.hazard):
        listed = list(rules)
        words = [SIGNAL_WORDS.index(rule.word) for rule in listed]
        assert words == sorted(words)
        assert listed[-1].holds(Situation("outdoors", to_open=False, voltage=1.0, gauge_pressure=0.0, liquid=False))


def test_every_danger_is_urgent_and_warnings_as_their_rule_says():
    for rule in RULES:
        if rule.word == "DANGER":
            assert rule.urgent
        if rule.word in ("CAUTION", "NOTICE"):
            assert not rule.urgent
    now = {(rule.hazard, rule.when) for rule in RULES if rule.word == "WARNING" and rule.urgent}
    assert {hazard for hazard, _ in now} == {
        "flammable", "flammability-unknown", "toxic", "oxygen-level", "steam", "tracking", "machine-damage",
    }  # fmt: skip


def test_nan_counts_as_not_known():
    assert rule_for("flammable", Situation("indoors", lfl_fraction=float("nan"))).word == D
    assert rule_for("tracking", Situation(voltage=float("nan"))).word == D


def test_a_hazard_that_is_in_no_table():
    with pytest.raises(InputError, match="flammable"):
        rule_for("boredom", Situation())
