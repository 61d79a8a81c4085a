"""The main job's speed and memory: 200 recordings of 10 s at 48 kHz, and a two-hour file, judged without reports.

python benchmarks/survey_speed.py [--two-hours]
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

TOML = '[survey]\ntitle = "speed"\nsite = "bench"\ndate = 2026-11-20\ninspector = "none"\n[site]\nmains_hz = 50\n'
RATE_HZ = 48_000


def folder(where: Path, count: int, seconds: float) -> Path:
    rng = np.random.default_rng(1)
    (where / "recordings").mkdir(parents=True)
    (where / "survey.toml").write_text(TOML)
    lines = ["reading,point,kind,recording,level_db,background_db,speed_rpm,bearing"]
    for n in range(count):
        kind = ("leak", "seal", "bearing", "electrical")[n % 4]
        _record(where / "recordings" / f"{n}.wav", rng, seconds)
        lines.append(f"R{n},P{n},{kind},{n}.wav,50,40,1480,6205")
    (where / "readings.csv").write_text("\n".join(lines) + "\n")
    return where


def _record(path: Path, rng: np.random.Generator, seconds: float) -> None:
    """In pieces: what this process holds would otherwise count as the command's own memory."""
    with soundfile.SoundFile(path, "w", RATE_HZ, 1, "PCM_16") as out:
        while seconds > 0:
            out.write(_sound(rng, min(seconds, 10.0)))
            seconds -= 10.0


def _sound(rng: np.random.Generator, seconds: float) -> np.ndarray:
    noise = rng.standard_normal(round(seconds * RATE_HZ)).astype(np.float32)
    t = np.arange(len(noise), dtype=np.float32) / RATE_HZ
    return 0.05 * noise * (1 + 0.5 * np.sin(2 * np.pi * 100 * t)) + 0.02 * np.sin(2 * np.pi * 1500 * t)


def measured(where: Path, audio_seconds: float, what: str) -> None:
    began = time.perf_counter()
    command = [
        sys.executable,
        "-m",
        "earwitness",
        "survey",
        str(where),
        "--out",
        str(where / "out"),
        "--reports",
        "none",
    ]
    subprocess.run(command, check=True, stderr=subprocess.DEVNULL)
    took = time.perf_counter() - began
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"{what}: {took:.1f} s, {audio_seconds / took:.0f} x real time, largest process {peak:.0f} MB")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--two-hours", action="store_true")
    long = parser.parse_args().two_hours
    print(f"{os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as name:
        if long:
            measured(folder(Path(name) / "s", 1, 7200.0), 7200.0, "one leak of two hours")
        else:
            measured(folder(Path(name) / "s", 200, 10.0), 2000.0, "200 recordings of 10 s")
