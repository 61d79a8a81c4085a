"""How often each detector is right, on held-out simulated readings, how honest its probabilities are, what it costs.

    python benchmarks/hearing.py [--count 160] [--seed 11] [--kind leak --kind bearing] [--jobs 2]

Over `count` readings of each kind, drawn from the part of the variety (receivers, plants, decoys, tempers) that no
weight was fitted on, each examined for its fitness first as a survey's are: right, unsure, misleading; the confusion
table; log loss against a constant answer; the expected calibration error with faults as common as drawn, at 50 % and at
5 % of the readings; sounds of nothing told to be of each kind; what is said where no kind is given; what another
decision threshold would trade; and the time of a judgement over that of reading the file and one SciPy STFT of it.
The readings come from this project's own simulator: what holds for recordings that nobody here made is another question
(docs/hearing.md). The same arguments print the same figures, whatever the number of jobs, the speed apart.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from earwitness.hearing.evidence import DECISION, Judgement, decide, fitted
from earwitness.hearing.heard import Heard
from earwitness.sound.fitness import examine

DETECTORS = {  # kind: module of hearing and of simulate, and what the detector is told of the place
    "leak": ("leak", "leak", "LeakState"),
    "seal": ("seal", "seal", "SealState"),
    "bearing": ("bearing", "bearing", "BearingMachine"),
    "gear": ("gear", "gear", "GearMachine"),
    "electrical": ("discharge", "discharge", "ElectricalState"),
    "valve": ("valve", "valve", "ValveState"),
    "trap": ("trap", "trap", "TrapState"),
}
TOLD = ("leak", "seal", "bearing", "electrical")  # the kinds that are told by sound alone
QUIET = {"no-leak-heard", "no-passage-heard", "no-fault-heard", "no-discharge-heard", "working", "none"}
NOTHING = QUIET | {"inconclusive", "blocked"}
THRESHOLDS = (0.70, 0.75, 0.80, 0.85, 0.90, 0.95)
BINS = 10
CHANCES = 200
NAMELESS = "kind not given"


@dataclass(frozen=True)
class Outcome:
    """What was true and what was said. `likeliest`: what would have been said with no threshold, or `inconclusive`
    where a rule forbids an answer whatever its probability."""

    truth: str
    verdict: str
    probabilities: dict[str, float]
    source: str = ""

    @property
    def likeliest(self) -> str:
        first, probability = decide(self.probabilities, 0.0) if self.probabilities else ("inconclusive", 0.0)
        return "inconclusive" if self.verdict == "inconclusive" and probability >= DECISION else first

    def at(self, threshold: float) -> str:
        """What would have been said at another threshold."""
        told = max(self.probabilities.values(), default=0.0) >= threshold and self.likeliest != "none"
        return self.likeliest if told else "inconclusive"


# -- judging ---------------------------------------------------------------------------------------------------------


def reading(task: tuple[str, int, int]) -> tuple[Outcome, Outcome | None]:
    """One held-out reading as its own detector judges it, and as it is judged where no kind is given."""
    kind, seed, number = task
    draw = importlib.import_module(f"earwitness.simulate.{DETECTORS[kind][1]}").draw
    drawn = draw(np.random.default_rng([seed, list(DETECTORS).index(kind), number]), held_out=True)
    heard = examined(drawn.heard, kind)
    source = str(drawn.variety.get("source", ""))
    own = outcome(drawn.truth, _hearing(kind).judge(heard, drawn.state), source)
    if kind not in TOLD:
        return own, None
    truth, verdict = kind, drawn.truth
    if drawn.truth in NOTHING | {"friction"}:  # a raised level without impacts is nothing that sound alone tells
        truth, verdict = beside(drawn.variety)
    return own, unnamed(heard, truth, verdict, getattr(drawn.state, "mains_hz", None))


def beside(variety: Mapping[str, Any]) -> tuple[str, str]:
    """Kind and verdict of what is heard though it is not what was listened to: a leak that the probe passes, a bearing
    that is struck, of which nobody stated the parts."""
    if variety.get("decoy") == "hiss":
        return "leak", "leak"
    return ("bearing", "inconclusive") if variety.get("source") == "impacts" else ("none", "inconclusive")


def decoy(task: tuple[int, int, tuple[str, ...]]) -> tuple[dict[str, Outcome], Outcome]:
    """A sound of nothing, judged by every detector, told nothing; and where no kind is given."""
    seed, number, kinds = task
    draw = importlib.import_module("earwitness.simulate.decoy").draw
    drawn = draw(np.random.default_rng([seed, 99, number]), held_out=True)
    source = str(drawn.variety["source"])
    found = {}
    for kind in kinds:
        module = _hearing(kind)
        judgement = module.judge(examined(drawn.heard, kind), getattr(module, DETECTORS[kind][2])())
        found[kind] = outcome("nothing", judgement, source)
    return found, unnamed(examined(drawn.heard, "other"), "none", source, None)


def unnamed(heard: Heard, truth: str, source: str, mains_hz: float | None) -> Outcome:
    """Which kind is said, with the probability of each; `source` keeps the true and the given verdict."""
    from earwitness.hearing import unknown

    judgement = unknown.judge(heard, unknown.UnknownState(mains_hz))
    kinds = {name.removeprefix("kind-"): p for name, p in judgement.measured.items() if name.startswith("kind-")}
    said = decide(kinds)[0] if kinds else "none"
    said = "inconclusive" if said == "none" else said  # what the user reads where no kind is told
    return Outcome(truth, said, kinds, f"{source}|{judgement.verdict}")


def examined(heard: Heard, kind: str) -> Heard:
    """With what its fitness spoils, and without the digital silence at its ends."""
    if not len(heard.samples):
        return heard
    report = examine(heard.samples, heard.rate_hz, kind=kind, signal=heard.signal, sensor=heard.sensor)
    return replace(heard, samples=heard.samples[report.start : report.stop], spoiled=report.spoiled)


def outcome(truth: str, judgement: Judgement, source: str) -> Outcome:
    return Outcome(truth, judgement.verdict, dict(judgement.probabilities), source)


def _hearing(kind: str) -> Any:
    return importlib.import_module(f"earwitness.hearing.{DETECTORS[kind][0]}")


# -- counting -------------------------------------------------------------------------------------------------------


def calibration_error(kind: str, outcomes: Sequence[Outcome], prevalence: float) -> tuple[float, float]:
    """Expected calibration error of "something is wrong": mean |frequency − probability| over ten bins of probability,
    the readings weighted, and the probabilities moved from the stored prior, to a share of faults of `prevalence`.
    And the mean of it had the truths been drawn by these very probabilities: what chance alone makes of so many."""
    fault = np.array([o.truth not in QUIET for o in outcomes])
    if not 0 < fault.mean() < 1:
        return float("nan"), float("nan")
    said = np.array([1 - sum(p for v, p in o.probabilities.items() if v in QUIET) for o in outcomes])
    prior = sum(p for v, p in fitted("unknown" if kind == NAMELESS else kind)[0].items() if v not in QUIET)
    here = _moved(said, prior, prevalence)

    def error(fault: np.ndarray) -> float:
        weight = np.where(fault, prevalence / fault.mean(), (1 - prevalence) / (1 - fault.mean()))
        return _error(here, fault, weight)

    drawn = np.random.default_rng(0).random((CHANCES, len(said))) < _moved(said, prior, fault.mean())
    return error(fault), float(np.mean([error(d) for d in drawn if 0 < d.mean() < 1]))


def _moved(said: np.ndarray, prior: float, prevalence: float) -> np.ndarray:
    """Probabilities told with `prior` as they would be where `prevalence` is the share of faults."""
    odds = said / np.maximum(1 - said, 1e-12) * (prevalence / (1 - prevalence)) / (prior / (1 - prior))
    return odds / (1 + odds)


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


def shares(outcomes: Sequence[Outcome], threshold: float | None = None) -> tuple[float, float, float]:
    """Right, unsure and misleading, as said or as they would be at another threshold."""
    said = [(o.truth, o.verdict if threshold is None else o.at(threshold)) for o in outcomes]
    n = max(len(said), 1)
    # of nothing, where no kind is given, `inconclusive` is what should be read
    right = sum(truth == verdict or (truth, verdict) == ("none", "inconclusive") for truth, verdict in said) / n
    unsure = sum(verdict == "inconclusive" and truth not in ("none", verdict) for truth, verdict in said) / n
    return right, unsure, max(0.0, 1 - right - unsure) if said else 0.0


def summary(kind: str, outcomes: Sequence[Outcome], indistinct: int = 0) -> None:
    right, unsure, wrong = shares(outcomes)
    print(f"\n{kind}: {len(outcomes)} readings, right {right:.1%}, unsure {unsure:.1%}, misleading {wrong:.1%}"
          f" ({indistinct} more in which no listener could tell)")  # fmt: skip
    table(outcomes)
    with_probability = [o for o in outcomes if o.probabilities]
    if with_probability:
        loss, constant = log_losses(with_probability)
        half, few = (calibration_error(kind, with_probability, prevalence) for prevalence in (0.5, 0.05))
        print(f"  log loss {loss:.3f}, constant answer {constant:.3f}; calibration error: verdict "
              f"{verdict_error(with_probability):.3f}, fault at 50 % {half[0]:.3f} (by chance alone {half[1]:.3f}), "
              f"at 5 % {few[0]:.3f} ({few[1]:.3f})")  # fmt: skip
    if kind in ("bearing", "leak"):
        sound = [o for o in outcomes if o.truth in QUIET]
        bad = sum(o.verdict not in NOTHING for o in sound)
        what = "sound bearings called damaged" if kind == "bearing" else "ambient called leak"
        print(f"  {what}: {bad} of {len(sound)} ({bad / max(len(sound), 1):.1%})")


def verdict_without_kind(outcomes: Sequence[Outcome]) -> None:
    """The verdict itself where no kind was given: what is quiet should be told nothing."""
    pairs = [tuple(o.source.split("|")) for o in outcomes]
    said = [
        Outcome(t if o.truth != "none" else "inconclusive", v, {}) for o, (t, v) in zip(outcomes, pairs, strict=True)
    ]
    right, unsure, wrong = shares(said)
    print(f"  the verdict itself: right {right:.1%}, unsure {unsure:.1%}, misleading {wrong:.1%}")


def trade(by_kind: Mapping[str, Sequence[Outcome]]) -> None:
    """Right and misleading, in %, at other thresholds than the one in use."""
    print(f"\nright / misleading in % at other thresholds (in use: {DECISION})")
    print("  " + f"{'':16s}" + "".join(f"{t:>14.2f}" for t in THRESHOLDS))
    rows = dict(by_kind) | {"all with a kind": [o for k, v in by_kind.items() if k in DETECTORS for o in v]}
    for kind, outcomes in rows.items():
        at = [shares(outcomes, t) for t in THRESHOLDS]
        print("  " + f"{kind:16s}" + "".join(f"{100 * right:>8.1f} /{100 * wrong:4.1f}" for right, _, wrong in at))


def decoys(found: Mapping[str, Sequence[Outcome]]) -> None:
    print("\nsounds of nothing, told to be of the kind:")
    for kind, outcomes in found.items():
        heard = [o for o in outcomes if o.verdict not in NOTHING]
        sources = ", ".join(f"{s} {n}" for s, n in Counter(o.source for o in heard).most_common(4))
        print(f"  {kind:12s} {len(heard)} of {len(outcomes)} {sources}")


def main() -> int:
    from judging_speed import table as table_of_speed  # beside this script

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=160, help="readings of each kind (160: over 1,000 in all)")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--kind", action="append", choices=list(DETECTORS), help="only this kind (may be repeated)")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    given = parser.parse_args()
    kinds = tuple(given.kind or DETECTORS)
    outcomes: dict[str, list[Outcome]] = {}
    nameless: list[Outcome] = []
    print(f"a verdict is given from a probability of {DECISION} on")
    with ProcessPoolExecutor(given.jobs) as pool:
        for kind in kinds:
            judged = list(pool.map(reading, [(kind, given.seed, i) for i in range(given.count)], chunksize=4))
            told = [own for own, _ in judged]
            outcomes[kind] = [o for o in told if o.truth != "inconclusive"]
            nameless += [other for _, other in judged if other is not None]
            summary(kind, outcomes[kind], len(told) - len(outcomes[kind]))
            sys.stdout.flush()
        tasks = [(given.seed, i, kinds) for i in range(given.count // 2)]
        nothing = list(pool.map(decoy, tasks, chunksize=4))
    nameless += [other for _, other in nothing]
    summary(NAMELESS, nameless)
    verdict_without_kind(nameless)
    trade(outcomes | {NAMELESS: nameless})
    decoys({kind: [found[kind] for found, _ in nothing] for kind in kinds})
    print()
    table_of_speed(kinds)
    every = [o for judged in outcomes.values() for o in judged]
    right, unsure, wrong = shares(every)
    print(f"\nall kinds: {len(every)} readings, right {right:.1%}, unsure {unsure:.1%}, misleading {wrong:.1%}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
