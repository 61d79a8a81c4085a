"""How faint a tone the tone test still finds: one place of 2 s in a sweep of 12 s, against the tone-to-noise ratio in
a band of 200 Hz at its loudest, and how often noise alone is called a passage.

    python benchmarks/seal_threshold.py [SWEEPS PER ROW]
"""

from __future__ import annotations

import sys

import numpy as np

from earwitness.hearing.heard import Heard
from earwitness.hearing.seal import judge

RATE_HZ, SECONDS, WIDTH_S, BAND_HZ = 16_000.0, 12.0, 2.0, 200.0


TEMPERS = ("steady", "on and off", "swept")


def sweep(rng: np.random.Generator, tone_to_noise_db: float | None, temper: str) -> tuple[Heard, float]:
    """White noise, and a tone that grows and fades as the probe passes at a second that is returned."""
    t = np.arange(round(RATE_HZ * SECONDS)) / RATE_HZ
    sound, at = rng.standard_normal(len(t)), float(rng.uniform(2.5, SECONDS - 2.5))
    if tone_to_noise_db is not None:
        amplitude = np.sqrt(2 * BAND_HZ / (RATE_HZ / 2) * 10 ** (tone_to_noise_db / 10))
        course = 1 / np.sqrt(1 + ((t - at) / (WIDTH_S / 2)) ** 2)
        if temper == "on and off":
            course = course * ((t * rng.uniform(1.5, 5) + rng.random()) % 1.0 < 0.6)
        hz = np.full(len(t), rng.uniform(500, 5000))
        if temper == "swept":
            hz += rng.uniform(300, 2000) * np.abs(2 * ((t / rng.uniform(0.5, 3) + rng.random()) % 1.0) - 1)
        sound += amplitude * course * np.sin(2 * np.pi * np.cumsum(hz) / RATE_HZ)
    return Heard((0.05 * sound).astype(np.float32), RATE_HZ), at


def row(count: int, tone_to_noise_db: float | None, temper: str) -> tuple[float, float]:
    """Share called a passage, and share with exactly one place, within half a second of the true one."""
    called = placed = 0
    for number in range(count):
        heard, at = sweep(np.random.default_rng([2026, number, TEMPERS.index(temper)]), tone_to_noise_db, temper)
        judgement = judge(heard)
        called += judgement.verdict == "passage"
        placed += len(judgement.places) == 1 and abs(judgement.places[0].at_s - at) < 0.5
    return called / count, placed / count


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    print(f"{'tone to noise':>16} {'emitter':>12} {'called a passage':>18} {'one place, within 0.5 s':>25}")
    for level in (None, -12.0, -9.0, -6.0, -3.0, 0.0, 6.0):
        for temper in TEMPERS if level is not None else TEMPERS[:1]:
            called, placed = row(count, level, temper)
            name = "noise alone" if level is None else f"{level:+.0f} dB"
            print(f"{name:>16} {temper if level is not None else '':>12} {called:18.0%} {placed:25.0%}")


if __name__ == "__main__":
    main()
