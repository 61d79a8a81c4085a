"""How often each detector is right, on held-out simulated readings, how honest its probabilities are, what it costs.

    python benchmarks/hearing.py [--count 150] [--seed 11] [--kind leak --kind bearing] [--jobs 2]

Per kind, over `count` readings drawn from the held-out part of the variety (receivers, plants, decoys and tempers that
no weight was fitted on): right, unsure, misleading; the confusion table; log loss against a constant answer; the
expected calibration error with faults as common as in the draw, at 50 % and at 5 % of the readings; and the speed of
the judgement over that of reading the file and one SciPy STFT of it (one core). The readings come from this project's
own simulator: what holds for recordings that nobody here made is another question (see docs/hearing.md).
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
import soundfile

from earwitness.hearing.evidence import DECISION, decide
from earwitness.hearing.heard import Heard

DETECTORS = {  # kind: module of hearing and of simulate
    "leak": ("leak", "leak"),
    "seal": ("seal", "seal"),
    "bearing": ("bearing", "bearing"),
    "gear": ("gear", "gear"),
    "electrical": ("discharge", "discharge"),
    "valve": ("valve", "valve"),
    "trap": ("trap", "trap"),
}
QUIET = {"no-leak-heard", "no-passage-heard", "no-fault-heard", "no-discharge-heard", "working"}
SPEED_LIMITS = {"bearing": 4.0, "gear": 4.0}
SPEED_LIMIT = 2.5
BINS = 10


@dataclass(frozen=True)
class Outcome:
    truth: str
    verdict: str
    probabilities: dict[str, float]
    source: str


def judged(task: tuple[str, int, int]) -> Outcome | None:
    """One held-out reading and what the detector made of it; None where no listener could tell."""
    kind, seed, number = task
    judge_module, draw_module = DETECTORS[kind]
    draw = importlib.import_module(f"earwitness.simulate.{draw_module}").draw
    judge = importlib.import_module(f"earwitness.hearing.{judge_module}").judge
    drawn = draw(np.random.default_rng([seed, list(DETECTORS).index(kind), number]), held_out=True)
    judgement = judge(drawn.heard, drawn.state)
    return Outcome(drawn.truth, judgement.verdict, dict(judgement.probabilities), str(drawn.variety.get("source", "")))


def decoyed(task: tuple[str, int, int]) -> Outcome:
    """A sound of nothing, judged by a detector that was told nothing."""
    kind, seed, number = task
    draw = importlib.import_module("earwitness.simulate.decoy").draw
    module = importlib.import_module(f"earwitness.hearing.{DETECTORS[kind][0]}")
    state = {"bearing": "BearingMachine", "gear": "GearMachine", "electrical": "ElectricalState"}.get(kind)
    state = state or f"{kind.capitalize()}State"
    drawn = draw(np.random.default_rng([seed, 99, number]), held_out=True)
    judgement = module.judge(drawn.heard, getattr(module, state)())
    return Outcome("nothing", judgement.verdict, dict(judgement.probabilities), str(drawn.variety["source"]))


def unnamed(task: tuple[str, int, int]) -> Outcome:
    """A held-out reading judged without its kind."""
    from earwitness.hearing import unknown

    kind, seed, number = task
    module = DETECTORS[kind][1] if kind in DETECTORS else "decoy"
    draw = importlib.import_module(f"earwitness.simulate.{module}").draw
    index = list(DETECTORS).index(kind) if kind in DETECTORS else 98
    drawn = draw(np.random.default_rng([seed, index, number]), held_out=True)
    judgement = unknown.judge(drawn.heard, unknown.UnknownState(getattr(drawn.state, "mains_hz", None)))
    quiet = drawn.truth in QUIET or drawn.truth in ("nothing", "inconclusive")
    kinds = {name.removeprefix("kind-"): p for name, p in judgement.measured.items() if name.startswith("kind-")}
    truth = "none" if quiet else kind
    said, probability = max(kinds.items(), key=lambda item: item[1], default=("inconclusive", 0.0))
    if probability < DECISION or (said == "none" and truth != "none"):
        said = "inconclusive"  # what the user reads where no kind is told
    return Outcome(truth, said, kinds, drawn.truth)


def calibration_error(outcomes: Sequence[Outcome], prevalence: float | None) -> float:
    """Expected calibration error of "something is wrong": mean |frequency − probability| over ten bins of probability,
    with the readings weighted (and the probabilities moved) to a share of faults of `prevalence`."""
    fault = np.array([o.truth not in QUIET for o in outcomes])
    said = np.array([1 - sum(p for v, p in o.probabilities.items() if v in QUIET) for o in outcomes])
    weight = np.ones(len(fault))
    if prevalence is not None:
        if not 0 < fault.mean() < 1:
            return float("nan")
        drawn = fault.mean()
        weight = np.where(fault, prevalence / drawn, (1 - prevalence) / (1 - drawn))
        prior = fault_prior(outcomes)
        odds = said / np.maximum(1 - said, 1e-12) * (prevalence / (1 - prevalence)) / (prior / (1 - prior))
        said = odds / (1 + odds)
    return _error(said, fault, weight)


def fault_prior(outcomes: Sequence[Outcome]) -> float:
    """The share of faults that a detector's stored prior stands for: its verdicts, counted alike."""
    verdicts = list(outcomes[0].probabilities)
    return sum(v not in QUIET for v in verdicts) / len(verdicts)


def verdict_error(outcomes: Sequence[Outcome]) -> float:
    """The same of the likeliest verdict, as drawn."""
    told = [decide(o.probabilities, 0.0) for o in outcomes]
    hit = np.array([v == o.truth for (v, _), o in zip(told, outcomes, strict=True)])
    return _error(np.array([p for _, p in told]), hit, np.ones(len(hit)))


def _error(said: np.ndarray, true: np.ndarray, weight: np.ndarray) -> float:
    index = np.minimum((said * BINS).astype(int), BINS - 1)
    total = np.bincount(index, weight, BINS)
    gap = np.abs(np.bincount(index, weight * true, BINS) - np.bincount(index, weight * said, BINS))
    return float(gap.sum() / total.sum())


def log_losses(outcomes: Sequence[Outcome]) -> tuple[float, float]:
    """Mean log loss of the detector, and of always answering with the shares of the draw."""
    truths = Counter(o.truth for o in outcomes)
    told = [np.log(max(o.probabilities.get(o.truth, 0.0), 1e-9)) for o in outcomes]
    return -float(np.mean(told)), -sum(n * np.log(n / len(outcomes)) for n in truths.values()) / len(outcomes)


def table(outcomes: Sequence[Outcome]) -> None:
    truths = sorted({o.truth for o in outcomes})
    verdicts = sorted({o.verdict for o in outcomes} | set(truths))
    counts = Counter((o.truth, o.verdict) for o in outcomes)
    print("  " + f"{'truth':20s}" + "".join(f"{v[:17]:>19s}" for v in verdicts))
    for truth in truths:
        print("  " + f"{truth:20s}" + "".join(f"{counts[truth, v]:19d}" for v in verdicts))


def summary(kind: str, outcomes: list[Outcome], indistinct: int) -> tuple[int, int, int]:
    right = sum(o.verdict == o.truth for o in outcomes)
    unsure = sum(o.verdict == "inconclusive" for o in outcomes)
    wrong = len(outcomes) - right - unsure
    n = max(len(outcomes), 1)
    print(f"\n{kind}: {n} readings, right {right / n:.1%}, unsure {unsure / n:.1%}, misleading {wrong / n:.1%}"
          f" ({indistinct} more in which no listener could tell)")  # fmt: skip
    table(outcomes)
    with_probability = [o for o in outcomes if o.probabilities]
    if with_probability:
        loss, constant = log_losses(with_probability)
        print(f"  log loss {loss:.3f}, constant answer {constant:.3f}; calibration error: verdict "
              f"{verdict_error(with_probability):.3f}, fault at 50 % {calibration_error(with_probability, 0.5):.3f}, "
              f"at 5 % {calibration_error(with_probability, 0.05):.3f}")  # fmt: skip
    return right, unsure, wrong


def speed(kind: str) -> float:
    """Judgement of 10 s at 48 kHz over (reading the file + one SciPy STFT), each the best of five, one core."""
    from scipy import signal

    draw = importlib.import_module(f"earwitness.simulate.{DETECTORS[kind][1]}").draw
    judge = importlib.import_module(f"earwitness.hearing.{DETECTORS[kind][0]}").judge
    state = draw(np.random.default_rng(1)).state
    rng = np.random.default_rng(0)
    samples = (0.05 * rng.standard_normal(480_000)).astype(np.float32)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ten-seconds.wav"
        soundfile.write(path, samples, 48_000, subtype="PCM_16")
        unit = _best(lambda: signal.stft(soundfile.read(path, dtype="float32")[0], 48_000))
    return _best(lambda: judge(Heard(samples, 48_000.0), state)) / unit


def _best(work) -> float:
    times = []
    for _ in range(5):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def present(kinds: Sequence[str]) -> list[str]:
    found = []
    for kind in kinds:
        try:
            for room, module in zip(("hearing", "simulate"), DETECTORS[kind], strict=True):
                importlib.import_module(f"earwitness.{room}.{module}")
        except ModuleNotFoundError as missing:
            print(f"{kind}: absent ({missing.name})")
            continue
        found.append(kind)
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=150, help="readings of each kind")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--kind", action="append", choices=list(DETECTORS), help="only this kind (may be repeated)")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--no-unknown", action="store_true", help="leave out the judgement without a kind")
    given = parser.parse_args()
    kinds = present(given.kind or list(DETECTORS))
    totals, decoys = Counter(), {}
    print(f"a verdict is given from a probability of {DECISION} on")
    with ProcessPoolExecutor(given.jobs) as pool:
        for kind in kinds:
            tasks = [(kind, given.seed, i) for i in range(given.count)]
            outcomes = list(pool.map(judged, tasks, chunksize=5))
            clear = [o for o in outcomes if o.truth != "inconclusive"]
            right, unsure, wrong = summary(kind, clear, len(outcomes) - len(clear))
            totals += Counter(right=right, unsure=unsure, wrong=wrong, all=len(clear))
            decoys[kind] = list(pool.map(decoyed, tasks[: given.count // 3], chunksize=5))
            if kind in ("bearing", "leak"):
                sound = [o for o in clear if o.truth in QUIET]
                bad = sum(o.verdict not in QUIET | {"inconclusive"} for o in sound)
                what = "sound bearings called damaged" if kind == "bearing" else "ambient called leak"
                print(f"  {what}: {bad} of {len(sound)}")
        if not given.no_unknown and not given.kind:
            told = [k for k in ("leak", "seal", "bearing", "electrical") if k in kinds]
            tasks = [(k, given.seed + 1, i) for k in [*told, "none"] for i in range(given.count // 2)]
            summary("kind not given", list(pool.map(unnamed, tasks, chunksize=5)), 0)
    print("\nsounds of nothing, told to be of the kind:")
    for kind, outcomes in decoys.items():
        found = [o for o in outcomes if o.verdict not in QUIET | {"inconclusive", "blocked"}]
        sources = ", ".join(f"{s} {n}" for s, n in Counter(o.source for o in found).most_common(4))
        print(f"  {kind:12s} {len(found)} of {len(outcomes)} {sources}")
    print("\nspeed: judgement of 10 s at 48 kHz over (read + one STFT)")
    for kind in kinds:
        print(f"  {kind:12s} {speed(kind):.2f} (at most {SPEED_LIMITS.get(kind, SPEED_LIMIT)})")
    n = max(totals["all"], 1)
    print(f"\nall kinds: {n} readings, right {totals['right'] / n:.1%}, unsure {totals['unsure'] / n:.1%}, "
          f"misleading {totals['wrong'] / n:.1%}")  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
