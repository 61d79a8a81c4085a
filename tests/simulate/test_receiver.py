"""The simulated receiver against what a receiver must do, and the plant's noises against what they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from earwitness.simulate.noise import PARTS, modulated_noise, plant_noise, two_tones
from earwitness.simulate.receiver import AutomaticGain, Band, Receiver, random_receiver

FLAT = Receiver(q=1e-6, floor=0.0, self_noise=0, audio_low_hz=1, bits=32)


def amplitude(samples: np.ndarray, rate_hz: float, hz: float) -> float:
    t = np.arange(len(samples)) / rate_hz
    return float(2 * abs(np.mean(samples * np.exp(-2j * np.pi * hz * t))))


@pytest.mark.parametrize(("hz", "heard_hz"), [(39_000, 1000), (41_000, 1000), (37_500, 2500), (43_500, 3500)])
def test_both_sides_of_the_oscillator_fold(hz, heard_hz):
    """f → |f − f_LO| with the amplitude kept, from real ultrasound sampled at 400 kHz."""
    t = np.arange(400_000) / 400_000
    audio = FLAT.hear(0.5 * np.cos(2 * np.pi * hz * t), 400_000, np.random.default_rng(0))
    assert len(audio) == 48_000 and audio.dtype == np.float32
    assert amplitude(audio, 48_000, heard_hz) == pytest.approx(0.5, abs=0.05 if heard_hz > 3000 else 0.005)


def test_beyond_the_pass_band_little_is_heard():
    t = np.arange(400_000) / 400_000
    audio = FLAT.hear(0.5 * np.cos(2 * np.pi * 48_000 * t), 400_000, np.random.default_rng(0))
    assert np.std(audio) < 0.01


def test_modulated_noise_keeps_its_modulation():
    """107 Hz, m 0.6: squared-envelope line over mean 1.0169 before and after."""
    rng, band = np.random.default_rng(1), FLAT.band
    t = band.times(20)
    envelope = band.noise(rng, 20) * (0.05 * (1 + 0.6 * np.cos(2 * np.pi * 107 * t))).astype(np.float32)
    audio = FLAT.hear_band(envelope, rng)
    power = np.square(audio, dtype=float)
    assert amplitude(power, 48_000, 107) / power.mean() == pytest.approx(1.0169, abs=0.04)


def test_two_tones_make_a_false_mains_line():
    rng = np.random.default_rng(2)
    audio = FLAT.hear_band(0.2 * two_tones(rng, 4, FLAT.band, apart_hz=100.0), rng)
    power = np.square(audio, dtype=float)
    assert amplitude(power, 48_000, 100) / power.mean() > 0.5


def test_the_envelope_road_and_the_real_road_are_one():
    rng = np.random.default_rng(3)
    ultrasound = rng.standard_normal(96_000) * 0.05
    direct = FLAT.hear(ultrasound, 192_000, np.random.default_rng(4))
    by_band = FLAT.hear_band(FLAT.band.from_samples(ultrasound, 192_000), np.random.default_rng(4))
    np.testing.assert_array_equal(direct, by_band)


def test_a_wide_band_recording_keeps_frequencies_where_they_are():
    wide = FLAT.as_direct(192_000)
    tone = wide.band.tone(61_000, 1.0)
    audio = wide.hear_band(0.5 * tone, np.random.default_rng(0))
    assert len(audio) == 192_000
    assert amplitude(audio, 192_000, 61_000) == pytest.approx(0.5, rel=1e-3)
    t = np.arange(400_000) / 400_000
    audio = FLAT.record_direct(0.5 * np.cos(2 * np.pi * 61_000 * t), 400_000, np.random.default_rng(0), 192_000)
    assert amplitude(audio, 192_000, 61_000) == pytest.approx(0.5, rel=1e-3)


def test_the_transducer_rings_at_its_resonance():
    tuned = replace(FLAT, q=20.0, resonance_hz=40_000)
    heard = [
        amplitude(tuned.hear_band(0.5 * tuned.band.tone(hz, 1.0), np.random.default_rng(0)), 48_000, abs(hz - 40_000))
        for hz in (40_500, 41_000)
    ]  # half-power points of a resonance of Q 20 at 40 kHz lie 1 kHz off
    assert heard[1] == pytest.approx(0.5 / np.sqrt(2), rel=0.02) and heard[0] > heard[1]


def test_automatic_gain_wipes_the_level_and_keeps_the_modulation():
    """τ ≥ 20 ms: +20 dB in → 0 dB out, a 107 Hz modulation kept."""
    agc = replace(FLAT, agc=AutomaticGain(attack_s=0.02, release_s=0.1, most_gain=1e4))
    rng, band = np.random.default_rng(5), FLAT.band
    envelope = band.noise(rng, 10) * (0.01 * (1 + 0.6 * np.cos(2 * np.pi * 107 * band.times(10)))).astype(np.float32)
    soft, loud = (agc.hear_band(np.float32(g) * envelope, np.random.default_rng(6)) for g in (1, 10))
    assert 20 * np.log10(np.std(loud) / np.std(soft)) == pytest.approx(0, abs=0.1)
    power = np.square(loud, dtype=float)
    assert amplitude(power, 48_000, 107) / power.mean() > 0.9


@pytest.mark.parametrize("bits", [16, 24])
def test_samples_stand_on_the_recorders_steps(bits):
    audio = replace(FLAT, bits=bits).hear_band(
        0.1 * FLAT.band.noise(np.random.default_rng(0), 0.5), np.random.default_rng(0)
    )
    steps = audio.astype(float) * 2 ** (bits - 1)
    np.testing.assert_array_equal(steps, np.rint(steps))


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("band", [Band(40_000, 8000), Band(33_000, 48_000), Band(96_000, 192_000)], ids=str)
def test_each_noise_is_of_unit_strength_and_repeats_with_its_seed(name, band):
    first, again = (PARTS[name](np.random.default_rng(7), 3.0, band) for _ in range(2))
    np.testing.assert_array_equal(first, again)
    assert first.dtype == np.complex64 and len(first) == band.count(3.0)
    assert np.sqrt(np.mean(np.abs(first) ** 2)) == pytest.approx(1.0, rel=1e-3)


def test_air_conditioners_beat_where_they_do():
    rng, band = np.random.default_rng(8), Band(40_000, 16_000)
    power = np.abs(modulated_noise(rng, 20, band, at_hz=117.9)) ** 2
    lines = {hz: amplitude(power, 16_000, hz) for hz in (100.0, 117.9, 120.0)}
    assert max(lines, key=lines.get) == 117.9


def test_ninety_receivers_hear_the_plant():
    for seed in range(90):
        rng = np.random.default_rng(seed)
        receiver = random_receiver(rng, direct=seed % 3 == 0, agc=seed % 5 == 0)
        audio = receiver.hear_band(0.05 * plant_noise(rng, 0.7, receiver.band), rng)
        assert np.isfinite(audio).all() and np.abs(audio).max() <= 1 and np.std(audio) > 0
        assert len(audio) == pytest.approx(0.7 * receiver.rate_hz, abs=2)
