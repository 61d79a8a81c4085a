"""Sound from a second generator, written apart from `earwitness.simulate`: real ultrasound at 200 kHz, multiplied by an
oscillator, filtered and thinned out. No weight was fitted on it; it shows how far the detectors hold beyond their own.

    python benchmarks/second_generator.py [--count 40] [--seed 0]
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from collections.abc import Callable

import numpy as np
from scipy.signal import butter, resample_poly, sosfilt

from earwitness.hearing import bearing, discharge, leak, seal
from earwitness.hearing.evidence import Judgement
from earwitness.hearing.heard import Heard

FS = 200_000
Sound = np.ndarray
Case = tuple[str, Judgement, str]


def band_noise(rng: np.random.Generator, n: int, low: float, high: float) -> Sound:
    x = sosfilt(butter(2, [low, high], "band", fs=FS, output="sos"), rng.standard_normal(n))
    return x / x.std()


def receiver(rng: np.random.Generator, x: Sound, own: float) -> tuple[Sound, float, float]:
    """What is recorded: audio samples, their rate, the oscillator."""
    lo = rng.uniform(30e3, 42e3)
    x = sosfilt(butter(1, [lo - rng.uniform(3e3, 9e3), lo + rng.uniform(3e3, 9e3)], "band", fs=FS, output="sos"), x)
    t = np.arange(len(x)) / FS
    mixed = x * np.cos(2 * np.pi * lo * t)
    mixed = sosfilt(butter(6, rng.uniform(3e3, 7e3), fs=FS, output="sos"), mixed)
    rate = int(rng.choice([16_000, 20_000, 40_000, 50_000]))
    audio = resample_poly(mixed, 1, FS // rate) if FS % rate == 0 else resample_poly(mixed, rate // 1000, FS // 1000)
    audio = audio + own * rng.standard_normal(len(audio))
    return (audio * 10 ** rng.uniform(-1.5, 0) / (np.abs(audio).max() + 1e-9)).astype(np.float32), rate, lo


def hall(rng: np.random.Generator, n: int) -> Sound:
    """Broadband hall noise with what else sounds in it: tones, knocks, voices."""
    t = np.arange(n) / FS
    x = band_noise(rng, n, 8e3, 90e3)
    if rng.random() < 0.5:
        for _ in range(rng.integers(1, 4)):
            x += rng.uniform(0.05, 0.6) * np.sin(2 * np.pi * (rng.uniform(22e3, 48e3) * t + rng.random()))
    if rng.random() < 0.4:
        for start in rng.integers(0, n - 4000, rng.integers(1, 12)):
            x[start : start + 4000] += rng.uniform(1, 8) * np.exp(-np.arange(4000) / 500) * rng.standard_normal(4000)
    if rng.random() < 0.3:
        slow = np.interp(t, np.arange(0, t[-1] + 0.2, 0.2), rng.random(int(t[-1] / 0.2) + 2))
        x += 0.8 * slow * band_noise(rng, n, 15e3, 60e3)
    return x / x.std()


def puffs(rng: np.random.Generator, n: int) -> Sound:
    gap = rng.uniform(0.3, 1.5)
    phase = (np.arange(n) / FS / gap + rng.random()) % 1
    return np.exp(-phase / rng.uniform(0.05, 0.2)) * band_noise(rng, n, 15e3, 80e3)


def beeper(rng: np.random.Generator, n: int) -> Sound:
    t = np.arange(n) / FS
    on = (t * rng.uniform(0.8, 2.0)) % 1 < 0.5
    f = rng.uniform(1000, 2800)
    return on * sum(0.7**k * np.sin(2 * np.pi * f * k * t) for k in range(8, 30))


def seconds(rng: np.random.Generator) -> int:
    return int(rng.uniform(4, 9) * FS)


# -- the kinds -------------------------------------------------------------------------------------------------------


def leaks(rng: np.random.Generator) -> Case:
    n = seconds(rng)
    case = str(rng.choice(["steady", "swept", "ambient", "puffs", "beeper"]))
    over = rng.uniform(6, 25)
    noise, extra = hall(rng, 2 * n), np.zeros(n)
    if case in ("steady", "swept"):
        extra = 10 ** (over / 20) * band_noise(rng, n, 18e3, 95e3)
    if case == "swept":
        at = rng.uniform(0.25, 0.75) * n
        extra *= np.exp(-0.5 * ((np.arange(n) - at) / (rng.uniform(0.05, 0.12) * n)) ** 2)
    if case == "puffs":
        extra = 10 ** (over / 20) * puffs(rng, n)
    if case == "beeper":
        extra = 10 ** (over / 20) * beeper(rng, n) / 3
    both, rate, lo = receiver(rng, np.concatenate([noise[:n] + extra, noise[n:]]), 0.01)
    cut = len(both) // 2
    on, off = both[:cut], both[cut:]
    level, back = (20 * np.log10(x.std()) + 80 for x in (on, off))
    known = rng.random() < 0.7
    heard = Heard(on, rate, centre_hz=lo, background=off if not known else None,
                  level_db=level if known else None, background_db=back if known else None)  # fmt: skip
    truth = "leak" if case in ("steady", "swept") else "no-leak-heard"
    return truth, leak.judge(heard, leak.LeakState(swept=case == "swept" or None)), case


def seals(rng: np.random.Generator) -> Case:
    n = seconds(rng)
    t = np.arange(n) / FS
    case = str(rng.choice(["one", "two", "nothing", "thin-wall", "beeper", "whine"]))
    lo_guess = rng.uniform(36e3, 42e3)
    tone = np.sin(2 * np.pi * np.cumsum(lo_guess + rng.choice([0, 100]) * np.sin(2 * np.pi * 4 * t)) / FS)
    if rng.random() < 0.5:
        tone *= (t * rng.uniform(1.5, 6)) % 1 < 0.5
    course = np.zeros(n)
    places = {"one": [0.5], "two": [0.3, 0.7]}.get(case, [])
    for p in places:
        course += np.exp(-0.5 * ((np.arange(n) / n - p - rng.uniform(-0.1, 0.1)) / 0.03) ** 2)
    if case == "thin-wall":
        course += 1
    x = hall(rng, n) + rng.uniform(0.5, 3) * course * tone
    if case == "beeper":
        x += 2 * beeper(rng, n)
    if case == "whine":
        x += 2 * np.sin(2 * np.pi * lo_guess * t)
    audio, rate, _ = receiver_at(rng, x, lo_guess)
    truth = "passage" if places else "no-passage-heard"
    return truth, seal.judge(Heard(audio, rate)), case


def receiver_at(rng: np.random.Generator, x: Sound, near_hz: float) -> tuple[Sound, float, float]:
    """A receiver tuned so that near_hz falls into its audio."""
    lo = near_hz + rng.choice([-1, 1]) * rng.uniform(700, 2400)
    t = np.arange(len(x)) / FS
    mixed = sosfilt(butter(6, 4e3, fs=FS, output="sos"), x * np.cos(2 * np.pi * lo * t))
    rate = int(rng.choice([16_000, 20_000, 40_000, 50_000]))
    audio = resample_poly(mixed, rate // 1000, FS // 1000)
    audio = audio + 0.005 * rng.standard_normal(len(audio))
    return (audio / (np.abs(audio).max() + 1e-9) * 10 ** rng.uniform(-1.5, 0)).astype(np.float32), rate, lo


def panels(rng: np.random.Generator) -> Case:
    n = seconds(rng)
    t = np.arange(n) / FS
    mains = float(rng.choice([50.0, 60.0])) * (1 + rng.uniform(-0.001, 0.001))
    wave = np.sin(2 * np.pi * mains * t + rng.uniform(0, 6))
    kinds = ["corona", "tracking", "arcing", "mains-hum", "nothing", "two-tones", "air-conditioner", "six-pulse"]
    case = str(rng.choice(kinds))
    loud = 10 ** (rng.uniform(0, 18) / 20)
    x = hall(rng, n)
    carrier = band_noise(rng, n, 20e3, 90e3)
    if case == "corona":
        gate = np.maximum(-wave - rng.uniform(0.5, 0.85), 0) + rng.choice([0, 1]) * np.maximum(wave - 0.8, 0)
        x += loud * 4 * gate * carrier * rng.gamma(1.0, 1.0, n)
    if case == "tracking":
        rising = np.maximum(np.cos(2 * np.pi * 2 * mains * t), 0) ** 6
        build = ((t / rng.uniform(0.8, 2.5)) % 1) ** 1.5
        x += loud * 3 * rising * build * carrier
    if case == "arcing":
        on = np.repeat(rng.random(n // 4000 + 1) < 0.35, 4000)[:n]
        x += loud * 3 * on * np.abs(wave) ** rng.uniform(0.5, 2) * carrier * rng.gamma(0.6, 1.6, n)
    if case == "mains-hum":
        f = round(rng.uniform(34e3, 44e3) / (2 * mains)) * 2 * mains
        x += loud * sum(np.sin(2 * np.pi * (f + 2 * mains * k) * t + k) / (1 + abs(k)) for k in range(-3, 4))
    if case == "two-tones":
        f = rng.uniform(36e3, 40e3)
        x += loud * (np.sin(2 * np.pi * f * t) + np.sin(2 * np.pi * (f + 2 * mains) * t))
    if case == "air-conditioner":
        x += loud * (1 + np.sin(2 * np.pi * 117.9 * t)) * carrier
    if case == "six-pulse":
        x += loud * np.maximum(np.sin(2 * np.pi * 6 * mains * t), 0) ** 4 * carrier
    audio, rate, _ = receiver(rng, x, 0.01)
    truth = case if case in kinds[:4] else "no-discharge-heard"
    state = discharge.ElectricalState(mains_hz=round(mains / 10) * 10.0, voltage_v=20_000.0)
    return truth, discharge.judge(Heard(audio, rate), state), case


def bearings(rng: np.random.Generator) -> Case:
    n = seconds(rng)
    case = str(rng.choice(["outer-race", "inner-race", "rolling-element", "sound", "shaft-hum", "random"]))
    elements, ratio = int(rng.integers(7, 14)), rng.uniform(0.18, 0.28)
    speed = rng.uniform(8, 50)
    orders = {"outer-race": elements / 2 * (1 - ratio), "inner-race": elements / 2 * (1 + ratio),
              "rolling-element": (1 - ratio**2) / ratio}  # fmt: skip
    t = np.arange(n) / FS
    x = hall(rng, n) * (1 + rng.uniform(0, 0.2) * np.sin(2 * np.pi * speed * t))
    blows = np.zeros(n)
    if case in orders:
        gaps = (1 + 0.01 * rng.standard_normal(int(n / FS * orders[case] * speed))) / (orders[case] * speed * 0.995)
        at = np.cumsum(gaps)
        weight = np.ones(len(at))
        if case == "inner-race":
            weight = np.maximum(np.cos(2 * np.pi * speed * at), 0.1)
        if case == "rolling-element":
            weight = np.maximum(np.cos(2 * np.pi * speed * (1 - ratio) / 2 * at), 0.1)
        keep = at < n / FS - 0.01
        blows[(at[keep] * FS).astype(int)] = weight[keep]
    if case == "random":
        blows[rng.integers(0, n, int(n / FS * rng.uniform(3, 15)))] = rng.uniform(1, 4)
    if case == "shaft-hum":
        x *= 1 + 0.5 * np.sin(2 * np.pi * round(elements * 0.4) * speed * t)
    ring = np.exp(-np.arange(400) / rng.uniform(40, 120)) * np.sin(
        2 * np.pi * rng.uniform(30e3, 42e3) / FS * np.arange(400)
    )
    x += rng.uniform(8, 40) * np.convolve(blows, ring)[:n]
    audio, rate, _ = receiver(rng, x, 0.01)
    machine = bearing.BearingMachine(speed, elements, ratio * 0.04, 0.04, 0.0)
    truth = {"sound": "no-fault-heard", "shaft-hum": "no-fault-heard", "random": "irregular"}.get(case, case)
    return truth, bearing.judge(Heard(audio, rate, sensor="contact"), machine), case


KINDS: dict[str, Callable[[np.random.Generator], Case]] = {
    "leak": leaks, "seal": seals, "electrical": panels, "bearing": bearings,
}  # fmt: skip

if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    for kind, draw in KINDS.items():
        fates: Counter[str] = Counter()
        table: dict[str, Counter[str]] = defaultdict(Counter)
        for i in range(options.count):
            truth, judged, case = draw(np.random.default_rng([options.seed, i]))
            fate = (
                "unsure" if judged.verdict == "inconclusive" else "right" if judged.verdict == truth else "MISLEADING"
            )
            fates[fate] += 1
            table[case][judged.verdict] += 1
        print(kind, {f: f"{100 * c / options.count:.1f} %" for f, c in sorted(fates.items())})
        for case, verdicts in sorted(table.items()):
            print(f"  {case:16}", dict(verdicts))
