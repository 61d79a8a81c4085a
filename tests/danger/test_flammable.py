import pytest
from chemicals import LFL, UFL, CAS_from_any

from earwitness.danger.flammable import (
    LIMITS,
    MIXTURES,
    NOT_FLAMMABLE,
    flammability,
    lower_flammable_limit,
    release_characteristic,
    release_rate,
)
from earwitness.errors import InputError

NAMES = {"butane": "n-butane"}
TABLED = sorted(gas for gas, limits in LIMITS.items() if len(limits.published) == 2)


@pytest.mark.parametrize("gas", TABLED)
def test_limits_equal_the_tables_that_chemicals_carries(gas):
    # IEC 60079-20-1 (2010) and NFPA 497 (2008), tables of chemicals 1.5
    number = CAS_from_any(NAMES.get(gas, gas))
    for source, low, high in LIMITS[gas].published:
        assert (low, high) == (LFL(CASRN=number, method=source), UFL(CASRN=number, method=source))
    assert lower_flammable_limit(gas) == min(LFL(CASRN=number, method=source) for source, _, _ in LIMITS[gas].published)


def test_every_limit_has_a_source_and_lies_in_order():
    for limits in LIMITS.values():
        assert limits.source and 0 < limits.lower < limits.upper <= 1


def test_none_means_unknown_and_never_harmless():
    assert lower_flammable_limit("process gas") is None and flammability("process gas") == "unknown"
    assert flammability(None) == "unknown"
    assert flammability("blend", {"nitrogen": 0.5, "process gas": 0.5}) == "unknown"
    assert flammability("blend", {"methane": 0.5, "process gas": 0.5}) == "flammable"
    assert lower_flammable_limit("blend", {"methane": 0.5, "process gas": 0.5}) is None
    assert lower_flammable_limit("helium") is None and flammability("helium") == "not flammable"


def test_inert_parts_raise_the_limit():
    assert lower_flammable_limit("biogas") == pytest.approx(0.044 / 0.6)
    assert flammability("shielding gas") == "not flammable"
    assert not NOT_FLAMMABLE & set(LIMITS)
    assert all(sum(parts.values()) == pytest.approx(1) for parts in MIXTURES.values())


def test_the_standards_form_is_the_choked_flow():
    # the same hole by first principles: Cd·A·p·√(k·M/(R·T))·(2/(k+1))^((k+1)/(2(k−1)))
    import math

    k, mass, kelvin = 1.31, 0.0160425, 293.15
    direct = (
        0.75
        * 2.5e-6
        * 701_325
        * math.sqrt(k * mass / (8.314462618 * kelvin))
        * (2 / (k + 1)) ** ((k + 1) / (2 * (k - 1)))
    )
    assert release_rate(2.5e-6, 701_325.0, kelvin, mass, k) == pytest.approx(direct)


def test_a_limit_that_is_not_known_is_refused_in_one_line():
    with pytest.raises(InputError, match="lower_limit cannot be unknown"):
        release_characteristic(1e-3, lower_flammable_limit("process gas"), 0.016)


@pytest.mark.parametrize("limit", [0.0, -0.1, 1.5])
def test_limit_that_cannot_be(limit):
    with pytest.raises(InputError, match="volume fraction"):
        release_characteristic(1e-3, limit, 0.016)
