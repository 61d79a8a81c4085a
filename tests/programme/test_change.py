"""The charts' stated rates of false alarm, against runs of the charts themselves on sound points."""

from __future__ import annotations

import math

import numpy as np
import pytest

from earwitness.errors import InputError
from earwitness.programme.change import cusum, cusum_false_alarm_every


def run_lengths(decision: float, bases: np.ndarray, longest: int) -> np.ndarray:
    """Readings until each of so many sound points alarms, by the chart's recursion (Page 1954)."""
    rng = np.random.default_rng(7)
    height, length = np.zeros(bases.shape), np.full(bases.shape, longest)
    for n in range(1, longest + 1):
        height = np.maximum(0, height + rng.standard_normal(bases.shape) - bases - 0.5)
        length = np.where((height > decision) & (length == longest), n, length)
    return length


@pytest.mark.parametrize("decision", [2.0, 4.0])
def test_the_stated_rate_is_that_of_sound_points(decision):
    lengths = run_lengths(decision, np.zeros(2000), 5000)
    assert cusum_false_alarm_every(0.5, decision) == pytest.approx(lengths.mean(), rel=0.08)


@pytest.mark.parametrize("count", [3, 5, 9])
def test_a_baseline_of_few_readings_alarms_more_often_and_it_is_said(count):
    bases = np.median(np.random.default_rng(8).standard_normal((400, count)), axis=1)  # 400 points, 30 runs of each
    lengths = run_lengths(5.0, np.repeat(bases[:, None], 30, axis=1), 3000)
    rate = float(np.mean(1 / lengths.mean(axis=1)))  # a run of 3,000 without alarm adds next to nothing
    assert 1 / cusum_false_alarm_every(0.5, 5.0, baseline_count=count) == pytest.approx(rate, rel=0.2)
    assert cusum_false_alarm_every(0.5, 5.0, baseline_count=count) < cusum_false_alarm_every(0.5, 5.0) / 2


def test_a_lasting_rise_is_found_with_its_beginning_whatever_the_interval():
    levels = np.r_[np.full(8, 30.0), np.full(8, 32.5)] + np.tile([0.4, -0.4], 8)
    found = cusum(levels, 30.0, 1.0)
    assert found.began == 8 and found.alarm is not None and 9 <= found.alarm <= 11


def test_scatter_without_a_rise_is_none():
    levels = 30 + 1.0 * np.array([0.3, -1.1, 0.8, -0.2, 0.5, -0.9, 1.2, -0.4])
    assert cusum(levels, 30.0, 1.0).alarm is None


def test_a_missing_level_says_nothing():
    with_gap = cusum(np.array([31.0, math.nan, 31.0]), 30.0, 1.0)
    assert list(with_gap.heights) == pytest.approx([0.5, 0.5, 1.0])


@pytest.mark.parametrize("arguments", [(0.0, 5.0), (0.5, -1.0)])
def test_what_cannot_be_is_refused(arguments):
    with pytest.raises(InputError):
        cusum_false_alarm_every(*arguments)
