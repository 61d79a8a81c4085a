"""What is switched has a front, what is passed has none."""

from __future__ import annotations

import numpy as np
import pytest

from earwitness.sound.pulsing import find_bursts, fronts, quantile

HOP_S = 0.02
T = np.arange(500) * HOP_S


def noise(seed: int) -> np.ndarray:
    return 0.6 * np.random.default_rng(seed).standard_normal(len(T))


@pytest.mark.parametrize("width_s", [0.2, 0.4, 1.0])
@pytest.mark.parametrize("over_db", [10.0, 25.0])
def test_a_source_that_is_passed_has_no_front(width_s, over_db):
    passed = 10 * np.log10(1 + 10 ** (over_db / 10) / (1 + ((T - 5) / width_s) ** 2)) + noise(1)
    assert not len(fronts(passed, 3, 4.0))
    assert not find_bursts(passed, HOP_S).mask.any()


@pytest.mark.parametrize("over_db", [6.0, 12.0, 30.0])
@pytest.mark.parametrize("length_s", [0.1, 0.3, 0.8])
@pytest.mark.parametrize("tail_s", [0.0, 0.1, 0.3])
def test_what_is_switched_every_so_often_is_found_each_time(over_db, length_s, tail_s):
    since = (T - 0.3) % 1.4
    power = np.where(since < length_s, 1.0, np.exp(-(since - length_s) / tail_s) if tail_s else 0.0)
    found = find_bursts(10 * np.log10(1 + 10 ** (over_db / 10) * power * (T > 0.3)) + noise(2), HOP_S)
    assert found.period_s == pytest.approx(1.4, abs=0.05)
    assert len(found.onsets_s) in (6, 7) and found.rhythmic  # what has not died away joins the next
    assert found.mask.mean() > 0.6 * length_s / 1.4


def test_a_leak_that_is_come_to_within_a_puff_is_not_part_of_it():
    level = np.where((T > 2) & (T < 2.2), 8.0, 0.0) + 20 / (1 + ((T - 4) / 0.6) ** 2)
    assert not find_bursts(level + noise(3), HOP_S).mask[170:230].any()


def test_a_sweep_that_began_on_its_source_is_no_puff_that_nobody_heard_begin():
    level = 20 * np.exp(-T / 2) + np.where((T > 6) & (T % 0.9 < 0.1), 10.0, 0.0)
    assert not find_bursts(level + noise(4), HOP_S).mask[:200].any()


@pytest.mark.parametrize("share", [0.0, 0.15, 0.5, 0.97, 1.0])
@pytest.mark.parametrize("shape", [(1,), (2,), (309,), (78, 5)])
def test_a_quantile_is_what_half_or_so_many_lie_under(shape, share):
    values = np.random.default_rng(2).standard_normal(shape)
    assert quantile(values, share) == pytest.approx(np.quantile(values, share, axis=0))
