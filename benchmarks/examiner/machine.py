"""What bearings and gears share: friction noise in a machine's metal, trains of impacts that slip, and a look whether
the truth can be told.

Trains slip as in Randall & Antoni, Rolling element bearing diagnostics, MSSP 25 (2011): the gaps wander, the phase is
lost (random walk).
"""

from __future__ import annotations

import numpy as np
from scipy import fft

from benchmarks.examiner import sources
from benchmarks.examiner.receiver import Receiver
from benchmarks.examiner.scene import Floats, pick, scaled

Rng = np.random.Generator


def train(rng: Rng, seconds: float, hz: float, jitter: float) -> Floats:
    """Times of a train whose gaps wander by `jitter` of their length [s]."""
    gaps = rng.normal(1, jitter, int(seconds * hz * 1.1) + 8) / hz
    times = np.cumsum(np.maximum(gaps, 0.2 / hz)) - pick(rng, 0, 1) / hz
    return times[(times > 0) & (times < seconds)]


def zone(times: Floats, hz: float, phase: float, depth: float) -> Floats:
    """How loaded a place is that passes the load zone `hz` times a second: 1 in the zone, 1 − `depth` opposite."""
    return 1 - depth * (0.5 - 0.5 * np.cos(2 * np.pi * hz * times + phase))


def friction(rng: Rng, rx: Receiver, turn_hz: float, depth: float) -> Floats:
    """Rubbing in the metal: Gaussian, coloured by the structure, breathing a little with the shaft; 0 dB, own noise in
    it.
    """
    n, rate = rx.samples, rx.inner
    peaks = rng.uniform(0.03 * rate, 0.45 * rate, 5)
    widths = rng.uniform(0.01 * rate, 0.08 * rate, 5)
    heights = rng.uniform(0.5, 4, 5)
    rub = sources.coloured(
        rng,
        n,
        rate,
        lambda f: 1 + sum(h / (1 + ((f - p) / w) ** 2) for p, w, h in zip(peaks, widths, heights, strict=True)),
    )
    t = np.arange(n) / rate
    rub = (
        rub * (1 + depth * np.cos(2 * np.pi * turn_hz * t + pick(rng, 0, 6.28))) * sources.slow(rng, n, rate, 1.0, 0.3)
    )
    return scaled(rx, rx.hear(rub), 0.0) + scaled(rx, rx.own_noise(rng), rx.floor_db)


def clearness(rx: Receiver, sound: Floats, hz: float, harmonics: int = 3) -> float:
    """Sum of the envelope's first lines at `hz` over their neighbourhood's median (pure noise: about 1 a line, so 4
    in all with its spread).

    The analyst's plot, with the true rate known: squared envelope spectrum of the band about the sensor's resonance.
    """
    spectrum = fft.rfft(sound)
    f = np.arange(spectrum.size) / rx.seconds
    low, high = (rx.centre_hz - 6e3, rx.centre_hz + 6e3) if rx.rate > 90e3 and rx.signal == "direct" else (100.0, 1e9)
    inside = (f > low) & (f < high)
    band = spectrum[inside]
    envelope = np.abs(fft.ifft(band)) ** 2
    lines = np.abs(fft.fft(envelope)) ** 2
    total = 0.0
    for k in range(1, harmonics + 1):
        mid, half = k * hz * rx.seconds, max(2.0, 0.004 * k * hz * rx.seconds)
        around = lines[max(3, int(mid * 0.9 - 20)) : int(mid * 1.1 + 20)]
        line = lines[max(3, int(mid - half)) : int(mid + half) + 1]
        if around.size and line.size:
            noise = np.median(around) / np.log(2)
            total += max(0.0, float(line.max() / noise - np.log(line.size)))
    return total


def until_clear(
    rx: Receiver, rest: Floats, part: Floats, level_db: float, hz: float, least: float
) -> tuple[Floats, float, float]:
    """Raise the part until an analyst with the right plot can tell: the sound, the part's level [dB], its clearness."""
    while True:
        sound = rest + scaled(rx, part, level_db)
        clear = clearness(rx, sound, hz)
        if clear > least or level_db > 8:
            return sound, level_db, clear
        level_db += 2
