from pathlib import Path

import numpy as np

from earwitness.gas.absorption import air_absorption


def test_thirty_five_points_of_the_standards_table():
    # ISO 9613-1:1993 table 1, as quoted (head of the file)
    table = np.genfromtxt(Path(__file__).with_name("air_absorption.csv"), delimiter=",", skip_header=2)
    celsius, humidity, hz, db_km = table.T
    assert len(table) == 35
    off = air_absorption(hz, celsius + 273.15, humidity / 100) * 1000 / db_km - 1
    assert np.abs(off).max() < 0.004


def test_half_a_metre_to_five_metres_at_40_khz():
    # spreading 20 dB and 4.5 m of air at 20 °C, 50 %: 25.93 dB (worked apart from this program)
    assert abs(20 + 4.5 * air_absorption(40_000.0) - 25.93) < 0.01


def test_nan_in_nan_out():
    assert np.isnan(air_absorption(np.nan))
