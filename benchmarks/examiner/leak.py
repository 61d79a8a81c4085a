"""Leaks and what passes for them: steady and swept hiss, against whine, voices, clatter, puffs, blowing, beepers and
the receiver's own noise.

A jet's hiss is Gaussian and steady (M). Past a small source the level follows distance and the sensor's beam: a few
decimetres wide (P).
"""

from __future__ import annotations

import numpy as np

from benchmarks.examiner import sources
from benchmarks.examiner.receiver import Receiver, draw
from benchmarks.examiner.scene import Case, Floats, ambient, instrument, meter, peaked, pick, scaled

Rng = np.random.Generator
LEAK, NONE, UNSURE = "leak", "no-leak-heard", "inconclusive"
CASES = {
    "steady, levels": 4, "steady, background recorded": 3, "steady, nothing to compare": 2, "steady in din": 3,
    "swept": 4, "swept, two": 3, "swept there and back": 2, "swept in din": 3,
    "ambient, levels": 4, "ambient, background recorded": 3, "ambient, nothing to compare": 2, "ambient, swept": 3,
    "own noise, nothing to compare": 2, "whine": 3, "drive": 2, "beeper": 2, "voices and clatter": 3,
    "valve that puffs": 3, "blown in rhythm": 2, "whine, swept": 2,
}  # fmt: skip


def make(rng: Rng, name: str) -> Case:
    """One case of `name`."""
    swept = "swept" in name
    rx = draw(rng, pick(rng, 6, 16) if swept else pick(rng, 3, 14))
    row: dict[str, object] = {
        **instrument(rx, "airborne"),
        "medium": "air",
        "pressure": f"{rng.integers(4, 11)} bar(g)",
    }
    back, heard = ambient(rng, rx, busy=1.5 if "din" in name else 0.5)
    parameters: dict[str, object] = {"extras": "+".join(heard)}
    places: list[float] = []
    if name.startswith(("steady", "swept")):
        hiss = rx.hear(sources.jet(rng, rx.samples, rx.inner, pick(rng, 0.3, 3)))
        over = pick(rng, 6, 25)
        if swept:
            places = _places(rng, rx.seconds, 2 if "two" in name else 1)
            if "back" in name:
                places = [places[0] * 0.45, rx.seconds - places[0] * 0.45]
            over = max(over, 9.0)
            gain = _passing(rng, rx, places)
            sound = back + scaled(rx, hiss, over) * gain
        else:
            sound = back + scaled(rx, hiss, over)
        parameters["over_db"] = round(over, 1)
        accept = {LEAK}
    else:
        sound, accept = back + _decoy(rng, rx, name, parameters), {NONE}
    background = None
    if "background recorded" in name:
        again, _ = ambient(rng, rx, busy=0.0)
        background = _same_hall(rng, rx, again)
    elif "nothing" in name or name == "ambient, swept":
        accept = accept | {UNSURE}
    elif not swept or rng.random() < 0.3:
        before = float(np.clip(rng.normal(0, 0.5), -1, 1))
        row["level_db"], row["background_db"] = meter(rng, rx, sound), round(meter(rng, rx, back) + before, 1)
    if swept:
        row["sweep_length_m"] = round(rx.seconds * pick(rng, 0.1, 0.3), 1)
    truth = LEAK if LEAK in accept else NONE
    return Case(name, truth, frozenset(accept), rx, sound, row, places, 0.06 * rx.seconds + 0.3, background, parameters)


def _same_hall(rng: Rng, rx: Receiver, noise: Floats) -> Floats:
    return noise * 10 ** (rng.normal(0, 0.4) / 20)


def _places(rng: Rng, seconds: float, count: int) -> list[float]:
    if count == 1:
        return [pick(rng, 0.15, 0.85) * seconds]
    first = pick(rng, 0.12, 0.45) * seconds
    return [first, first + pick(rng, 0.3, 0.45) * seconds]


def _passing(rng: Rng, rx: Receiver, places: list[float]) -> Floats:
    """Gain over time, 1 at the loudest: distance (6 dB a doubling) and a beam about cos⁴ wide."""
    t = np.arange(round(rx.seconds * rx.rate)) / rx.rate
    gain = np.zeros(t.size)
    for i, place in enumerate(places):
        offset = (t - place) / (pick(rng, 0.035, 0.08) * rx.seconds)  # half-width in units of the stand-off
        size = 1.0 if i == 0 else 10 ** (-pick(rng, 0, 4) / 20)
        gain = np.hypot(gain, size / np.sqrt(1 + offset**2) * (1 / np.sqrt(1 + offset**2)) ** 3)
    return gain * sources.slow(rng, t.size, rx.rate, 2.0, 0.3)


def _decoy(rng: Rng, rx: Receiver, name: str, parameters: dict[str, object]) -> Floats:
    n, rate = rx.samples, rx.inner
    none = np.zeros(round(rx.seconds * rx.rate))
    over = pick(rng, 5, 18)
    parameters["over_db"] = round(over, 1)
    if name.startswith("whine"):
        f = rx.centre_hz + rng.uniform(-0.7, 0.7, rng.integers(1, 4)) * min(rx.band_hz, 5e3)
        whine = scaled(rx, rx.hear(sources.tones(rng, n, rate, f)), over)
        return whine * _passing(rng, rx, _places(rng, rx.seconds, 1)) if "swept" in name else whine
    if name == "drive":
        return scaled(rx, rx.hear(sources.switching(rng, n, rate, pick(rng, 2e3, 9e3), pick(rng, 15, 60))), over)
    if name == "beeper":
        return peaked(rx, rx.hear(sources.beeper(rng, n, rate)), over)
    if name == "voices and clatter":
        hits = peaked(rx, rx.hear(sources.clatter(rng, n, rate, pick(rng, 1, 5))), over)
        return hits + peaked(rx, rx.hear(sources.babble(rng, n, rate)), over - 4)
    if name == "valve that puffs":
        period = pick(rng, 0.5, min(3.0, rx.seconds / 4))
        parameters["period_s"] = round(period, 2)
        return peaked(rx, rx.hear(sources.puffs(rng, n, rate, period, pick(rng, 0.06, 0.25))), over)
    if name == "blown in rhythm":
        period = pick(rng, 0.8, min(3.0, rx.seconds / 3))
        parameters["period_s"] = round(period, 2)
        return peaked(rx, rx.hear(sources.puffs(rng, n, rate, period, period * pick(rng, 0.4, 0.6))), over)
    return none  # ambient, own noise
