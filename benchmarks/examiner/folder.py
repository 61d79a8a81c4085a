"""Write a survey folder as the contract lays it down, the truth beside it where the survey does not read."""

from __future__ import annotations

import csv
import json
from importlib import import_module
from pathlib import Path

import numpy as np
import soundfile

from benchmarks.examiner.receiver import Receiver
from benchmarks.examiner.scene import Case, Floats

KINDS = ("leak", "seal", "bearing", "gear", "electrical", "valve", "trap", "other")
SURVEY = """[survey]
title = "Examination"
site = "Test hall"
date = "2026-03-03"
inspector = "Examiner"

[instrument]
receiver = "assorted"

[site]
temperature = "20 degC"
humidity = 0.5
"""


def write(out: Path, kind: str, count: int, seed: int) -> None:
    """`count` readings of `kind` into `out`: survey/ (what the program sees) and truth.csv."""
    module = import_module(f"benchmarks.examiner.{kind}")
    root = np.random.default_rng([seed, KINDS.index(kind)])
    pool = [name for name, weight in module.CASES.items() for _ in range(weight)]
    names = [pool[i] for i in np.concatenate([root.permutation(len(pool)) for _ in range(count // len(pool) + 1)])][
        :count
    ]
    (out / "survey" / "recordings").mkdir(parents=True, exist_ok=True)
    (out / "survey" / "survey.toml").write_text(SURVEY)
    rows, truths = [], []
    for i, name in enumerate(names):
        rng = np.random.default_rng([seed, KINDS.index(kind), i])
        case = module.make(rng, name)
        reading = f"X-{i + 1:03d}"
        row: dict[str, object] = {"reading": reading, "point": f"P{i + 1}", "kind": kind, **case.row}
        recordings = out / "survey" / "recordings"
        gain = _gain(case)
        row["recording"] = f"recordings/{reading}.wav"
        case.parameters["other_channel"] = _wav(recordings / f"{reading}.wav", case.receiver, case.sound * gain, rng)
        if case.background is not None:
            row["background_recording"] = f"recordings/{reading}b.wav"
            _wav(recordings / f"{reading}b.wav", case.receiver, case.background * gain, rng)
        rows.append(row)
        truths.append(_truth(reading, case))
    _table(out / "survey" / "readings.csv", rows)
    _table(out / "truth.csv", truths)


def _gain(case: Case) -> float:
    """One gain for the reading and its background, so that neither clips."""
    peak = np.abs(case.sound).max()
    if case.background is not None:
        peak = max(peak, np.abs(case.background).max())
    return float(10 ** (case.receiver.peak_db / 20) / peak)


def _wav(path: Path, rx: Receiver, sound: Floats, rng: np.random.Generator) -> str:
    """Write it; two channels are the same a little softer, or one of them is a line left open: its hiss, or hum."""
    other = "none"
    if rx.channels == 2:
        t = np.arange(sound.size) / rx.rate
        other = str(rng.choice(["same", "same", "same", "open", "hum"]))
        second = 10 ** rng.uniform(-5, -4.3) * rng.standard_normal(sound.size)
        if other == "same":
            second = sound * rng.uniform(0.6, 1) + second
        if other == "hum":
            second = second + 3e-4 * np.sin(2 * np.pi * 50 * t) + 1e-4 * np.sin(2 * np.pi * 150 * t + 1)
        sound = np.stack([sound, second] if rng.random() < 0.7 else [second, sound], axis=1)
    soundfile.write(path, sound.astype(np.float32), rx.rate, subtype=f"PCM_{rx.bits}")
    return other


def _truth(reading: str, case: Case) -> dict[str, object]:
    rx = case.receiver
    about = {"signal": rx.signal, "rate": rx.rate, "seconds": rx.seconds, "centre": round(rx.centre_hz),
             "band": round(rx.band_hz),
             "q": round(rx.q, 1), **case.parameters}  # fmt: skip
    return {
        "reading": reading,
        "case": case.name,
        "truth": case.truth,
        "accept": " ".join(sorted(case.accept)),
        "places_s": " ".join(f"{p:.2f}" for p in sorted(case.places)),
        "tolerance_s": round(case.tolerance_s, 2),
        "parameters": json.dumps(about),
    }


def _table(path: Path, rows: list[dict[str, object]]) -> None:
    columns = list(dict.fromkeys(key for row in rows for key in row))
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="")
        writer.writeheader()
        writer.writerows(rows)
