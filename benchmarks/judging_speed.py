"""What a judgement of 10 s at 48 kHz costs, against reading the file and one SciPy STFT of it.

    python benchmarks/judging_speed.py [--kind leak --kind bearing]

Processor time on one core, the best of several rounds in which the two take turns: alone, either runs quicker where it
finds its memory warm. The same work takes half as long again while the machine is busy. What a judgement costs depends
on what is heard, so each kind is given several sounds. Bars: bearing and gear at most 4 times, the others at most 2.5.
"""

from __future__ import annotations

import argparse
import importlib
import os
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import stft

from earwitness.hearing.heard import Heard

KINDS = {  # kind: module of hearing, of simulate, and what it may cost
    "leak": ("leak", "leak", 2.5),
    "seal": ("seal", "seal", 2.5),
    "bearing": ("bearing", "bearing", 4.0),
    "gear": ("gear", "gear", 4.0),
    "electrical": ("discharge", "discharge", 2.5),
    "valve": ("valve", "valve", 2.5),
    "trap": ("trap", "trap", 2.5),
}
RATE_HZ, SECONDS, ROUNDS = 48_000, 10, 9
COUNT = RATE_HZ * SECONDS
OWN = 3  # simulated readings of the kind

Samples = NDArray[np.float32]


def sounds(rng: np.random.Generator) -> dict[str, Samples]:
    """Noise, and in noise: blows at 107 Hz that ring at 9 kHz, a tone that beats and sweeps, a motor's hum."""
    noise = 0.05 * rng.standard_normal(COUNT)
    t = np.arange(COUNT) / RATE_HZ
    struck = np.zeros(COUNT)
    struck[(np.cumsum(rng.normal(1 / 107, 1e-4, 107 * SECONDS - 20)) * RATE_HZ).astype(int)] = 1.0
    ring = np.exp(-t[:400] / 0.001) * np.sin(2 * np.pi * 9000 * t[:400])
    passing = np.exp(-(((t - 5) / 0.8) ** 2)) * (np.sin(2 * np.pi * 4 * t) > 0)
    swept = np.sin(2 * np.pi * (2300 * t + 40 * np.sin(2 * np.pi * 3 * t)))
    hum = sum(np.sin(2 * np.pi * 100 * k * t) / k for k in range(1, 20))
    return {
        "noise": noise.astype(np.float32),
        "blows": (0.2 * np.convolve(struck, ring)[:COUNT] + noise).astype(np.float32),
        "tone": (0.05 * passing * swept + noise).astype(np.float32),
        "hum": (0.05 * hum + noise).astype(np.float32),
    }


def readings(kind: str, rng: np.random.Generator) -> tuple[dict[str, Heard], Any]:
    """The sounds, simulated readings of the kind drawn out or cut to the same length and rate, and what is known."""
    draw = importlib.import_module(f"earwitness.simulate.{KINDS[kind][1]}").draw
    state = draw(np.random.default_rng(1)).state
    every = {name: Heard(samples, RATE_HZ) for name, samples in sounds(rng).items()}
    for n in range(OWN):
        own = draw(np.random.default_rng([2, n])).heard
        every[f"own {n + 1}"] = replace(own, samples=np.resize(own.samples, COUNT), rate_hz=RATE_HZ, background=None)
    return every, state


def ratios(kind: str, seed: int = 0) -> dict[str, float]:
    """By sound: the time of the kind's judgement over that of reading the file and one STFT of it."""
    judge = importlib.import_module(f"earwitness.hearing.{KINDS[kind][0]}").judge
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "ten-seconds.wav"
        every, state = readings(kind, np.random.default_rng(seed))
        for name, heard in every.items():
            soundfile.write(file, heard.samples, RATE_HZ, subtype="PCM_16")
            unit, spent = [], []
            for _ in range(ROUNDS):
                unit.append(_spent(lambda: stft(soundfile.read(file, dtype="float32")[0], RATE_HZ)))
                spent.append(_spent(lambda heard=heard: judge(heard, state)))
            found[name] = min(spent) / min(unit)
    return found


def _spent(work: Callable[[], object]) -> float:
    """Processor time [s]."""
    start = time.process_time()
    work()
    return time.process_time() - start


def table(kinds: Sequence[str]) -> None:
    print("judgement of 10 s at 48 kHz over (read + one STFT)")
    for n, kind in enumerate(kinds):
        found: Mapping[str, float] = ratios(kind)
        if n == 0:
            print(f"  {'':12s}" + "".join(f"{name:>8s}" for name in found) + f"{'bar':>8s}")
        print(f"  {kind:12s}" + "".join(f"{ratio:8.2f}" for ratio in found.values()) + f"{KINDS[kind][2]:8.1f}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kind", action="append", choices=list(KINDS), help="only this kind (may be repeated)")
    table(parser.parse_args().kind or list(KINDS))
