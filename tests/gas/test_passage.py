import math

import pytest

from earwitness.errors import InputError
from earwitness.gas.opening import flow_through_opening
from earwitness.gas.passage import fanno_length, flow_through_passage


def test_friction_only_takes_away():
    flows = [
        flow_through_passage("air", 8e5, length=length, diameter=0.001).mass_flow
        for length in (0.0, 0.001, 0.01, 0.1, 1.0)
    ]
    assert flows == sorted(flows, reverse=True)
    assert flows[0] < flow_through_opening("air", 8e5, diameter=0.001, coefficient=1.0).mass_flow


def test_more_pressure_never_gives_less_flow_through_a_capillary():
    flows = [
        flow_through_passage("air", 101_325.0 + gauge, length=0.05, diameter=0.0003).mass_flow
        for gauge in (0.0, 1e2, 1e4, 5e4, 1e5, 2e5, 4e5, 1e6)
    ]
    assert flows[0] == 0 and flows == sorted(flows)


def test_short_tube_approaches_its_incompressible_coefficient():
    # one and a half velocity heads: 1/√1.5 = 0.816 (Weisbach gives 0.815 for a short tube)
    flow = flow_through_passage("air", 101_325.0 + 300.0, length=0.0, diameter=0.01)
    bernoulli = math.pi / 4 * 1e-4 * math.sqrt(2 * 1.206 * 300)
    assert flow.mass_flow / bernoulli == pytest.approx(0.816, abs=0.004)


def test_a_slot_of_wide_gap_is_far_from_laminar():
    flow = flow_through_passage("air", 8e5, length=0.02, gap=0.0005, width=0.02)
    assert flow.regime == "choked" and 0.3 < flow.coefficient < 0.85


def test_fine_openings_say_that_the_gas_slips():
    flow = flow_through_passage("helium", 8e5, length=0.01, diameter=4e-6)
    assert [n.code for n in flow.notes] == ["slip"]


def test_fanno_ends_at_the_speed_of_sound():
    assert fanno_length(1.0, 1.3) == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(
    "sizes", [{"length": 0.01}, {"length": -0.01, "diameter": 0.001}, {"length": 0.01, "gap": 0.0, "width": 0.1}]
)
def test_what_cannot_be(sizes):
    with pytest.raises(InputError):
        flow_through_passage("air", 8e5, **sizes)


def test_a_liquid_is_refused():
    with pytest.raises(InputError, match="liquid"):
        flow_through_passage("propane", 1.2e6, length=0.01, diameter=0.001)
