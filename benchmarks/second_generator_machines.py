"""Gears, valves and steam traps from a second generator, written apart from `earwitness.simulate`: ultrasound at
200 kHz through an oscillator, accelerometers at their own rates. No weight was fitted on it and no constant set by it;
it shows how far the detectors hold beyond their own simulator.

    python benchmarks/second_generator_machines.py [--count 60] [--seed 0] [--kind gear] [--misses]

Gears: teeth slide and the film between them tears, a hiss that swells with each pair of teeth; worn flanks differ from
tooth to tooth, so its swelling differs round both wheels; a broken tooth knocks the housing once a turn. An
accelerometer hears the mesh as tones besides. Valves: turbulence at the seat, its noise fading by so much a metre of
pipe. Traps: the mass that flows through the seat over time.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter, defaultdict
from collections.abc import Callable

import numpy as np
from scipy.signal import butter, resample_poly, sosfilt
from second_generator import FS, Case, Sound, band_noise, hall, receiver

from earwitness.hearing import gear, trap, valve
from earwitness.hearing.heard import Heard

TEETH = (13, 17, 19, 20, 21, 23, 25, 28, 32, 36, 41, 45, 53, 60, 72, 81, 96, 120)


# -- gears -----------------------------------------------------------------------------------------------------------


def turning(rng: np.random.Generator, speed_hz: float, n: int, rate: float) -> Sound:
    """Turns made by each sample: a motor whose load sways."""
    t = np.arange(n) / rate
    sway = 10 ** rng.uniform(-4.5, -2.9) * np.sin(2 * np.pi * rng.uniform(0.05, 0.5) * t + rng.uniform(0, 6))
    return np.cumsum(speed_hz * (1 + sway)) / rate + rng.random()


def flanks(rng: np.random.Generator, teeth: int, spread: float) -> Sound:
    """How rough each tooth of a wheel is: an eccentric wheel's slow course, and every tooth its own."""
    at = np.arange(teeth) / teeth
    course = np.exp(spread * rng.standard_normal(teeth) * 0.5)
    course *= (
        1
        + 0.6 * spread * np.cos(2 * np.pi * (at + rng.random()))
        + 0.3 * spread * np.cos(4 * np.pi * (at + rng.random()))
    )
    return np.maximum(course, 0.05) / np.maximum(course, 0.05).mean()


def knocks(rng: np.random.Generator, turns: Sound, ring: Sound) -> Sound:
    """One knock each time that `turns` passes a whole number."""
    at = np.flatnonzero(np.diff(np.floor(turns)) > 0)
    train = np.zeros(len(turns))
    train[at] = rng.gamma(8.0, 1 / 8.0, len(at))
    return np.convolve(train, ring)[: len(turns)]


def ringing(rng: np.random.Generator, rate: float, low_hz: float, high_hz: float) -> Sound:
    t = np.arange(int(0.012 * rate)) / rate
    ring = np.zeros(len(t))
    for _ in range(rng.integers(1, 4)):
        ring += (
            rng.uniform(0.3, 1)
            * np.exp(-t / rng.uniform(3e-4, 2e-3))
            * np.sin(2 * np.pi * rng.uniform(low_hz, high_hz) * t)
        )
    return ring / np.abs(ring).max()


def gears(rng: np.random.Generator) -> Case:
    case = str(
        rng.choice(
            ["tooth", "mate-tooth", "wear", "sound", "out-of-true", "bearing", "fan"],
            p=[0.2, 0.15, 0.3, 0.15, 0.08, 0.07, 0.05],
        )
    )
    speed = math.exp(rng.uniform(math.log(6), math.log(48)))
    teeth, mate = int(rng.choice(TEETH)), int(rng.choice(TEETH))
    slower = speed * min(1.0, teeth / mate)
    direct = rng.random() < 0.4
    rate = float(rng.choice([25_600, 44_100, 50_000, 51_200])) if direct else FS
    n = int(min(max(rng.uniform(5, 10), 26 / slower), 25.0) * rate)
    turn = turning(rng, speed, n, rate)
    other = turn * teeth / mate
    mesh = turn * teeth
    worn = case == "wear"
    depth = rng.uniform(0.4, 0.95) if worn else rng.uniform(0.02, 0.22)
    spread = rng.uniform(0.35, 0.8) if worn else rng.uniform(0.0, 0.1)
    rough = flanks(rng, teeth, spread)[np.floor(mesh).astype(int) % teeth]
    rough = rough * flanks(rng, mate, spread)[np.floor(mesh).astype(int) % mate]
    bite = (0.5 + 0.5 * np.cos(2 * np.pi * mesh)) ** rng.uniform(1, 3)
    bite = bite / bite.mean()
    level = 1 - depth + depth * rough * bite
    shafts = 0.35 if case == "out-of-true" else 0.08
    for k in (1, 2):
        level = level * (1 + rng.uniform(0.3, 1) * shafts / k * np.cos(2 * np.pi * k * turn + rng.uniform(0, 6)))
        level = level * (1 + rng.uniform(0.3, 1) * shafts / k * np.cos(2 * np.pi * k * other + rng.uniform(0, 6)))
    if case == "fan":
        level = level * (1 + rng.uniform(0.2, 0.5) * np.cos(2 * np.pi * rng.integers(3, 8) * turn))
    low, high = (1500.0, 0.45 * rate) if direct else (15e3, 85e3)
    hiss = rng.standard_normal(n) if direct else band_noise(rng, n, low, high)
    x = hiss * level
    knock = ringing(rng, rate, *((2e3, 0.35 * rate) if direct else (28e3, 46e3)))
    if case in ("tooth", "mate-tooth"):
        x = x + rng.uniform(4, 20) * knocks(rng, turn if case == "tooth" else other, knock)
    if case == "bearing":
        ratio = rng.integers(3, 9) + rng.uniform(0.15, 0.85)
        slip = np.cumsum(1e-4 * rng.standard_normal(n))
        x = x + rng.uniform(2, 10) * knocks(rng, turn * ratio * 0.99 + slip, knock)
    if direct:
        x = x + mesh_tones(rng, turn, other, teeth, worn) * 10 ** rng.uniform(-0.7, 0.7)
        x = x + 10 ** rng.uniform(-1.5, -0.3) * rng.standard_normal(n)
        audio = (x / np.abs(x).max() * 10 ** rng.uniform(-1.5, -0.1)).astype(np.float32)
        heard = Heard(np.rint(audio * 32767).astype(np.float32) / 32768, rate, "direct", "contact")
    else:
        x = x + 10 ** rng.uniform(-1.3, -0.25) * hall(rng, n)
        audio, rate, centre = receiver(rng, x, 0.01)
        heard = Heard(audio, rate, sensor="contact", centre_hz=centre)
    slip = rng.uniform(-0.004, 0.004) if rng.random() < 0.7 else rng.uniform(-0.028, 0.028)
    machine = gear.GearMachine(speed * (1 + slip), teeth, mate if rng.random() < 0.8 else None, 50.0)
    truth = {"tooth": "tooth", "mate-tooth": "tooth", "wear": "wear"}.get(case, "no-fault-heard")
    return truth, gear.judge(heard, machine), f"{case}{', direct' if direct else ''}"


def mesh_tones(rng: np.random.Generator, turn: Sound, other: Sound, teeth: int, worn: bool) -> Sound:
    """The mesh as an accelerometer hears it: with wear the second and third harmonic grow and all of them are
    modulated by both shafts."""
    sides = rng.uniform(0.25, 0.8) if worn else rng.uniform(0.0, 0.06)
    swing = 1 + sides * np.cos(2 * np.pi * turn + 1) + rng.uniform(0.4, 1) * sides * np.cos(2 * np.pi * other)
    beat = 0.5 * sides * np.sin(2 * np.pi * turn + rng.uniform(0, 6))
    sizes = (1.0, rng.uniform(0.5, 1.6), rng.uniform(0.3, 1.2)) if worn else (1.0, rng.uniform(0.05, 0.4), 0.1)
    tones = np.zeros(len(turn))
    for k, size in enumerate(sizes, 1):
        tones += size * swing * np.cos(2 * np.pi * k * teeth * turn + k * beat + rng.uniform(0, 6))
    return tones


# -- valves ----------------------------------------------------------------------------------------------------------


def valves(rng: np.random.Generator) -> Case:
    case = str(rng.choice(["passing", "passing-in-noise", "quiet", "pump-upstream", "user-beyond", "both-sides"],
                          p=[0.35, 0.15, 0.15, 0.13, 0.12, 0.1]))  # fmt: skip
    place = {"upstream": -rng.uniform(0.5, 2), "at": 0.0, "downstream": rng.uniform(0.2, 0.8), "beyond": 0.0}
    place["beyond"] = place["downstream"] + rng.uniform(2, 6)
    per_metre, body = rng.uniform(1.5, 5), rng.uniform(2, 6)
    hall_db = rng.uniform(4, 20)
    sources: list[tuple[float, float]] = []  # where on the pipe, how loud there
    if case.startswith("passing"):
        sources.append((0.05, hall_db + rng.uniform(10, 35)))
    if case == "passing-in-noise":
        sources.append((rng.choice([-1, 1]) * rng.uniform(6, 12), hall_db + rng.uniform(5, 18)))
    if case in ("pump-upstream", "both-sides"):
        sources.append((-rng.uniform(3, 8), hall_db + rng.uniform(12, 40)))
    if case in ("user-beyond", "both-sides"):
        sources.append((rng.uniform(7, 12), hall_db + rng.uniform(12, 45)))
    level = {}
    for name, at in place.items():
        power = 10 ** (hall_db / 10)
        for source, loud in sources:
            through = body * (np.sign(source) != np.sign(at if at else source))
            power += 10 ** ((loud - per_metre * abs(at - source) - through) / 10)
        level[name] = round(10 * math.log10(power) + rng.normal(0, 0.7))
    heard = None
    if rng.random() < 0.6:
        n = int(rng.uniform(4, 8) * FS)
        over = 10 ** ((level["at"] - hall_db) / 20)
        hiss = band_noise(rng, n, 18e3, 80e3) * (over if case != "quiet" else 0.0)
        if case == "pump-upstream" and rng.random() < 0.5:
            t = np.arange(n) / FS
            strokes = rng.uniform(5, 30)
            hiss *= 1 + rng.uniform(0.3, 0.9) * np.cos(2 * np.pi * strokes * t)
        audio, rate, centre = receiver(rng, hall(rng, n) + hiss, 0.01)
        heard = Heard(audio, rate, sensor="contact", centre_hz=centre, level_db=float(level["at"]))
    state = valve.ValveState(
        float(level["upstream"]), float(level["downstream"]),
        float(level["beyond"]) if rng.random() < 0.7 else None, "closed", True, float(level["at"]),
    )  # fmt: skip
    return ("passing" if case.startswith("passing") else "no-passage-heard"), valve.judge(heard, state), case


# -- traps -----------------------------------------------------------------------------------------------------------


def traps(rng: np.random.Generator) -> Case:
    kind = str(rng.choice(["thermodynamic", "float", "bucket", "thermostatic"]))
    case = str(rng.choice(["working", "blowing", "blocked", "rapid", "flashing"], p=[0.35, 0.25, 0.15, 0.1, 0.15]))
    kind = "thermodynamic" if case == "rapid" else kind
    kind = str(rng.choice(["float", "thermostatic"])) if case == "flashing" else kind
    n = int(rng.uniform(15, 40) * FS / 4)  # at a quarter of the rate: slow things
    rate = FS / 4
    t = np.arange(n) / rate
    knots = np.arange(0, t[-1] + 1, 0.25)
    gurgle = np.interp(t, knots, rng.standard_normal(len(knots)))
    flow = np.ones(n)
    if case in ("working", "rapid") and kind in ("thermodynamic", "bucket"):
        period = rng.uniform(0.25, 0.9) if case == "rapid" else rng.uniform(4, 12)
        phase = (t / period + rng.random() + 0.05 * np.interp(t, knots, rng.standard_normal(len(knots)))) % 1
        open_for = rng.uniform(0.15, 0.5)
        front = np.minimum(phase / (0.01 if kind == "thermodynamic" else 0.1), 1)
        flow = np.where(phase < open_for, front * np.exp(-phase / open_for * rng.uniform(0.2, 1.5)), 0.02)
        flow = flow * 10 ** (rng.uniform(0.5, 2) * gurgle / 20)
    elif case == "working":
        load = 1 + rng.uniform(0.4, 0.8) * np.sin(2 * np.pi * t / rng.uniform(3, 10) + rng.uniform(0, 6))
        flow = load * 10 ** (rng.uniform(1, 3) * gurgle / 20)
    elif case == "flashing":  # condensate that boils behind the seat: less, and it follows the load
        load = 1 + rng.uniform(0.25, 0.6) * np.sin(2 * np.pi * t / rng.uniform(3, 10) + rng.uniform(0, 6))
        flow = load * 10 ** (rng.uniform(1, 2.5) * gurgle / 20)
    elif case == "blowing":
        flow = 10 ** (rng.uniform(0, 0.7) * gurgle / 20)
    elif case == "blocked":
        flow = np.zeros(n)
    over = {"working": rng.uniform(8, 22), "flashing": rng.uniform(5, 13), "blowing": rng.uniform(14, 32),
            "rapid": rng.uniform(10, 25), "blocked": 0.0}[case]  # fmt: skip
    hiss = sosfilt(butter(2, rng.uniform(1e3, 6e3), "low", fs=rate, output="sos"), rng.standard_normal(n))
    hiss = hiss / hiss.std() * flow * 10 ** (over / 20)
    quiet = sosfilt(butter(1, 8e3, "low", fs=rate, output="sos"), rng.standard_normal(n))
    x = hiss + quiet / quiet.std()
    upstream = round(rng.uniform(8, 25))
    at = upstream + 10 * math.log10(float(np.mean(x**2))) + rng.normal(0, 1)
    audio = resample_poly(x, 16, 25)
    audio = (audio / np.abs(audio).max() * 10 ** rng.uniform(-1.2, -0.1)).astype(np.float32)
    told = rng.random() < 0.8
    cold = case == "blocked"
    state = trap.TrapState(
        kind if rng.random() < 0.9 else None,  # type: ignore[arg-type]
        rng.uniform(110, 180) + 273.15 if told or cold else None,
        (rng.uniform(18, 50) if cold else rng.uniform(75, 108)) + 273.15 if told or cold else None,
        float(upstream),
    )
    truth = {"rapid": "blowing", "flashing": "working"}.get(case, case)
    heard = Heard(audio, rate * 16 / 25, sensor="contact", level_db=float(round(at)))
    return truth, trap.judge(heard, state), f"{case}, {kind}"


KINDS: dict[str, Callable[[np.random.Generator], Case]] = {"gear": gears, "valve": valves, "trap": traps}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--kind", action="append", choices=list(KINDS))
    parser.add_argument("--misses", action="store_true", help="print what was measured where it was not right")
    options = parser.parse_args()
    for kind in options.kind or KINDS:
        fates: Counter[str] = Counter()
        table: dict[str, Counter[str]] = defaultdict(Counter)
        for i in range(options.count):
            truth, judged, case = KINDS[kind](np.random.default_rng([options.seed, i]))
            unsure = judged.verdict == "inconclusive"
            fate = "unsure" if unsure else "right" if judged.verdict == truth else "MISLEADING"
            fates[fate] += 1
            table[case][judged.verdict] += 1
            if options.misses and fate != "right":
                print(i, case, fate, judged.verdict, {k: round(v, 2) for k, v in judged.measured.items()})
        print(kind, {f: f"{100 * c / options.count:.1f} %" for f, c in sorted(fates.items())})
        for case, verdicts in sorted(table.items()):
            print(f"  {case:28}", dict(verdicts))


if __name__ == "__main__":
    main()
