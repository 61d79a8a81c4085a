import pytest

from earwitness.errors import InputError
from earwitness.gas.reference import (
    MEANINGS,
    REFERENCES,
    ambient_reference,
    convert_volume_flow,
    find_reference,
    measured_flow,
)


@pytest.mark.parametrize("bare", ["m3", "l/min", "cubic feet", ""])
def test_a_bare_volume_is_refused(bare):
    with pytest.raises(InputError, match="says too little"):
        find_reference(bare)


def test_every_name_has_a_condition():
    for name, conditions in MEANINGS.items():
        assert find_reference(name).name == conditions[0]
        assert all(c in REFERENCES for c in conditions)


@pytest.mark.parametrize(("a", "b"), [("Nm3", "Sm3"), ("anr", "0 degC"), ("60 degF", "70 degF")])
def test_there_and_back_is_the_same(a, b):
    assert convert_volume_flow(convert_volume_flow(2.5, a, b), b, a) == pytest.approx(2.5)


def test_a_bag_at_altitude_counts_at_its_own_pressure():
    # ISO 2533: 79.495 kPa at 2,000 m
    high = measured_flow(1e-3, ambient_reference(293.15, 79_495.0), meter="bag").mass_flow.median
    low = measured_flow(1e-3, ambient_reference(293.15), meter="bag").mass_flow.median
    assert high / low == pytest.approx(79_495 / 101_325, rel=1e-3)


def test_the_meters_uncertainty_is_the_interval():
    interval = measured_flow(1e-3, "Nm3", meter="mass-flow", half_width=0.02).mass_flow.interval()
    assert interval.high / interval.value == pytest.approx(1.02)


def test_a_unit_that_means_several_says_what_was_taken():
    codes = [n.code for n in measured_flow(1e-3, "scfm", meter="rotameter").notes]
    assert codes == ["customary-meter-uncertainty", "reference-condition-assumed"]


def test_what_cannot_be():
    for wrong in ({"value": 0.0}, {"value": -1.0}, {"meter": "nose"}):
        with pytest.raises(InputError):
            measured_flow(**({"value": 1e-3, "reference": "Nm3"} | wrong))
