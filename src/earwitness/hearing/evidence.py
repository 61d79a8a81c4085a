"""Evidence for and against, and the verdict that it adds up to.

probabilities = softmax(log prior + sum of weights), over the verdicts of a kind: each piece of evidence speaks for
one verdict with a weight in nats (negative: against it). The weights were fitted jointly by the script named in the
weights file; a reader can add them up by hand.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sentence import Sentence

# A verdict is given from this probability on; below it the answer is `inconclusive`. It says that a wrong verdict costs
# five times a reading taken again: 1 - 1/5 (Chow, IEEE Trans. Inf. Theory 16 (1970) 41-46).
DECISION = 0.80


@dataclass(frozen=True)
class Evidence:
    """One thing that can be checked on the picture: what was measured, against what, and how much it says."""

    code: str
    name: str
    value: float | None
    unit: str
    criterion: str
    supports: str
    weight: float
    args: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Place:
    """A place in a sweep where the sound comes through."""

    at_s: float
    level_db: float
    width_s: float | None = None


@dataclass(frozen=True)
class Trace:
    """Numbers to draw: `form` names the picture ("level", "spectrogram", "envelope-spectrum", "mains-phase"),
    `arrays` its axes and curves, `marks` what decided (expected lines with tolerance, thresholds, places)."""

    form: str
    arrays: Mapping[str, NDArray[np.float32]]
    marks: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True)
class Judgement:
    verdict: str
    probability: float | None
    probabilities: Mapping[str, float]
    evidence: tuple[Evidence, ...]
    detector: str
    detector_version: str
    settle: Sentence | None = None  # what would settle an inconclusive reading
    severity: Sentence | None = None  # one word in `code`, its basis in `text`
    places: tuple[Place, ...] = ()
    notes: tuple[Sentence, ...] = ()
    traces: tuple[Trace, ...] = ()
    measured: Mapping[str, float] = field(default_factory=dict)  # features, kept for fitting and trends


@dataclass(frozen=True)
class WeightRow:
    """One fitted line: weight = coefficient * clip((value - criterion) / scale, -1, 1), for `supports`."""

    code: str
    supports: str
    criterion: float
    scale: float
    coefficient: float

    def weight(self, value: float) -> float:
        return self.coefficient * min(1.0, max(-1.0, (value - self.criterion) / self.scale))


@cache
def fitted(kind: str) -> tuple[Mapping[str, float], tuple[WeightRow, ...]]:
    """Prior and weight rows of a kind, from hearing/weights/KIND.json (written by its fitting script)."""
    data = json.loads((files("earwitness.hearing") / "weights" / f"{kind}.json").read_text("utf-8"))
    rows = tuple(WeightRow(r["code"], r["for"], r["criterion"], r["scale"], r["coefficient"]) for r in data["evidence"])
    return data["prior"], rows


def weigh(prior: Mapping[str, float], evidence: Sequence[Evidence]) -> dict[str, float]:
    """Probabilities of the verdicts in `prior`: softmax(log prior + sum of weights).

    Parameters
    ----------
    prior : probability of each verdict before listening, each above 0 [1]
    evidence : each speaks for one of the verdicts in `prior`
    """
    scores = {verdict: math.log(p) for verdict, p in prior.items()}
    for item in evidence:
        scores[item.supports] += item.weight
    top = max(scores.values())
    exponentials = {verdict: math.exp(score - top) for verdict, score in scores.items()}
    total = sum(exponentials.values())
    return {verdict: e / total for verdict, e in exponentials.items()}


def unheard(evidence: Sequence[Evidence], fault: str, quiet: str, share: float) -> float:
    """What is held against all other evidence [nats]: some faults are there and nothing that is weighed shows them.

    Of a `share` of faults the sound is that of none; evidence of odds exp(S) leaves odds share + (1 - share) exp(S), so
    that nothing denies a fault more surely than 1 in `share` (the likelihood of a mixture: Copas, J. R. Stat. Soc. B 50
    (1988) 225-265). For the fault it weighs what that adds to S.

    Parameters
    ----------
    evidence : of one reading, for the two verdicts
    fault, quiet : the two verdicts
    share : of the faults, above 0 and below 1 [1]
    """
    total = sum(e.weight if e.supports == fault else -e.weight for e in evidence)
    return float(np.logaddexp(math.log(share), math.log1p(-share) + total)) - total


def decide(probabilities: Mapping[str, float], threshold: float = DECISION) -> tuple[str, float]:
    """The likeliest verdict and its probability, or `inconclusive` with that probability where it is not decided.

    Parameters
    ----------
    probabilities : of each verdict, summing to 1 [1]
    threshold : float, from which on a verdict is given, 0.5 to 1 [1]
    """
    verdict = max(probabilities, key=lambda v: probabilities[v])
    probability = probabilities[verdict]
    return (verdict if probability >= threshold else "inconclusive"), probability
