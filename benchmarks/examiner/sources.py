"""What is in the air and in the metal of a plant, at the rate of the world (before the receiver).

Jets hiss like Gaussian noise with a broad peak at St = f·D/U ≈ 0.2 (Lighthill; M). Metal rings in modes, damped by
0.3–3 % (M).
Drives whine at multiples of their switching frequency (P). Speech has sibilants up to and over 20 kHz (M).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Floats = NDArray[np.floating]
Rng = np.random.Generator


def coloured(rng: Rng, n: int, rate: float, shape: Callable[[Floats], Floats]) -> Floats:
    """Gaussian noise whose amplitude follows `shape` of frequency [Hz], unit rms."""
    spectrum = fft.rfft(rng.standard_normal(n, dtype=np.float32))
    noise = fft.irfft(spectrum * shape(np.fft.rfftfreq(n, 1 / rate).astype(np.float32)), n)
    return noise / np.std(noise)


def slow(rng: Rng, n: int, rate: float, hz: float, depth_db: float) -> Floats:
    """A gain that wanders by `depth_db` (one standard deviation) no faster than about `hz`."""
    knots = max(4, int(n / rate * hz * 2) + 4)
    gains = 10 ** (depth_db * rng.standard_normal(knots) / 20)
    return np.interp(np.linspace(0, knots - 1, n), np.arange(knots), gains).astype(np.float32)


def jet(rng: Rng, n: int, rate: float, hole_mm: float) -> Floats:
    """The hiss of a jet: haystack with its peak at 0.2·U/D, shaken a little by turbulence."""
    peak = 0.2 * 310 / (hole_mm * 1e-3)
    hiss = coloured(rng, n, rate, lambda f: (f / peak) / (1 + (f / peak) ** 2))
    return hiss * slow(rng, n, rate, rng.uniform(1, 6), rng.uniform(0.1, 0.7))


def hall(rng: Rng, n: int, rate: float) -> Floats:
    """A hall far away: noise that falls with frequency, wandering slowly."""
    knee, power = rng.uniform(1e3, 8e3), rng.uniform(0.5, 1.3)
    noise = coloured(rng, n, rate, lambda f: 1 / (1 + (f / knee) ** 2) ** (power / 2))
    return noise * slow(rng, n, rate, 0.7, rng.uniform(0.1, 0.8))


def tones(rng: Rng, n: int, rate: float, freqs: Floats, wander_hz: float = 1.0) -> Floats:
    """Whines: sines with random sizes whose frequency wanders together, as a machine's do."""
    drift = slow(rng, n, rate, 0.5, 3.0)
    phase = 2 * np.pi * np.cumsum(wander_hz * np.log(drift)) / rate
    t = np.arange(n) / rate
    out = np.zeros(n)
    for f in freqs:
        out += rng.uniform(0.3, 1) * np.sin(2 * np.pi * f * t + phase * f / freqs[0] + rng.uniform(0, 6.28))
    return out


def ring(rng: Rng, n: int, rate: float, times: Floats, sizes: Floats, damping: float = 0.01) -> Floats:
    """Impacts at `times` [s]: each rings the structure's modes, which lie anywhere from 3 kHz up."""
    hits = np.zeros(n, dtype=np.float32)
    index = np.round(np.asarray(times) * rate).astype(int)
    inside = (index >= 0) & (index < n)
    np.add.at(hits, index[inside], np.asarray(sizes)[inside])
    t = np.arange(int(0.06 * rate)) / rate
    answer = np.zeros(t.size)
    for mode in np.exp(rng.uniform(np.log(min(3e3, 0.08 * rate)), np.log(0.48 * rate), int(rng.integers(10, 22)))):
        zeta = damping * rng.uniform(0.5, 2)
        answer += rng.standard_normal() * np.exp(-2 * np.pi * mode * zeta * t) * np.sin(2 * np.pi * mode * t)
    return fft.irfft(fft.rfft(hits) * fft.rfft(answer.astype(np.float32), n), n)


def poisson(rng: Rng, seconds: float, per_second: float) -> Floats:
    """Times of random events [s]."""
    return np.sort(rng.uniform(0, seconds, rng.poisson(per_second * seconds)))


def clatter(rng: Rng, n: int, rate: float, per_second: float = 2.0) -> Floats:
    """Metal on metal, somewhere: random hits of random size."""
    times = poisson(rng, n / rate, per_second)
    return ring(rng, n, rate, times, rng.lognormal(0, 0.8, times.size), damping=0.01)


def gates(n: int, rate: float, starts: Floats, lengths: Floats, edge_s: float = 0.01) -> Floats:
    """One while a gate is open, with edges that take `edge_s`."""
    step = np.zeros(n + 1)
    begin = np.clip(np.asarray(starts) * rate, 0, n).astype(int)
    end = np.clip((np.asarray(starts) + lengths) * rate, 0, n).astype(int)
    np.add.at(step, begin, 1)
    np.add.at(step, end, -1)
    opened = (np.cumsum(step[:-1]) > 0).astype(np.float32)
    width = max(1, int(edge_s * rate))
    total = np.concatenate([np.zeros(width), np.cumsum(opened)])
    return (total[width:] - total[:-width]) / width


def puffs(rng: Rng, n: int, rate: float, period_s: float, length_s: float) -> Floats:
    """Air let go in rhythm: the exhaust of a cylinder or somebody blowing chips off."""
    starts = np.arange(rng.uniform(0, period_s), n / rate, period_s)
    starts = starts + rng.normal(0, 0.02 * period_s, starts.size)
    return jet(rng, n, rate, rng.uniform(1, 4)) * gates(n, rate, starts, length_s * rng.uniform(0.9, 1.1, starts.size))


def babble(rng: Rng, n: int, rate: float) -> Floats:
    """Voices: voiced syllables below 4 kHz, and sibilants that reach into the ultrasound, three to five a second."""
    starts = poisson(rng, n / rate, rng.uniform(2, 5))
    lengths = rng.uniform(0.05, 0.18, starts.size)
    s = coloured(rng, n, rate, lambda f: (f / 8e3) ** 2 / (1 + (f / 8e3) ** 4))
    voiced = coloured(rng, n, rate, lambda f: 1 / (1 + (f / 700) ** 3)) * gates(
        n, rate, starts + 0.1, lengths * 1.5, 0.04
    )
    return s * gates(n, rate, starts, lengths, 0.03) + 3 * voiced


def lines(rng: Rng, n: int, rate: float, freqs: Floats, sizes: Floats) -> Floats:
    """Many steady tones at once, each on the nearest bin of the whole length."""
    spectrum = np.zeros(n // 2 + 1, dtype=np.complex64)
    np.add.at(
        spectrum, np.round(freqs * n / rate).astype(int), sizes * np.exp(1j * rng.uniform(0, 6.28, sizes.size)) * n / 2
    )
    return fft.irfft(spectrum, n)


def switching(rng: Rng, n: int, rate: float, carrier: float, output_hz: float) -> Floats:
    """A frequency converter: multiples of its carrier with sidebands at twice the motor's frequency (P)."""
    k, side = np.meshgrid(np.arange(1, int(0.47 * rate / carrier) + 1), np.arange(-4, 5, 2))
    freqs = (k * carrier + side * output_hz).ravel()
    sizes = (rng.uniform(0.2, 1, k.shape) / (1 + np.abs(side))).ravel()
    return lines(rng, n, rate, freqs, sizes)


def beeper(rng: Rng, n: int, rate: float) -> Floats:
    """A reversing beeper: a piezo's tone of 1–3 kHz with all its overtones, on and off about once a second (P)."""
    k = np.arange(1, int(0.47 * rate / 3000) + 1)
    out = lines(rng, n, rate, k * rng.uniform(1000, 3000), k**-0.7)
    period = rng.uniform(0.7, 1.3)
    starts = np.arange(rng.uniform(-period, 0), n / rate, period)
    return out * gates(n, rate, starts, np.full(starts.size, period * rng.uniform(0.4, 0.6)))
