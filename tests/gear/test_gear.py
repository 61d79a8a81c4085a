"""A tooth that strikes, a mesh that has worn, and what is neither."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import soxr

from earwitness.hearing.gear import GearMachine, judge
from earwitness.hearing.heard import Heard
from tests.bearing.signals import heard_blows, heard_noise, struck

PAIR = GearMachine(speed_hz=24.0, teeth=31, mate_teeth=47, mains_hz=50.0)


def meshing(swell: float, uneven: float) -> Heard:
    """Noise that swells with each meeting of teeth; uneven: how much that differs once a turn."""
    t = np.arange(10 * 24000) / 24000
    round_wheel = 1 + uneven * np.cos(2 * np.pi * 24.0 * t)
    level = np.maximum(1 + swell * round_wheel * np.cos(2 * np.pi * 31 * 24.0 * t), 0.05)
    return Heard((0.1 * level * np.random.default_rng(5).standard_normal(len(t))).astype(np.float32), 24000.0)


def test_a_tooth_of_the_mate_is_told_as_well():
    result = judge(heard_blows(blow_hz=24.0 * 31 / 47, seconds=10.0, slip=0.0), PAIR)
    assert result.verdict == "tooth"
    assert result.severity is not None and result.severity.args["which"] == "its mate"


def test_an_uneven_mesh_is_wear_and_a_faint_even_one_is_not():
    assert judge(meshing(0.8, 0.7), PAIR).verdict == "wear"
    assert judge(meshing(0.06, 0.0), PAIR).verdict == "no-fault-heard"


def test_a_bearing_is_not_taken_for_a_tooth():
    assert judge(heard_blows(blow_hz=3.585 * 24.0, seconds=10.0), PAIR).verdict == "inconclusive"


def test_gain_and_polarity_change_no_verdict():
    heard = heard_blows(blow_hz=24.0, seconds=10.0, slip=0.0)
    for gain in (0.05, -1.0):
        assert judge(replace(heard, samples=heard.samples * np.float32(gain)), PAIR).verdict == "tooth"


def test_without_a_speed_it_asks_for_it():
    result = judge(heard_noise(seconds=10.0), GearMachine(teeth=31))
    assert result.verdict == "inconclusive" and result.settle.code == "settle-gear-speed"


def test_resampling_bits_and_silence_change_no_verdict():
    samples = struck(rate_hz=48000, seconds=10.0, blow_hz=24.0, ring_hz=5200, slip=0.0)
    assert judge(Heard(samples, 48000.0), PAIR).verdict == "tooth"
    assert judge(Heard(soxr.resample(samples, 48000, 44100).astype(np.float32), 44100.0), PAIR).verdict == "tooth"
    for bits in (16, 24):
        coarse = (np.rint(samples * 2.0 ** (bits - 1)) / 2.0 ** (bits - 1)).astype(np.float32)
        assert judge(Heard(coarse, 48000.0), PAIR).verdict == "tooth"


def test_silence_alone_asks_for_a_rhythm():
    result = judge(Heard(np.zeros(240_000, np.float32), 24000.0), PAIR)
    assert result.verdict == "inconclusive" and result.settle.code == "settle-rhythm"


T = np.arange(10 * 44100) / 44100
PURE = {
    "sine": np.sin(2 * np.pi * 3000 * T),
    "square at 8 kHz": np.sign(np.sin(2 * np.pi * 8000 * T)),
    "square at 1 kHz": np.sign(np.sin(2 * np.pi * 1000 * T)),
    "siren": np.sin(2 * np.pi * (900 * T + 60 * np.sin(2 * np.pi * 0.5 * T))),
    "beeper": np.sin(2 * np.pi * 1250 * T) * (T % 0.9 < 0.45),
    "chord": np.sin(2 * np.pi * 440 * T) + np.sin(2 * np.pi * 554.4 * T) + np.sin(2 * np.pi * 659.3 * T),
}


@pytest.mark.parametrize("name", PURE)
@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_tones_sirens_and_beepers_are_no_damage(name, noise):
    sound = 0.2 * PURE[name] + noise * np.random.default_rng(2).standard_normal(len(T))
    for machine in (PAIR, GearMachine(speed_hz=25.0, teeth=20, mate_teeth=40), GearMachine(speed_hz=24.0)):
        result = judge(Heard(sound.astype(np.float32), 44100.0), machine)
        assert result.verdict not in ("tooth", "wear")


def test_a_level_far_over_baseline_says_act_and_none_says_watch():
    """Common practice: 8 dB over baseline to lubricate, 16 dB for damage (P); no criteria are accepted, ISO 29821-1."""
    heard = heard_blows(blow_hz=24.0, seconds=10.0, slip=0.0)
    assert judge(heard, PAIR).severity.code == "watch"
    assert judge(replace(heard, level_db=50.0, baseline_db=30.0), PAIR).severity.code == "act"
    assert judge(replace(heard, level_db=40.0, baseline_db=30.0), PAIR).severity.code == "watch"
