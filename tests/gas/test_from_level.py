import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from earwitness.errors import InputError
from earwitness.gas.absorption import air_absorption
from earwitness.gas.from_level import SHARED, flow_from_level, known_level_reference, smallest_heard
from earwitness.gas.jet_noise import jet_band_power_level
from earwitness.gas.opening import flow_through_opening

KNOWN = {"reference_known": True, "attachment_known": True, "on_axis": True, "distance": 1.0}
BAR7 = 801_325.0


def level_of(diameter, distance, pressure=BAR7):
    """The level that the stated physics gives, worked out forwards: the speed of sound in the throat of cold air."""
    flow = flow_through_opening("air", pressure, diameter=diameter).mass_flow
    throat = math.sqrt(1.4 * 287.05 * 293.15 / 1.2)
    power = jet_band_power_level(diameter, flow, throat, centre_hz=40e3, bandwidth_hz=4e3)
    return power - 10 * math.log10(4 * math.pi * distance**2) - air_absorption(40e3) * distance


@pytest.mark.parametrize("diameter", [0.0003, 0.001, 0.002])
@pytest.mark.parametrize("distance", [0.3, 1.0, 3.0])
def test_the_level_leads_back_to_the_hole(diameter, distance):
    found = flow_from_level("air", level_of(diameter, distance), BAR7, **(KNOWN | {"distance": distance}))
    assert found.diameter == pytest.approx(diameter, rel=0.01)


def test_slopes_run_from_25_to_5_db_a_decade_of_flow():
    # bounds from jet-noise theory in a fixed band (worked apart: D⁵ for small, D for large holes, flow D²)
    d = np.geomspace(1e-6, 1.0, 2001)
    level = jet_band_power_level(d, 1.0 * d**2, 313.0, centre_hz=40e3, bandwidth_hz=100.0)
    slope = np.diff(level) / np.diff(2 * np.log10(d))
    assert slope[0] == pytest.approx(25, abs=0.1) and slope[-1] == pytest.approx(5, abs=0.1)
    assert np.all(np.diff(slope[20:-20]) < 1e-3)
    peak = d[np.argmax(level - 20 * np.log10(d) - 10 * np.log10(d))]  # power a hertz over D²·D: spectrum's own peak
    assert peak == pytest.approx(0.2 * 313 / 40e3, rel=0.02)  # 1.6 mm


def test_band_share_equals_quadrature():
    for f_over_peak in (1e-3, 0.015, 0.025, 0.3, 1, 30):
        peak = 40e3 / f_over_peak
        level = jet_band_power_level(0.2 * 343.2 / peak, 2 / 343.2**2, 343.2, centre_hz=40e3, bandwidth_hz=4e3)
        share, _ = quad(lambda x: 4 / math.pi * x**2 / (1 + x**2) ** 2, 0.95 * f_over_peak, 1.05 * f_over_peak)
        assert level == pytest.approx(80 + 10 * math.log10(share), abs=2e-3)


@settings(max_examples=40, deadline=None)
@given(st.floats(20, 100), st.booleans(), st.booleans(), st.one_of(st.none(), st.floats(0.2, 10)),
       st.one_of(st.none(), st.floats(0, 90)))  # fmt: skip
def test_never_narrower_than_the_rule(level, attachment, axis, distance, background):
    found = flow_from_level(
        "air", level, BAR7, reference_known=True, attachment_known=attachment, on_axis=axis, distance=distance,
        background_db=background,
    )  # fmt: skip
    if background is not None and level - background < 3:
        assert found.mass_flow is None and found.notes[0].code == "level-not-over-background"
        return
    interval = found.mass_flow.interval()
    least = 4 if attachment and axis and distance is not None else 10
    assert interval.high / interval.value >= least * (1 - 1e-9)
    assert SHARED in found.mass_flow.shared


def test_louder_means_more_and_farther_means_more():
    flows = [flow_from_level("air", x, BAR7, **KNOWN).mass_flow.median for x in (40, 50, 60, 70)]
    assert flows == sorted(flows)
    far = flow_from_level("air", 60, BAR7, **(KNOWN | {"distance": 3.0})).mass_flow.median
    assert far > flows[2]


def test_background_is_taken_off_and_widens_from_3_to_6_db():
    plain = flow_from_level("air", 60, BAR7, **KNOWN)
    clear = flow_from_level("air", 60, BAR7, background_db=50.0, **KNOWN)
    close = flow_from_level("air", 60, BAR7, background_db=56.0, **KNOWN)
    assert close.mass_flow.median < clear.mass_flow.median < plain.mass_flow.median
    assert close.mass_flow.sigma > clear.mass_flow.sigma == pytest.approx(plain.mass_flow.sigma)
    # 60 less 56: 57.8 dB
    alone = flow_from_level("air", 10 * math.log10(1e6 - 10**5.6), BAR7, **KNOWN)
    assert close.mass_flow.median == pytest.approx(alone.mass_flow.median)


def test_unknown_reference_gives_a_rank_and_no_flow():
    found = flow_from_level("air", 60, BAR7, **(KNOWN | {"reference_known": False}), background_db=40.0)
    assert found.mass_flow is None and found.volume_flow is None and found.rank_db == 20
    assert "no flow or cost" in found.notes[0].text


def test_loud_levels_are_a_limit_and_wider():
    found = flow_from_level("air", 110, BAR7, **KNOWN)
    assert found.diameter <= 0.0101 and found.notes[-2].code == "level-outside-model"
    assert found.mass_flow.sigma > math.log(4) / 1.96


def test_liquids_have_no_flow_from_a_level():
    found = flow_from_level("lpg", 70, 1e6, **KNOWN)
    assert found.mass_flow is None and found.notes[-1].code == "liquid-no-level-flow"


def test_nan_and_what_cannot_be():
    found = flow_from_level("air", math.nan, BAR7, **KNOWN)
    assert found.mass_flow is None and found.rank_db is None
    with pytest.raises(InputError):
        flow_from_level("air", 60, BAR7, reference_known=True, distance=0.0)


def test_smallest_heard_mirrors_the_way_from_level_to_flow():
    diameter = 0.0005
    background = level_of(diameter, 2.0)  # a leak as loud as the background stands 3 dB over it
    heard = smallest_heard("air", background, 2.0, BAR7, reference_known=True, attachment_known=True, on_axis=True)
    assert heard.diameter == pytest.approx(diameter, rel=0.02)
    nearer = smallest_heard("air", background, 0.5, BAR7, reference_known=True)
    assert nearer.mass_flow.median < heard.mass_flow.median


@pytest.mark.parametrize("text", ["dB re 20 µPa", "dB (20 uPa)", "dB SPL", "sound pressure level"])
def test_known_references(text):
    assert known_level_reference(text)


@pytest.mark.parametrize("text", ["unknown", "", None, "dBuV", "dB re 1 µV", "display units", "0 dB = quietest"])
def test_unknown_references(text):
    assert not known_level_reference(text)


def test_a_vacuum_hides_some_of_its_sound():
    found = flow_from_level("vacuum", 60, 2e4, **KNOWN)
    interval = found.mass_flow.interval()
    assert interval.high / interval.value >= 10 * (1 - 1e-9) and "vacuum" in found.notes[0].text
