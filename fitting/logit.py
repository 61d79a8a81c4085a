"""Weights of evidence fitted jointly: a conditional logit in which each row of evidence speaks for one verdict.

score(verdict) = log prior + sum over its rows of coefficient * clip((value - criterion) / scale, -1, 1);
probabilities = softmax(scores). Where a share of the faults is said to show nothing, exp(score) of a fault is that
share of the quiet verdict's and else its own (`hearing.evidence.unheard`). Coefficients minimise the mean log loss plus
a ridge, with a lower bound of 0 where evidence for a verdict must never count against it when it is stronger (McFadden
1974, conditional logit).
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

WEIGHTS = Path(__file__).parents[1] / "src" / "earwitness" / "hearing" / "weights"


@dataclass(frozen=True)
class WeightSpec:
    code: str
    supports: str
    criterion: float
    scale: float
    lower: float = 0.0


def design(rows: Sequence[Mapping[str, float]], specs: Sequence[WeightSpec]) -> np.ndarray:
    """(recordings, specs): the clipped, scaled values; a value that was not measured weighs nothing."""
    table = np.array([[row.get(s.code, s.criterion) for s in specs] for row in rows], dtype=float)
    criteria, scales = np.array([s.criterion for s in specs]), np.array([s.scale for s in specs])
    return np.clip((np.nan_to_num(table, nan=0.0) - criteria) / scales, -1, 1) * ~np.isnan(table)


def fit(
    rows: Sequence[Mapping[str, float]],
    labels: Sequence[str],
    specs: Sequence[WeightSpec],
    prior: Mapping[str, float],
    ridge: float = 1e-3,
    unheard: tuple[str, float] | None = None,
) -> list[float]:
    """Coefficients of `specs`; each verdict counts as its prior says, however many examples it has. `unheard`: the
    quiet verdict, and the share of each other one that sounds like it."""
    verdicts = list(prior)
    phi = design(rows, specs)
    owner = np.array([verdicts.index(s.supports) for s in specs])
    onehot = np.eye(len(verdicts))[owner]
    truth = np.array([verdicts.index(label) for label in labels])
    counts = np.bincount(truth, minlength=len(verdicts))
    weight = np.array([prior[v] for v in verdicts])[truth] / counts[truth]
    weight /= weight.sum()
    log_prior = np.log([prior[v] for v in verdicts])
    quiet, share = (verdicts.index(unheard[0]), unheard[1]) if unheard else (0, 0.0)

    def loss(beta: np.ndarray) -> tuple[float, np.ndarray]:
        own = (phi * beta) @ onehot
        scores = _mixed(own, quiet, share)
        kept = np.exp(np.log1p(-share) + own - scores)  # of each score, how much its own evidence moves it
        kept[:, quiet] = 1.0
        scores = scores + log_prior
        scores -= scores.max(axis=1, keepdims=True)
        p = np.exp(scores)
        p /= p.sum(axis=1, keepdims=True)
        error = p.copy()
        error[np.arange(len(truth)), truth] -= 1
        rest = (error * (1 - kept)).sum(axis=1)
        error *= kept
        error[:, quiet] += rest
        gradient = (weight[:, None] * phi * error[:, owner]).sum(axis=0) + 2 * ridge * beta
        value = -(weight * np.log(p[np.arange(len(truth)), truth] + 1e-300)).sum() + ridge * (beta @ beta)
        return float(value), gradient

    bounds = [(s.lower, None) for s in specs]
    result = minimize(loss, np.ones(len(specs)), jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 2000})
    return [round(float(b), 4) for b in result.x]


def _mixed(scores: np.ndarray, quiet: int, share: float) -> np.ndarray:
    """(recordings, verdicts): of each fault a share scores as the quiet verdict does."""
    if not share:
        return scores
    mixed = np.logaddexp(np.log(share) + scores[:, [quiet]], np.log1p(-share) + scores)
    mixed[:, quiet] = scores[:, quiet]
    return mixed


def write(
    kind: str,
    prior: Mapping[str, float],
    specs: Sequence[WeightSpec],
    coefficients: Sequence[float],
    script: str,
    note: str,
) -> Path:
    """hearing/weights/KIND.json: the prior, the rows, and the script that made them."""
    rows = [
        {"code": s.code, "for": s.supports, "criterion": s.criterion, "scale": s.scale, "coefficient": c}
        for s, c in zip(specs, coefficients, strict=True)
    ]
    data = {"prior": dict(prior), "evidence": rows, "fitted_by": script, "note": note}
    path = WEIGHTS / f"{kind}.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
    return path
