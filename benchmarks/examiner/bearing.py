"""Rolling bearings heard by contact: impacts at the defect's rate, carried by the metal and the sensor's resonance.

Rates from geometry (Randall & Antoni 2011): outer n/2·(1 − γ), inner n/2·(1 + γ), element 2·D/(2d)·(1 − γ²),
cage ½(1 − γ).
An inner-race defect passes the load zone once a turn, an element's once a cage turn; real lines slip by 1–2 %.
"""

from __future__ import annotations

import numpy as np

from benchmarks.examiner import machine, sources
from benchmarks.examiner.receiver import Receiver, accelerometer, draw
from benchmarks.examiner.scene import Case, Floats, instrument, meter, peaked, pick, scaled

Rng = np.random.Generator
SOUND = "no-fault-heard"
CASES = {
    "outer-race": 6, "outer-race, slow": 2, "outer-race, speed unknown": 2, "inner-race": 6, "inner-race, slow": 2,
    "rolling-element": 6, "cage": 4, "irregular": 5, "friction": 5,
    "outer-race, accelerometer": 2, "inner-race, accelerometer": 2, "rolling-element, accelerometer": 2,
    "sound, accelerometer": 2,
    "outer-race, din": 2, "inner-race, din": 2, "rolling-element, din": 2,
    "sound": 8, "sound, breathing with the shaft": 3,
    "sound, knocked": 3, "sound, shaft harmonics by a line": 3, "sound, mains by a line": 2, "sound, drive": 2,
    "sound, vanes of a pump": 2, "sound, folded tones by a line": 2,
}  # fmt: skip
# designation: elements, element [mm], pitch [mm]: the first two as printed with public test records, the others from
# catalogues (M)
KNOWN = {
    "6205": (9, 7.94, 39.04), "6203": (8, 6.75, 28.5),
    "6204": (8, 7.94, 33.5), "6206": (9, 9.53, 46.0), "6308": (8, 15.08, 65.0), "6310": (8, 19.05, 80.0),
}  # fmt: skip


def make(rng: Rng, name: str) -> Case:
    """One case of `name`."""
    slow = "slow" in name
    seconds = pick(rng, 15, 20) if slow else pick(rng, 5, 12)
    rx = accelerometer(rng, seconds) if "accelerometer" in name else draw(rng, seconds, direct=0.2)
    rpm = pick(rng, 60, 110) if slow else float(np.exp(rng.uniform(np.log(350), np.log(6000))))
    geometry, row = _geometry(rng)
    turn = rpm / 60
    rates = _rates(*geometry, turn)
    row.update(instrument(rx, "contact"), speed_rpm=round(rpm * (1 + rng.normal(0, 0.002)), 1 if slow else 0))
    if "unknown" in name:
        del row["speed_rpm"]
    parameters: dict[str, object] = {"rpm": round(rpm, 1), "unknown": "unknown" in name}
    truth = name.split(",")[0]
    depth = pick(rng, 0, 0.05)
    rest = machine.friction(rng, rx, turn, depth)
    if "accelerometer" in name:
        del row["centre_khz"]
        rest = rest + _vibration(rng, rx, turn)
    if "din" in name:
        rest = rest + _din(rng, rx, turn)
    if truth == "sound":
        sound = _sound(rng, rx, name, rest, turn, rates, row, parameters)
    elif truth == "friction":
        sound = rest
    elif truth == "irregular":
        per_second = pick(rng, 6, 50)
        hits = sources.poisson(rng, rx.seconds, per_second)
        part = sources.ring(rng, rx.samples, rx.inner, hits, rng.lognormal(0, 0.7, hits.size), pick(rng, 0.004, 0.02))
        level = pick(rng, -3, 6)
        sound = rest + scaled(rx, rx.hear(part), level)
        parameters.update(per_second=round(per_second, 1), part_db=round(level, 1))
    else:
        sound = _damaged(rng, rx, truth, rest, turn, rates, parameters)
    accept = {SOUND if truth == "sound" else truth}
    if "unknown" in name or "by a line" in name or "vanes" in name:
        accept.add("inconclusive")
    if truth in ("outer-race", "inner-race") and _on_a_multiple(float(str(parameters["hz"])), turn, rx.seconds):
        accept.add("inconclusive")
    _levels(rng, rx, truth, sound, row)
    return Case(name, SOUND if truth == "sound" else truth, frozenset(accept), rx, sound, row, parameters=parameters)


def _on_a_multiple(hz: float, turn: float, seconds: float) -> bool:
    """Whether a race's line falls on a multiple of the shaft's speed, so that nobody could part them."""
    return abs(hz - round(hz / turn) * turn) < 1.5 / seconds + 0.001 * hz


def _geometry(rng: Rng) -> tuple[tuple[int, float, float, float], dict[str, object]]:
    if rng.random() < 0.35:
        name = str(rng.choice(list(KNOWN)))
        n, d, pitch = KNOWN[name]
        return (n, d, pitch, 0.0), {"bearing": name}
    n = int(rng.integers(7, 19))
    pitch = pick(rng, 28, 160)
    d = min(0.75 * np.pi * pitch / n, 0.28 * pitch) * pick(rng, 0.8, 1)  # the elements must fit round the pitch circle
    angle = float(rng.choice([0, 0, 0, 12, 15, 25]))
    d, pitch = round(d, 2), round(pitch, 2)
    return (n, d, pitch, angle), {"rolling_elements": n, "element_mm": d, "pitch_mm": pitch, "contact_angle_deg": angle}


def _rates(n: int, d: float, pitch: float, angle_deg: float, turn: float) -> dict[str, float]:
    g = d / pitch * np.cos(np.radians(angle_deg))
    return {
        "outer-race": n / 2 * (1 - g) * turn,
        "inner-race": n / 2 * (1 + g) * turn,
        "rolling-element": pitch / d * (1 - g**2) * turn,
        "cage": (1 - g) / 2 * turn,
    }


def _damaged(
    rng: Rng,
    rx: Receiver,
    truth: str,
    rest: Floats,
    turn: float,
    rates: dict[str, float],
    parameters: dict[str, object],
) -> Floats:
    slip = 1 + rng.uniform(-0.02, 0.02) if rng.random() < 0.8 else 1 + rng.uniform(-0.03, 0.03)
    if truth == "inner-race":  # the inner race leads the cage: what slips lowers the cage's rate and raises the inner's
        slip = 1 + (slip - 1) / 2
    hz = rates[truth] * slip
    times = machine.train(rng, rx.seconds, hz, pick(rng, 0.001, 0.012))
    sizes = rng.lognormal(0, pick(rng, 0.1, 0.35), times.size)
    if truth == "outer-race":
        sizes = sizes * machine.zone(times, turn, pick(rng, 0, 6), pick(rng, 0, 0.15))
    if truth == "inner-race":
        sizes = sizes * machine.zone(times, turn, pick(rng, 0, 6), pick(rng, 0.5, 0.95))
    if truth == "rolling-element":
        sizes = sizes * machine.zone(times, rates["cage"] * slip, pick(rng, 0, 6), pick(rng, 0.4, 0.9))
        sizes = sizes * np.where(np.arange(times.size) % 2, 1, pick(rng, 0.6, 1))
    if truth == "cage":  # a cracked cage rattles: a few hits close together every turn of it
        more = [times + abs(rng.normal(0, 0.03)) / hz for _ in range(3)]
        times = np.concatenate([times, *more])
        sizes = np.concatenate([sizes, *[sizes * pick(rng, 0.2, 0.7) for _ in more]])
    part = rx.hear(sources.ring(rng, rx.samples, rx.inner, times, sizes, pick(rng, 0.004, 0.02)))
    sound, level, clear = machine.until_clear(
        rx, rest, part, pick(rng, -13, 4), hz, 250 if parameters.get("unknown") else 110
    )
    parameters.update(hz=round(hz, 2), slip=round(slip - 1, 4), part_db=round(level, 1), clear=round(clear))
    return sound


def _vibration(rng: Rng, rx: Receiver, turn: float) -> Floats:
    """What an accelerometer hears below the ultrasound: the shaft's harmonics, a mesh or vane tone, hum."""
    t = np.arange(round(rx.seconds * rx.rate)) / rx.rate
    hz = [k * turn for k in range(1, 7)] + [int(rng.integers(15, 40)) * turn, float(rng.choice([100, 120]))]
    tones = sum(pick(rng, 0.05, 1) * np.sin(2 * np.pi * f * t + pick(rng, 0, 6)) for f in hz if f < 0.45 * rx.rate)
    return tones * pick(rng, 0.3, 2)


def _din(rng: Rng, rx: Receiver, turn: float) -> Floats:
    """Knocks from a neighbour and the whine of its drive in the same metal."""
    n, rate = rx.samples, rx.inner
    hits = sources.poisson(rng, rx.seconds, pick(rng, 0.3, 1.5))
    knocks = sources.ring(rng, n, rate, hits, rng.lognormal(0, 0.5, hits.size), 0.006)
    whine = sources.switching(rng, n, rate, pick(rng, 2e3, 8e3), turn)
    return peaked(rx, rx.hear(knocks), pick(rng, 0, 8)) + scaled(rx, rx.hear(whine), pick(rng, -12, -3))


def _sound(
    rng: Rng, rx: Receiver, name: str, rest: Floats, turn: float, rates: dict[str, float], row: dict[str, object],
    parameters: dict[str, object],
) -> Floats:  # fmt: skip
    n, rate = rx.samples, rx.inner
    t = np.arange(rest.size) / rx.rate
    if "breathing" in name:
        return rest * (1 + pick(rng, 0.1, 0.35) * np.cos(2 * np.pi * turn * t))
    if "knocked" in name:
        hits = np.sort(rng.uniform(0, rx.seconds, rng.integers(1, 5)))
        knocks = sources.ring(rng, n, rate, hits, rng.lognormal(0, 0.5, hits.size), 0.006)
        return rest + peaked(rx, rx.hear(knocks), pick(rng, 3, 15))
    if "drive" in name:
        carrier = pick(rng, 2e3, 8e3)
        return rest + scaled(rx, rx.hear(sources.switching(rng, n, rate, carrier, turn)), pick(rng, -8, 4))
    if "vanes" in name or "shaft harmonics" in name:
        orders = np.array([rates[k] / turn for k in ("outer-race", "inner-race", "rolling-element")])
        vanes = (
            int(np.round(orders)[np.argmin(np.abs(orders - np.round(orders)))])
            if "shaft" in name
            else int(rng.integers(3, 9))
        )
        parameters["vanes"] = vanes
        wave = sum(
            pick(rng, 0.3, 1) / k * np.cos(2 * np.pi * k * vanes * turn * t + pick(rng, 0, 6)) for k in (1, 2, 3)
        )
        wave = wave + pick(rng, 0.2, 0.6) * np.cos(2 * np.pi * turn * t + pick(rng, 0, 6))
        return rest * (1 + pick(rng, 0.12, 0.35) * wave)
    if "folded" in name:  # a tone either side of the oscillator, as far apart after folding as a defect's rate
        hz = rates[str(rng.choice(["outer-race", "inner-race"]))] * (1 + pick(rng, -0.01, 0.01))
        low = pick(rng, 0.2, 0.5) * min(rx.band_hz, 4e3)
        pair = np.array([rx.centre_hz - low, rx.centre_hz + low + hz])
        return rest + scaled(rx, rx.hear(sources.tones(rng, n, rate, pair, 0.0)), pick(rng, -6, 4))
    if "mains" in name:  # the motor's field shakes the frame at exactly twice the mains
        hz = float(rng.choice([100.0, 120.0]))
        new = hz / rates["outer-race"] * turn * (1 + pick(rng, -0.015, 0.015))
        row["speed_rpm"], parameters["rpm"] = round(new * 60), round(new * 60, 1)
        row["mains_hz"] = hz / 2
        return rest * (1 + pick(rng, 0.15, 0.5) * np.cos(2 * np.pi * hz * t))
    return rest


def _levels(rng: Rng, rx: Receiver, truth: str, sound: Floats, row: dict[str, object]) -> None:
    level = meter(rng, rx, sound)
    rise = {"friction": pick(rng, 8, 16), "sound": rng.normal(0, 0.8)}.get(truth, pick(rng, 1, 12))
    if truth == "friction" or rng.random() < 0.5:
        row["level_db"], row["baseline_db"] = level, round(level - rise, 1)
