"""The tone test: an emitter inside, a sensor swept along the seal outside.

The tone stands up where the seal is open, over a width of a few centimetres at the sensor's stand-off; a thin wall
lets a tone through
everywhere alike, with the ripple of standing waves (P). Emitters beep, warble or hold one tone near 40 kHz (P).
"""

from __future__ import annotations

import numpy as np
from scipy import fft

from benchmarks.examiner import sources
from benchmarks.examiner.receiver import Receiver, draw
from benchmarks.examiner.scene import Case, Floats, ambient, instrument, meter, peaked, pick, scaled

Rng = np.random.Generator
PASSAGE, NONE = "passage", "no-passage-heard"
CASES = {
    "one": 5, "one, beeping": 4, "one, warbling": 4, "two": 3, "two, beeping": 2, "two close": 3, "faint": 3,
    "through the wall and one place": 3, "in din": 3,
    "nothing": 5, "thin wall": 4, "thin wall, beeping": 2, "thin wall, warbling": 2, "reversing beeper": 3, "whine": 3,
    "leak hiss": 3, "clatter and puffs": 2,
}  # fmt: skip


def make(rng: Rng, name: str) -> Case:
    """One case of `name`."""
    seconds = pick(rng, 10, 20) if "two" in name else pick(rng, 6, 18)
    rx = draw(rng, seconds, direct=0.2)
    back, heard = ambient(rng, rx, busy=1.5 if "din" in name else 0.5)
    parameters: dict[str, object] = {"extras": "+".join(heard)}
    mode = "beeping" if "beeping" in name else "warbling" if "warbling" in name else "steady"
    tone, f, beat = _emitter(rng, rx, mode)
    parameters.update(mode=mode, tone_hz=round(f), beat_hz=round(beat, 2))
    floor = _floor(rx, back, f)
    t = np.arange(round(rx.seconds * rx.rate)) / rx.rate
    places: list[float] = []
    if not name.startswith(("nothing", "thin", "reversing", "whine", "leak", "clatter")):
        over = pick(rng, -2, 4) if "faint" in name else pick(rng, 6, 24)
        if mode == "warbling":  # it spreads over its swing, so an eye needs more
            over = max(over, 11.0)
        places, widths = _places(rng, rx.seconds, name, beat)
        gain = np.zeros(t.size)
        for place, width in zip(places, widths, strict=True):
            gain += 10 ** (-pick(rng, 0, 3) / 20) / (1 + ((t - place) / width) ** 2)
        parameters.update(tone_over_200hz_db=round(over, 1), widths_s=[round(w, 2) for w in widths])
        sound = back + tone * 10 ** (over / 20) * floor * gain / gain.max() * _ripple(rng, rx, 1.0)
        if name.startswith("through"):
            under = pick(rng, 11, 18)
            sound = sound + tone * 10 ** ((over - under) / 20) * floor * _ripple(rng, rx, 1.2)
            parameters["wall_under_db"] = round(under, 1)
    else:
        sound = back + _decoy(rng, rx, name, tone * floor, parameters)
    row = {**instrument(rx, "airborne"), "sweep_length_m": round(rx.seconds * pick(rng, 0.05, 0.2), 1)}
    if rng.random() < 0.4:
        row["reference_db"] = round(meter(rng, rx, sound) + pick(rng, 20, 35), 1)
    truth = PASSAGE if places else NONE
    tolerance = 0.4 + (0.5 / beat if beat else 0)
    return Case(name, truth, frozenset({truth}), rx, sound, row, places, tolerance, None, parameters)


def _emitter(rng: Rng, rx: Receiver, mode: str) -> tuple[Floats, float, float]:
    """The emitter as heard, unit rms while on; its frequency in the recording; its beat [Hz]."""
    n, rate = rx.samples, rx.inner
    t = np.arange(n) / rate
    span = min(rx.band_hz, 4500)
    side = rng.choice([-1, 1]) * pick(rng, 0.25, 0.75) * span
    f0 = rx.centre_hz + side
    beat = 0.0 if mode == "steady" else pick(rng, 1.5, 6)
    swing = pick(rng, 0.05, 0.2) * span if mode == "warbling" else 0.0
    wave = np.sin(2 * np.pi * beat * t) if rng.random() < 0.5 else 4 * np.abs(beat * t % 1 - 0.5) - 1
    drift = 5 * np.log(sources.slow(rng, n, rate, 0.1, 3.0))
    tone = np.sqrt(2) * np.sin(2 * np.pi * np.cumsum(f0 + swing * wave + drift) / rate)
    if mode == "beeping":
        starts = np.arange(-pick(rng, 0, 1) / beat, rx.seconds, 1 / beat)
        tone = tone * sources.gates(n, rate, starts, np.full(starts.size, pick(rng, 0.35, 0.65) / beat), 0.004)
    heard = rx.hear(tone)
    on = np.abs(heard) > 0.3 * np.abs(heard).max()
    heard = heard / (np.sqrt(np.mean(heard[on] ** 2)) if mode == "beeping" else np.std(heard))
    return heard, f0 if rx.signal == "direct" else abs(side), beat


def _floor(rx: Receiver, back: Floats, f: float) -> float:
    """Background's rms in 200 Hz about the tone [1]: its median over neighbours, so that a whine does not set it."""
    spectrum = np.abs(fft.rfft(back)) ** 2
    near = np.abs(np.arange(spectrum.size) / rx.seconds - f) < 400
    per_bin = np.median(spectrum[near]) / np.log(2) * 2 / back.size**2
    return float(np.sqrt(per_bin * 200 * rx.seconds))


def _places(rng: Rng, seconds: float, name: str, beat: float) -> tuple[list[float], list[float]]:
    least = max(0.25, 0.6 / beat if beat else 0)
    if name.startswith("two close"):
        width = pick(rng, 0.2, 0.3)
        first = pick(rng, 0.15, 0.7) * seconds
        return [first, first + width * pick(rng, 4, 6)], [width, width]
    if name.startswith("two"):
        first = pick(rng, 0.1, 0.4) * seconds
        return [first, first + pick(rng, 0.3, 0.45) * seconds], list(rng.uniform(least, least + 0.4, 2))
    return [pick(rng, 0.1, 0.9) * seconds], [pick(rng, least, least + 0.6)]


def _ripple(rng: Rng, rx: Receiver, depth_db: float) -> Floats:
    return sources.slow(rng, round(rx.seconds * rx.rate), rx.rate, pick(rng, 0.5, 2), depth_db)


def _decoy(rng: Rng, rx: Receiver, name: str, tone: Floats, parameters: dict[str, object]) -> Floats:
    n, rate = rx.samples, rx.inner
    over = pick(rng, 3, 18)
    parameters["over_db"] = round(over, 1)
    if name.startswith("thin"):
        return tone * 10 ** (over / 20) * _ripple(rng, rx, pick(rng, 0.5, 1.3))
    if name.startswith("reversing"):
        return peaked(rx, rx.hear(sources.beeper(rng, n, rate)), over) * _ripple(rng, rx, 0.8)
    if name == "whine":
        f = rx.centre_hz + rng.uniform(-0.7, 0.7, rng.integers(1, 4)) * min(rx.band_hz, 5e3)
        return scaled(rx, rx.hear(sources.tones(rng, n, rate, f, 3.0)), over)
    if name.startswith("leak"):
        t = np.arange(tone.size) / rx.rate
        place = pick(rng, 0.2, 0.8) * rx.seconds
        return scaled(rx, rx.hear(sources.jet(rng, n, rate, pick(rng, 0.3, 2))), over) / (1 + ((t - place) / 0.7) ** 2)
    if name.startswith("clatter"):
        hits = peaked(rx, rx.hear(sources.clatter(rng, n, rate, pick(rng, 0.5, 3))), over)
        puff = sources.puffs(rng, n, rate, pick(rng, 1, 3), pick(rng, 0.1, 0.4))
        return hits + peaked(rx, rx.hear(puff), pick(rng, 0, 10))
    return np.zeros(tone.size)
