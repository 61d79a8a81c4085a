"""A tone test: an emitter inside, a receiver led along the seam outside, with passages, a thin wall, or neither.

Emitters send tones between 36 and 42 kHz, most of them beating on and off, some warbling between two tones, some
swept over a range; the wall lets a little of the tone through everywhere, a gap lets it through at its place.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.heard import Heard
from earwitness.hearing.seal import SealState
from earwitness.simulate import noise
from earwitness.simulate.leak import heard_scene, jet, passing_by, varied_background, varied_receiver
from earwitness.simulate.receiver import Band, Envelope
from earwitness.simulate.simulated import Simulated

# Energy of the tone over the noise's density [dB] below which not even a detector that adds up all of it could tell a
# passage from chance, knowing neither frequency nor time nor beat.
_LEAST_DB = 20.0
_TEMPERS = ("on-off", "warble", "swept", "many-tones")


def emitter(rng: np.random.Generator, seconds: float, band: Band, temper: str, *, heard_hz: float) -> Envelope:
    """An emitter of unit amplitude, `heard_hz` from the middle of the band; silent for part of each beat."""
    t = band.times(seconds)
    beat = 10 ** rng.uniform(np.log10(0.8), np.log10(9))
    turn = (t * beat + rng.random()) % 1.0
    offset = np.full(len(t), heard_hz)
    if temper == "warble":
        offset = heard_hz + np.where(turn < 0.5, 0.0, rng.uniform(60, 500))
    elif temper == "swept":
        offset = heard_hz + rng.uniform(100, 900) * np.abs(2 * turn - 1)
    sound = np.exp(2j * np.pi * np.cumsum(offset) / band.rate_hz)
    if temper == "many-tones":
        for step in rng.uniform(-600, 600, int(rng.integers(1, 4))):
            sound = sound + rng.uniform(0.3, 1) * np.exp(2j * np.pi * (heard_hz + step) * t)
    if temper in ("on-off", "many-tones"):
        on = (turn < rng.uniform(0.3, 0.8)).astype(np.float32)
        edge = max(1, round(rng.uniform(0.001, 0.01) * band.rate_hz))
        sound = sound * np.convolve(on, np.full(edge, 1 / edge, np.float32), "same")
    return sound.astype(np.complex64)


def draw(rng: np.random.Generator, *, held_out: bool = False) -> Simulated:
    """A reading of kind seal: one to three passages, or none with a thin wall, a decoy or nothing."""
    direct = bool(rng.random() < 0.12)
    receiver = varied_receiver(rng, direct=direct, held_out=held_out)
    seconds = float(np.exp(rng.uniform(np.log(4), np.log(6 if direct else 20))))
    band = receiver.band
    background = varied_background(rng, 2 * seconds + 0.1, band, held_out=held_out)
    tempers = _TEMPERS if held_out else _TEMPERS[:3]
    temper = str(rng.choice(tempers))
    half = min(receiver.band_hz / 2, 0.45 * receiver.rate_hz)
    heard_hz = rng.choice([-1, 1]) * rng.uniform(0.15, 0.6) * half
    if direct:
        heard_hz = rng.uniform(36e3, 42e3) - band.centre_hz
        receiver = _tuned_to(receiver, heard_hz + band.centre_hz)
    case = str(rng.choice(["passage", "nothing", "thin-wall", "decoy"], p=[0.5, 0.15, 0.17, 0.18]))
    tone = emitter(rng, seconds, band, temper, heard_hz=heard_hz)
    in_200_hz = _noise_beside(background, band, heard_hz, folded=not direct)
    source, places, about = _source(rng, case, tone, seconds, band, in_200_hz)
    receiver = replace(receiver, self_noise=0.1 * receiver.self_noise)  # the tone is set against the plant's noise
    scene = heard_scene(rng, receiver, background, source, loudest=True)
    levels = bool(rng.random() < 0.4)
    heard = Heard(
        samples=scene.samples,
        rate_hz=receiver.rate_hz,
        signal=receiver.signal,
        sensor="airborne",
        centre_hz=receiver.centre_hz,
        level_db=scene.level_db if levels else None,
        background_db=scene.background_db if levels else None,
        reference_db=scene.level_db + rng.uniform(3, 30) if rng.random() < 0.3 and levels else None,
    )
    truth = "passage" if case == "passage" else "no-passage-heard"
    variety = {"case": case, "temper": temper, "rate_hz": receiver.rate_hz, "seconds": seconds, **about}
    return Simulated(heard, SealState(), truth, places, variety)


def _source(
    rng: np.random.Generator, case: str, tone: Envelope, seconds: float, band: Band, in_200_hz: float
) -> tuple[Envelope, tuple[float, ...], dict[str, Any]]:
    if case == "nothing":
        return band.silence(seconds), (), {}
    if case == "decoy":
        name = str(rng.choice(["reversing-beeper", "whine", "two-tones", "exhaust-puffs", "hiss", "passing-whine"]))
        loud = np.float32(10 ** (rng.uniform(-5, 15) / 20))
        if name == "hiss":  # a leak on the way
            by = passing_by(seconds, len(tone), rng.uniform(0.1, 0.9) * seconds, rng.uniform(0.4, 2))
            return (jet(rng, seconds, band) * by * loud).astype(np.complex64), (), {"decoy": name}
        if name == "passing-whine":  # a machine left behind on the walk
            by = passing_by(seconds, len(tone), rng.uniform(0, 1) * seconds, rng.uniform(0.5, 1.5) * seconds)
            return (noise.whine(rng, seconds, band) * by * loud).astype(np.complex64), (), {"decoy": name}
        return noise.PARTS[name](rng, seconds, band) * loud, (), {"decoy": name}
    over = rng.uniform(-3, 30)
    course = np.zeros(len(tone), np.float32)
    through_wall = case == "thin-wall" or rng.random() < 0.25
    wall_db = over if case == "thin-wall" else over - rng.uniform(8, 25)
    if through_wall:
        course = course + np.float32(10 ** (wall_db / 20)) * _uneven(rng, seconds, len(tone))
    at: NDArray[np.float64] = np.zeros(0)
    width = 0.0
    if case == "passage":
        width = float(np.clip(rng.uniform(0.05, 0.3) / rng.uniform(0.05, 0.3), 0.4, seconds / 6))
        over = max(over, _LEAST_DB - 10 * np.log10(200 * 0.5 * np.pi / 2 * width))
        at = np.sort(rng.uniform(0.08, 0.92, int(rng.choice([1, 1, 1, 2, 2, 3]))) * seconds)
        at = at[np.concatenate([[True], np.diff(at) > 2.0 * width])]
        for k, place in enumerate(at):
            gain = 10 ** ((over - (0 if k == 0 else rng.uniform(0, 6))) / 20)
            course = np.hypot(course, np.float32(gain) * passing_by(seconds, len(tone), float(place), width))
    sound = (tone * course * np.float32(in_200_hz)).astype(np.complex64)
    return sound, tuple(float(a) for a in at), {"over_db": over, "width_s": width, "through_wall": through_wall}


def _noise_beside(background: Envelope, band: Band, heard_hz: float, *, folded: bool) -> float:
    """Rms of the noise in 200 Hz around the tone, lines left out; folded audio hears both sides of the oscillator."""
    size = round(band.rate_hz / 10)
    frames = background[: len(background) // size * size].reshape(-1, size)[:40]
    density = np.mean(np.abs(np.fft.fft(frames * np.hanning(size), axis=1)) ** 2, axis=0) / (
        0.375 * size * band.rate_hz
    )
    hz = np.fft.fftfreq(size, 1 / band.rate_hz)
    sides = (heard_hz, -heard_hz) if folded else (heard_hz,)
    return float(np.sqrt(200.0 * sum(np.median(density[np.abs(hz - side) < 400.0]) for side in sides)))


def _uneven(rng: np.random.Generator, seconds: float, count: int) -> NDArray[np.float32]:
    """A wall passes the tone evenly, but for a decibel of standing waves."""
    t = np.linspace(0, seconds, count, dtype=np.float32)
    ripple = rng.uniform(0, 1.0) * np.sin(2 * np.pi * (rng.uniform(0.05, 0.4) * t + rng.random()))
    return (10 ** (ripple / 20)).astype(np.float32)


def _tuned_to(receiver: Any, hz: float) -> Any:
    return replace(receiver, resonance_hz=hz + 500.0)
