"""Discharges heard through the air and what passes for them.

Corona fires about the peaks, the negative first (270°), tens of pulses a cycle; tracking flickers on the rising
flanks, builds up and lets go;
arcing comes in abrupt irregular bursts (M). A rectifier commutates six times a cycle (P); two ultrasonic tones fold
to a false beat.
"""

from __future__ import annotations

import numpy as np

from benchmarks.examiner import sources
from benchmarks.examiner.receiver import Receiver, draw
from benchmarks.examiner.scene import Case, Floats, ambient, instrument, peaked, pick, scaled

Rng = np.random.Generator
NONE = "no-discharge-heard"
CASES = {
    "corona, negative": 4, "corona, both halves": 4, "tracking": 7, "arcing": 7, "mains-hum": 6,
    "nothing": 6, "nothing, busy": 3, "folded tones": 4, "air conditioner": 3, "rectifier": 3, "drive": 3, "leak": 3,
    "whine": 2,
}  # fmt: skip


def make(rng: Rng, name: str) -> Case:
    """One case of `name`."""
    rx = draw(rng, pick(rng, 4, 15), direct=0.25)
    nominal = float(rng.choice([50, 60]))
    mains = nominal * (1 + rng.normal(0, 0.0007))
    back, heard = ambient(rng, rx, busy=1.4 if "busy" in name else 0.4)
    parameters: dict[str, object] = {"mains": round(mains, 3), "extras": "+".join(heard)}
    volts = int(rng.choice([11000, 20000, 33000, 110000, 132000]))
    if name.startswith("corona"):
        sound = back + _pulses(rng, rx, _corona(rng, rx.seconds, mains, "both" in name), parameters)
    elif name == "tracking":
        volts = int(rng.choice([400, 690, 6600, 11000, 20000, 33000]))
        sound = back + _pulses(rng, rx, _tracking(rng, rx.seconds, mains), parameters)
    elif name == "arcing":
        volts = int(rng.choice([400, 690, 6600, 11000]))
        sound = back + _pulses(rng, rx, _arcing(rng, rx.seconds, mains), parameters)
    elif name == "mains-hum":
        volts = int(rng.choice([400, 690, 11000]))
        sound = back + _hum(rng, rx, mains, parameters)
    else:
        volts = int(rng.choice([400, 690, 11000, 33000]))
        sound = back + _decoy(rng, rx, name, mains, parameters)
    row: dict[str, object] = {**instrument(rx, "airborne"), "mains_hz": nominal, "voltage_v": volts}
    if name in ("rectifier", "drive"):
        row["supply"] = str(rng.choice(["inverter", ""]))
    truth = name.split(",")[0]
    truth = truth if truth in ("corona", "tracking", "arcing", "mains-hum") else NONE
    accept = {truth}
    if name == "mains-hum" and rx.signal == "heterodyned":  # hum in the audio stage may as well be the cable's pick-up
        accept |= {"inconclusive", NONE}
    return Case(name, truth, frozenset(accept), rx, sound, row, parameters=parameters)


def _at(rng: Rng, mains: float, cycles: Floats, degrees: Floats, start: float) -> Floats:
    return (cycles + degrees / 360 + start) / mains


def _corona(rng: Rng, seconds: float, mains: float, both: bool) -> tuple[Floats, Floats]:
    """Negative tip: a regular crowd of like pulses near 270°; at higher voltage fewer and larger ones near 90° (M)."""
    cycles = np.arange(-1, int(seconds * mains) + 1)
    start = pick(rng, 0, 1)
    count = int(rng.integers(15, 60))
    width = pick(rng, 12, 25)
    breath = sources.slow(rng, cycles.size, mains, 1.0, pick(rng, 0, 1.5))  # damp air and wind
    per = np.repeat(cycles, rng.poisson(count * breath))
    times = _at(rng, mains, per, rng.normal(270, width, per.size), start)
    sizes = rng.lognormal(0, 0.3, per.size)
    if both:
        more = np.repeat(cycles, rng.poisson(count * pick(rng, 0.3, 1.0), cycles.size))
        times = np.concatenate([times, _at(rng, mains, more, rng.normal(90, width, more.size), start)])
        sizes = np.concatenate([sizes, rng.lognormal(0.2, 0.4, more.size) * pick(rng, 0.7, 1.5)])
    return times, sizes


def _tracking(rng: Rng, seconds: float, mains: float) -> tuple[Floats, Floats]:
    """Clusters on both rising flanks, unlike from cycle to cycle, that grow over a second or so and let go."""
    start, clock = pick(rng, 0, 1), -pick(rng, 0, 1)
    strength = np.zeros(int(seconds * mains * 2) + 2)
    between = rng.choice([0.0, 0.0, pick(rng, 0.02, 0.15)])  # it may go on faintly after it has let go
    while clock < seconds:
        grow, rest = pick(rng, 0.4, 2.5), pick(rng, 0.15, 0.8)
        a, b = max(0, int(clock * mains * 2)), max(0, int((clock + grow) * mains * 2))
        ramp = np.linspace(0.15, 1, b - a) ** 1.5 if b > a else np.zeros(0)
        room = strength[a:b]
        strength[a:b] = ramp[-room.size :] if room.size and a == 0 else ramp[: room.size]
        clock += grow + rest
    strength = np.maximum(strength, between)
    halves = np.arange(strength.size)
    per = np.repeat(halves, rng.poisson(rng.uniform(6, 20) * strength * rng.lognormal(0, 0.5, strength.size)))
    centre, width = pick(rng, 40, 60), pick(rng, 12, 22)
    degrees = rng.normal(centre, width, per.size) + 180 * (per % 2)
    return _at(rng, mains, per // 2, degrees, start), strength[per] * rng.lognormal(0, 0.7, per.size)


def _arcing(rng: Rng, seconds: float, mains: float) -> tuple[Floats, Floats]:
    """Bursts that start and stop at once, of any length and spacing, each a dense crackle without a stable tone."""
    starts = sources.poisson(rng, seconds, pick(rng, 1.2, 4))
    starts = starts if starts.size > 2 else np.sort(rng.uniform(0, seconds, 4))
    times, sizes = [], []
    for start in starts:
        length = float(np.clip(rng.exponential(0.15), 0.02, 0.7))
        hits = start + rng.uniform(0, length, rng.poisson(length * pick(rng, 600, 2500)) + 3)
        # the arc goes out at each zero of the current for a moment: fewer hits there
        keep = rng.random(hits.size) < 0.4 + 0.6 * np.abs(np.sin(2 * np.pi * mains * hits))
        hits = hits[keep]
        times.append(hits)
        sizes.append(rng.lognormal(0, 0.8, hits.size) * rng.lognormal(0, 0.6))
    return np.concatenate(times), np.concatenate(sizes)


def _pulses(rng: Rng, rx: Receiver, pulses: tuple[Floats, Floats], parameters: dict[str, object]) -> Floats:
    """A spark's click is short and wide; the air rings nothing, so the sensor alone rings (heavily damped world)."""
    level = pick(rng, 2, 18)
    parameters["over_db"] = round(level, 1)
    world = np.zeros(rx.samples)
    index = np.round(pulses[0] * rx.inner).astype(int)
    inside = (index >= 0) & (index < world.size)
    signs = rng.choice([-1, 1], index.size)
    np.add.at(world, index[inside], (pulses[1] * signs)[inside])
    return scaled(rx, rx.hear(world), level)


def _hum(rng: Rng, rx: Receiver, mains: float, parameters: dict[str, object]) -> Floats:
    """Shaken laminations: a few harmonics of twice the mains, narrow, nothing between.

    A wide-band microphone hears them outright; a heterodyning receiver through its audio stage (breakthrough), P.
    """
    t = np.arange(round(rx.seconds * rx.rate)) / rx.rate
    hum = np.zeros(t.size)
    for k in range(1, int(rng.integers(4, 9))):
        hum += rng.uniform(0.3, 1) / k**0.3 * np.sin(2 * np.pi * 2 * mains * k * t + rng.uniform(0, 6.28))
    level = pick(rng, 3, 15)
    parameters["over_db"] = round(level, 1)
    return hum / np.std(hum) * 10 ** (level / 20)


def _decoy(rng: Rng, rx: Receiver, name: str, mains: float, parameters: dict[str, object]) -> Floats:
    n, rate = rx.samples, rx.inner
    t = np.arange(n) / rate
    over = pick(rng, 4, 16)
    parameters["over_db"] = round(over, 1)
    if name == "folded tones":
        low = pick(rng, 0.2, 0.5) * min(rx.band_hz, 4e3)
        pair = np.array([rx.centre_hz - low, rx.centre_hz + low + 2 * mains + rng.normal(0, 0.15)])
        return scaled(rx, rx.hear(sources.tones(rng, n, rate, pair, 0.0)), over)
    if name == "air conditioner":
        hz = 117.9 + rng.normal(0, 0.1)
        depth = pick(rng, 0.3, 0.8)
        parameters["modulated_hz"] = round(hz, 2)
        air = sources.hall(rng, n, rate) * (
            1 + depth * np.cos(2 * np.pi * hz * t) + 0.2 * depth * np.cos(4 * np.pi * hz * t)
        )
        return scaled(rx, rx.hear(air), over)
    if name == "rectifier":
        times = np.arange(int(rx.seconds * mains * 6)) / (6 * mains)
        times = times + rng.normal(0, 4e-5, times.size)
        sizes = np.tile(rng.uniform(0.85, 1.1, 6), times.size // 6 + 1)[: times.size]
        return scaled(rx, rx.hear(sources.ring(rng, n, rate, times, sizes, 0.03)), over)
    if name == "drive":
        return scaled(rx, rx.hear(sources.switching(rng, n, rate, pick(rng, 2e3, 9e3), pick(rng, 20, 48))), over)
    if name == "leak":
        return scaled(rx, rx.hear(sources.jet(rng, n, rate, pick(rng, 0.3, 2))), over)
    if name == "whine":
        f = rx.centre_hz + rng.uniform(-0.7, 0.7, rng.integers(1, 4)) * min(rx.band_hz, 5e3)
        return scaled(rx, rx.hear(sources.tones(rng, n, rate, f)), over)
    if "busy" in name:
        return peaked(rx, rx.hear(sources.clatter(rng, n, rate, pick(rng, 0.5, 3))), over)
    return np.zeros(round(rx.seconds * rx.rate))
