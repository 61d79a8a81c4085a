"""The four courses a level can take, drawn from what makes them."""

from __future__ import annotations

import numpy as np
import pytest

from earwitness.sound.levels import level_course, level_track

RATE = 8000


def course(shape, seconds: float = 10.0, seed: int = 0):
    t = np.arange(round(seconds * RATE)) / RATE
    noise = np.random.default_rng(seed).standard_normal(len(t)).astype(np.float32)
    return level_course(level_track((0.05 * shape(t) * noise).astype(np.float32), RATE))


@pytest.mark.parametrize("seed", range(10))
def test_a_hiss_is_steady(seed):
    found = course(np.ones_like, seed=seed)
    assert found.word == "steady" and found.spread_db < 1


@pytest.mark.parametrize("at_s", [2.0, 4.5, 7.5])
@pytest.mark.parametrize("width_s", [0.4, 0.8])
def test_passing_a_source_is_a_sweep_and_its_place_is_found(at_s, width_s):
    found = course(lambda t: 0.1 + 1 / (1 + ((t - at_s) / width_s) ** 2))
    assert found.word == "swept"
    assert found.peak_s == pytest.approx(at_s, abs=0.2) and found.rise_db > 12


@pytest.mark.parametrize("period_s", [0.5, 1.3, 2.4])
def test_a_process_that_breathes_is_pulsing(period_s):
    found = course(lambda t: np.where((t / period_s) % 1 < 0.4, 1.0, 0.15))
    assert found.word == "pulsing" and found.period_s == pytest.approx(period_s, abs=0.06)


@pytest.mark.parametrize("seed", range(10))
def test_knocks_at_no_particular_time_are_erratic(seed):
    rng = np.random.default_rng(seed)
    at = rng.uniform(0, 10, 25)

    def shape(t):
        return 0.05 + sum(np.exp(-np.maximum(t - a, 0) / 0.08) * (t >= a) * rng.lognormal(0, 0.5) for a in at)

    assert course(shape, seed=seed).word == "erratic"


def test_half_a_second_is_too_short_to_say():
    assert course(np.ones_like, seconds=0.5).word == "too-short"
