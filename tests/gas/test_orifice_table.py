"""The handbook's table of air through orifices, cell by cell."""

from pathlib import Path

import numpy as np
import pytest

from earwitness.gas.gases import reference_density
from earwitness.gas.opening import flow_through_opening

PSI, INCH, CUBIC_FOOT = 6894.757293168, 0.0254, 0.3048**3
ATMOSPHERE, ROOM = 14.7 * PSI, (70 + 459.67) / 1.8


@pytest.fixture(scope="module")
def table():
    # source: in the file's head
    return np.genfromtxt(Path(__file__).with_name("orifice_discharge.csv"), delimiter=",", skip_header=4)


def test_every_cell_lies_within_one_and_a_half_percent(table):
    psig, inches, cfm = table.T
    flow = flow_through_opening(
        "air", psig * PSI + ATMOSPHERE, diameter=inches * INCH, downstream_abs=ATMOSPHERE, temperature=ROOM,
        coefficient=1.0,
    )  # fmt: skip
    free_air = flow.mass_flow / reference_density("air", ATMOSPHERE, ROOM) * 60 / CUBIC_FOOT
    off = free_air / cfm - 1
    assert len(off) == 275
    assert np.abs(off).max() < 0.015
    assert np.sqrt(np.mean(off**2)) < 0.006
