import pytest

from earwitness.danger.electrical import assess_electrical, assess_open_discharge, shock_boundaries
from earwitness.danger.hazard import severity
from earwitness.danger.machine import DAMAGE, assess_machine
from earwitness.errors import InputError


def codes(hazard):
    return [a.code for a in hazard.first_actions]


@pytest.mark.parametrize("verdict", ["arcing", "tracking", "corona"])
def test_a_discharge_always_says_do_not_open_touch_or_switch(verdict):
    for voltage in (None, 400.0, 11_000.0):
        hazard = assess_electrical(verdict, voltage)
        assert any("Do not open, touch or switch" in a.text for a in hazard.first_actions)
        assert severity(hazard.signal_word) >= severity("WARNING")


def test_no_distance_outside_the_tabled_values():
    for voltage in (None, 24.0, 150.0, 36_000.0):
        assert shock_boundaries(voltage) is None
        assert "no-distance-given" in codes(assess_electrical("arcing", voltage))
    assert "shock-boundary" in codes(assess_electrical("arcing", 400.0))


def test_corona_is_planned_and_no_action_of_it_names_a_day():
    """It erodes insulation over months: the word warns, the authorised person decides when; one rule, not two."""
    found = assess_electrical("corona", 11_000.0)
    assert (found.signal_word, found.urgent) == ("WARNING", False)
    assert not any(day in action.text for action in found.first_actions for day in ("today", "now"))


@pytest.mark.parametrize("supply", [None, "sinusoidal", "inverter"])
def test_corona_where_none_is_to_be_expected_is_as_urgent_as_the_tracking_it_is_taken_for(supply):
    """Peek: none below 1 kV but for the surges of an inverter. That questions the word, never the urgency."""
    assert assess_electrical("corona", 400.0, supply).urgent is (supply != "inverter")
    assert assess_open_discharge(("corona", "tracking"), 400.0, supply).urgent


def test_corona_below_1_kv_is_queried_and_no_less_urgent():
    # Peek's law; inverter surges can exceed it
    low = assess_electrical("corona", 400.0)
    assert "corona-below-1kv" in codes(low) and low.signal_word == "WARNING"
    assert "corona-below-1kv" not in codes(assess_electrical("corona", 400.0, "inverter"))
    assert "corona-below-1kv" not in codes(assess_electrical("corona", 11_000.0))


@pytest.mark.parametrize("verdict", ["mains-hum", "no-discharge-heard", "inconclusive"])
def test_nothing_heard_is_still_energised(verdict):
    hazard = assess_electrical(verdict, 11_000.0)
    assert hazard.signal_word == "NOTICE" and not hazard.urgent


def test_voltage_that_cannot_be():
    with pytest.raises(InputError):
        assess_electrical("arcing", -1.0)


@pytest.mark.parametrize("verdict", DAMAGE)
def test_damage_and_people(verdict):
    assert assess_machine(verdict, act=True).signal_word == "CAUTION"
    hoist = assess_machine(verdict, act=True, lifts_persons=True)
    assert (hoist.signal_word, hoist.urgent, codes(hoist)) == ("WARNING", True, ["stop-machine"])


def test_no_fault_heard_is_no_hazard():
    assert assess_machine("no-fault-heard") is None and assess_machine("inconclusive") is None
