"""What the full bearing judgement of 10 s at 48 kHz costs, against reading the file and one SciPy STFT of it.

python benchmarks/bearing_speed.py    (bar: at most 4 times, one core, processor time)
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import stft

from earwitness.hearing.bearing import BearingMachine, judge
from earwitness.hearing.heard import Heard

RATE_HZ, SECONDS, ROUNDS = 48_000, 10, 15


def train(rng: np.random.Generator) -> np.ndarray:
    """Blows at 107 Hz ringing at 9 kHz in noise."""
    count = RATE_HZ * SECONDS
    sound = np.zeros(count)
    sound[(np.cumsum(rng.normal(1 / 107, 1e-4, 107 * SECONDS - 20)) * RATE_HZ).astype(int)] = 1.0
    t = np.arange(400) / RATE_HZ
    ring = np.exp(-t / 0.001) * np.sin(2 * np.pi * 9000 * t)
    return (0.2 * np.convolve(sound, ring)[:count] + 0.05 * rng.standard_normal(count)).astype(np.float32)


def best(work: Callable[[], object]) -> float:
    spent = []
    for _ in range(ROUNDS):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def main() -> None:
    samples = train(np.random.default_rng(0))
    machine = BearingMachine(
        speed_hz=29.5, rolling_elements=9, element_m=7.94e-3, pitch_m=39.04e-3, contact_angle_rad=0.0, mains_hz=50.0
    )
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "ten-seconds.wav"
        soundfile.write(file, samples, RATE_HZ, subtype="PCM_24")
        unit = best(lambda: stft(soundfile.read(file, dtype="float32")[0], RATE_HZ))
        full = best(lambda: judge(Heard(samples, RATE_HZ), machine))
    print(f"read + STFT {unit * 1e3:.1f} ms, full bearing judgement {full * 1e3:.1f} ms: {full / unit:.2f} times")


if __name__ == "__main__":
    main()
