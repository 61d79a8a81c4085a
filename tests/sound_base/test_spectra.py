"""Spectra against SciPy's, bands against Parseval, folding against its closed forms and the simulated receiver."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from earwitness.errors import InputError
from earwitness.simulate.receiver import Receiver
from earwitness.sound.bands import OCTAVE, band_levels, fractional_octaves
from earwitness.sound.heterodyne import fold
from earwitness.sound.spectrum import averaged_spectrum, spectrogram
from tests.sound_base.signals import two_tones


def noise(seconds: float, rate_hz: float, seed: int = 0) -> np.ndarray:
    return (0.1 * np.random.default_rng(seed).standard_normal(round(seconds * rate_hz))).astype(np.float32)


def squared_envelope_line(samples: np.ndarray, rate_hz: float, hz: float) -> float:
    envelope = np.abs(signal.hilbert(samples)) ** 2
    t = np.arange(len(envelope)) / rate_hz
    return 2 * abs(np.mean(envelope * np.exp(-2j * np.pi * hz * t))) / np.mean(envelope)


def test_averaged_spectrum_is_welchs():
    """Independent: scipy.signal.welch with the same frames."""
    x = noise(3, 16_000)
    ours = averaged_spectrum(x, 16_000, resolution_hz=50)
    size = 2 * (len(ours.freqs_hz) - 1)
    f, density = signal.welch(x.astype(float), 16_000, "hann", size, detrend=False)
    np.testing.assert_allclose(ours.freqs_hz, f)
    np.testing.assert_allclose(ours.density, density, rtol=1e-4)


def test_the_densities_integral_is_the_mean_square():
    x = noise(5, 48_000)
    s = averaged_spectrum(x, 48_000)
    assert np.sum(s.density) * s.freqs_hz[1] == pytest.approx(np.mean(np.square(x, dtype=float)), rel=0.01)
    g = spectrogram(x, 48_000)
    assert np.mean(np.sum(g.density, axis=1)) * g.freqs_hz[1] == pytest.approx(np.mean(np.square(x)), rel=0.01)
    assert g.density.dtype == np.float32 and g.times_s[0] == pytest.approx(0.01)


def test_a_window_longer_than_the_sound_is_refused():
    with pytest.raises(InputError):
        spectrogram(noise(0.01, 8000), 8000, window_s=0.1)


@pytest.mark.parametrize("fraction", [1, 2, 3, 6, 12, 24])
def test_bands_join_without_gap_or_overlap(fraction):
    bands = fractional_octaves(1000, 100_000, fraction=fraction)
    np.testing.assert_allclose(bands.high_hz[:-1], bands.low_hz[1:])
    np.testing.assert_allclose(bands.high_hz / bands.low_hz, OCTAVE ** (1 / fraction))
    assert bands.low_hz[0] >= 1000 * (1 - 1e-9) and bands.high_hz[-1] <= 100_000 * (1 + 1e-9)


def test_white_noise_has_as_much_power_as_a_band_is_wide():
    levels = band_levels(noise(10, 192_000), 192_000, low_hz=20_000)
    width = levels.bands.high_hz - levels.bands.low_hz
    np.testing.assert_allclose(levels.level_db, 10 * np.log10(0.01 * width / 96_000), atol=0.2)
    assert levels.bands.high_hz[-1] <= 96_000


def test_two_ultrasonic_tones_fold_into_a_mains_line_that_neither_has():
    """39.0 and 41.1 kHz make a 100 Hz line with an oscillator at 40 kHz."""
    x = two_tones(first_hz=39_000, second_hz=41_100, seconds=2, rate_hz=192_000)
    audio = fold(x, 192_000, 40_000)
    assert squared_envelope_line(audio, 16_000, 100.0) == pytest.approx(1.0, abs=0.02)
    assert squared_envelope_line(x, 192_000, 100.0) < 0.01


def test_modulation_of_noise_survives_folding():
    """107 Hz, m 0.6: the line over the mean is 2m/(1 + m²/2) = 1.0169, before and after."""
    rate, rng = 192_000, np.random.default_rng(5)
    t = np.arange(30 * rate) / rate
    x = ((1 + 0.6 * np.cos(2 * np.pi * 107 * t)) * rng.standard_normal(len(t)) * 0.05).astype(np.float32)
    assert squared_envelope_line(fold(x, rate, 40_000), 16_000, 107.0) == pytest.approx(1.0169, abs=0.04)


def test_what_lies_beyond_the_low_pass_is_not_heard():
    t = np.arange(192_000) / 192_000
    for hz, heard in ((36_200, 1.0), (43_700, 1.0), (35_900, 0.0), (44_100, 0.0)):
        out = fold(np.cos(2 * np.pi * hz * t).astype(np.float32), 192_000, 40_000)
        assert np.std(out) * np.sqrt(2) == pytest.approx(heard, abs=0.01), hz


def test_software_and_receiver_agree():
    """The simulated receiver and the software oscillator give one sound of the same ultrasound, phase aside."""
    x = two_tones(first_hz=38_500, second_hz=42_250, seconds=1, rate_hz=192_000)
    receiver = Receiver(rate_hz=16_000, q=1e-6, floor=0.0, self_noise=0, audio_low_hz=1, bits=32, gain=0.5)
    heard = np.abs(np.fft.rfft(receiver.hear(x, 192_000, np.random.default_rng(0))))
    folded = np.abs(np.fft.rfft(fold(x, 192_000, 40_000)))
    for hz in (1500, 2250):
        assert 2 * heard[hz] == pytest.approx(folded[hz], rel=0.01)
