"""A case: what was there, what the receiver recorded of it, and what the inspector wrote down."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchmarks.examiner import sources
from benchmarks.examiner.receiver import Receiver

Floats = NDArray[np.floating]


@dataclass
class Case:
    """One reading with its truth; `accept` holds every verdict that would be right."""

    name: str
    truth: str
    accept: frozenset[str]
    receiver: Receiver
    sound: Floats | None
    row: dict[str, object]
    places: list[float] = field(default_factory=list)
    tolerance_s: float = 0.0
    background: Floats | None = None
    parameters: dict[str, object] = field(default_factory=dict)


def db(ratio: float) -> float:
    """Amplitude ratio → dB."""
    return float(20 * np.log10(max(ratio, 1e-12)))


def scaled(rx: Receiver, heard: Floats, level_db: float) -> Floats:
    """A heard component brought to a level [dB over the unit] in the receiver's band."""
    rms = rx.band_rms(heard)
    return heard * (10 ** (level_db / 20) / rms) if rms > 0 else heard


def peaked(rx: Receiver, heard: Floats, level_db: float) -> Floats:
    """The same for what comes and goes: the level is that of its loudest tenth of a second."""
    step = max(1, int(0.1 * rx.rate))
    blocks = [rx.band_rms_short(heard[i : i + step]) for i in range(0, heard.size - step, step)]
    return heard * (10 ** (level_db / 20) / max(max(blocks), 1e-12))


def ambient(rng: np.random.Generator, rx: Receiver, busy: float = 0.5) -> tuple[Floats, list[str]]:
    """Background at 0 dB with the receiver's own noise, by chance (`busy`) whine, clatter, voices, puffs."""
    n, rate = rx.samples, rx.inner
    out = scaled(rx, rx.hear(sources.hall(rng, n, rate)), 0.0)
    out = out + scaled(rx, rx.own_noise(rng), rx.floor_db)
    heard: list[str] = []
    if rng.random() < busy * 0.5:
        f = rx.centre_hz + rng.uniform(-0.8, 0.8, rng.integers(1, 4)) * min(rx.band_hz, 8e3)
        out = out + scaled(rx, rx.hear(sources.tones(rng, n, rate, f)), rng.uniform(-20, -8))
        heard.append("whine")
    if rng.random() < busy * 0.4:
        out = out + peaked(rx, rx.hear(sources.clatter(rng, n, rate, rng.uniform(0.3, 2))), rng.uniform(-6, 6))
        heard.append("clatter")
    if rng.random() < busy * 0.3:
        out = out + peaked(rx, rx.hear(sources.babble(rng, n, rate)), rng.uniform(-8, 3))
        heard.append("babble")
    if rng.random() < busy * 0.2:
        puffs = sources.puffs(rng, n, rate, rng.uniform(1, 3), rng.uniform(0.08, 0.25))
        out = out + peaked(rx, rx.hear(puffs), rng.uniform(-6, 4))
        heard.append("puffs")
    return out, heard


def meter(rng: np.random.Generator, rx: Receiver, sound: Floats) -> float:
    """The level the inspector writes down: the meter's mean over the recording, read to half a decibel or so."""
    return round(rx.reference_db + db(rx.band_rms(sound)) + rng.normal(0, 0.4), 1)


def instrument(rx: Receiver, sensor: str) -> dict[str, object]:
    """The columns that every reading has."""
    return {"sensor": sensor, "signal": rx.signal, "centre_khz": round(rx.centre_hz / 1000, 2)}


def pick(rng: np.random.Generator, low: float, high: float) -> float:
    """Uniform."""
    return float(rng.uniform(low, high))
