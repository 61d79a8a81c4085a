"""Missing room, ventilation or gas data never lowers a signal word."""

from hypothesis import given, settings
from hypothesis import strategies as st

from earwitness.danger.assess_gas import assess_gas
from earwitness.danger.electrical import assess_electrical
from earwitness.danger.flammable import KEPT_LIQUID, LIMITS, MIXTURES, NOT_FLAMMABLE
from earwitness.danger.hazard import severity
from earwitness.danger.toxic import EXPOSURE_LIMITS

BURNING = sorted({*LIMITS, "natural gas", "lpg", "biogas"})
TOXIC = sorted(EXPOSURE_LIMITS)
INERT = sorted(NOT_FLAMMABLE - {"air", "vacuum", "steam", "oxygen", "carbon dioxide"})
NUMBERS = {
    "release_m3_s": st.floats(1e-9, 10.0),
    "ventilation_m3_s": st.floats(0.0, 50.0),
    "room_m3": st.floats(1.0, 1e5),
    "gauge_pressure": st.floats(1e3, 1e8),
    "specific_gravity": st.floats(0.05, 6.0),
    "liquid": st.booleans(),
}
PLACES = st.sampled_from(["indoors", "outdoors", "confined", None])
MISSING = st.sets(st.sampled_from(["release_m3_s", "ventilation_m3_s", "room_m3", "specific_gravity"]), min_size=1)


def words(gas, place, values):
    return {h.code: severity(h.signal_word) for h in assess_gas(gas, place=place, **values)}


@settings(max_examples=600, deadline=None)
@given(st.sampled_from(sorted({*BURNING, *TOXIC})), PLACES, st.fixed_dictionaries(NUMBERS), MISSING)
def test_of_what_burns_or_poisons(gas, place, values, missing):
    full = words(gas, place, values)
    partial = words(gas, place, {k: v for k, v in values.items() if k not in missing})
    for hazard, word in full.items():
        assert partial[hazard] >= word


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(sorted(KEPT_LIQUID)), PLACES, st.fixed_dictionaries(NUMBERS))
def test_liquid_or_gas_not_known(gas, place, values):
    unknown = {k: v for k, v in values.items() if k not in ("liquid", "gauge_pressure")}
    assert words(gas, place, unknown)["flammable"] >= words(gas, place, values)["flammable"]


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(INERT), PLACES, st.fixed_dictionaries(NUMBERS), MISSING)
def test_of_what_displaces_oxygen(gas, place, values, missing):
    """Here the table itself has a cell for it: indoors without room data is WARNING, though data could show worse."""
    full = words(gas, place, values)["oxygen-level"]
    partial = words(gas, place, {k: v for k, v in values.items() if k not in missing})["oxygen-level"]
    assert partial >= min(full, severity("WARNING"))


@settings(max_examples=200, deadline=None)
@given(PLACES, st.fixed_dictionaries(NUMBERS))
def test_of_oxygen_and_steam_and_air(place, values):
    del values["liquid"]
    without = {k: v for k, v in values.items() if k != "gauge_pressure"}
    for gas in ("steam", "air"):
        for hazard, word in words(gas, place, values).items():
            assert words(gas, place, without)[hazard] >= word
    bare = words("oxygen", place, {})
    assert bare["oxygen-level"] >= severity("WARNING")


@given(st.floats(1, 400_000), st.sampled_from(["arcing", "tracking", "corona"]))
def test_of_electrical_voltage(voltage, verdict):
    known, unknown = assess_electrical(verdict, voltage), assess_electrical(verdict)
    assert severity(unknown.signal_word) >= severity(known.signal_word)


@given(st.sampled_from(sorted({*BURNING, *TOXIC, *MIXTURES} - {"forming gas", "shielding gas"})))
def test_a_flammable_or_toxic_leak_indoors_is_at_least_warning(gas):
    for place in ("indoors", None):
        hazards = assess_gas(gas, place=place, release_m3_s=1e-9, ventilation_m3_s=50.0, liquid=False)
        assert severity(hazards[0].signal_word) >= severity("WARNING") and hazards[0].urgent
