"""The leaks found against what the whole system loses: individual flows, correlated through their shared method, are
updated by the measured leakage and capped by what the compressors supply."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.interval import COVERAGE, Interval, Uncertain, summary
from earwitness.sentence import Sentence, say

_REACH, _NODES = 7.0, 141  # grid along the shared direction, in standard deviations
_BLOCK = 512  # leaks at a time
_FEW_DRAWS = 50.0
_FAR = 3.0  # standard deviations that the flows may move together before it is a disagreement


@dataclass(frozen=True)
class FoundShare:
    """What is believed of the share of the leakage that a survey finds, before the system test: a Beta distribution.
    The default has its mean at 2/3 and rules nothing out (P)."""

    alpha: float = 2.0
    beta: float = 1.0


@dataclass(frozen=True)
class Reconciliation:
    """Flows after the whole has spoken, all in the unit of the flows given.

    flows : one interval a leak
    draws : (n, count) joint draws of the flows; a sum over any rows keeps the correlation
    found : their sum
    total : leakage of the whole system; None without a system test
    not_found : total less found; None without a system test
    share_found : found over total [1]; None without a system test
    effective_draws : how many independent draws the answer is worth
    notes : what was capped, what disagreed
    """

    flows: tuple[Interval, ...]
    draws: NDArray[np.float64]
    found: Interval
    total: Interval | None
    not_found: Interval | None
    share_found: Interval | None
    effective_draws: float
    notes: tuple[Sentence, ...] = ()


def reconcile(
    flows: Sequence[Uncertain],
    measured: Uncertain | None = None,
    supply: float | None = None,
    share: FoundShare | None = None,
    seed: int = 0,
    count: int = 2000,
) -> Reconciliation:
    """Update individual flows by the system's measured leakage, and cap their sum by the supply.

    Parameters
    ----------
    flows : sequence of Uncertain (n >= 1), log-normal, what they share kept by name [any unit of flow]
    measured : Uncertain, leakage of the whole system by a test, same unit; None where there was none [same unit]
    supply : float, mean air supplied, above 0, same unit; no draw's sum (with a test: total) exceeds it [same unit]
    share : belief about the share that a survey finds
    seed : of the draws; same input, same bytes
    count : number of draws

    Returns
    -------
    Reconciliation

    Raises
    ------
    InputError : no flow, a flow of 0 or less, a supply of 0 or less, flows known too well to fit under the supply

    Notes
    -----
    The flows' logarithms are Gaussian. Across the direction in which their sum grows fastest draws come straight from
    the prior; along it each draw carries a randomly shifted grid, weighted with prior and likelihood; draws and grid
    nodes are resampled by weight (importance resampling with an exact one-dimensional update). Total = found / share.
    """
    medians, own, names, shared = _as_arrays(flows)
    if supply is not None and not supply > 0:
        raise InputError("supply", supply, "above 0")
    if measured is not None and not measured.median > 0:
        raise InputError("measured", measured.median, "above 0")
    belief = share or FoundShare()
    rng = np.random.default_rng([seed, 0x5EC0])
    direction_shared, direction_own = _direction(medians, own, shared)
    along = shared @ direction_shared + own * direction_own  # d ln(flow) for a step along the direction, 0 or more
    latent = rng.standard_normal((count, len(names)))
    part = rng.beta(belief.alpha, belief.beta, count)
    nodes = np.linspace(-_REACH, _REACH, _NODES)
    spacing = nodes[1] - nodes[0]
    offset = (rng.random(count) - 0.5) * spacing

    projection = latent @ direction_shared
    for leaks in _blocks(len(medians)):
        projection += _own_noise(seed, leaks, count).T @ direction_own[leaks]
    across = latent - projection[:, None] * direction_shared  # the shared part that the direction leaves free

    def base(leaks: slice) -> NDArray[np.float64]:
        """Flows at grid position 0 of each draw, (n, count)."""
        ln = own[leaks, None] * (_own_noise(seed, leaks, count) - np.outer(direction_own[leaks], projection))
        ln += shared[leaks] @ across.T + np.outer(along[leaks], offset)
        return np.asarray(medians[leaks, None] * np.exp(ln))

    sums = np.zeros((count, _NODES))
    for leaks in _blocks(len(medians)):
        sums += base(leaks).T @ np.exp(np.outer(along[leaks], nodes))
    log_weight = -0.5 * (nodes + offset[:, None]) ** 2
    total = sums if measured is None else sums / part[:, None]
    if measured is not None:
        log_weight = log_weight - 0.5 * (np.log(total / measured.median) / max(measured.sigma, 1e-4)) ** 2
    if supply is not None:
        log_weight = np.where(total <= supply * (1 - 1e-12), log_weight, -np.inf)
        if not np.any(np.isfinite(log_weight)):
            raise InputError("supply", supply, f"no less than the leaks are known to be, about {medians.sum():.3g}")
    row, node, effective = _resample(log_weight, rng)
    moved = float(np.mean(nodes[node] + offset[row]))
    drawn = np.empty((len(medians), count))
    for leaks in _blocks(len(medians)):
        drawn[leaks] = base(leaks)[:, row] * np.exp(np.outer(along[leaks], nodes[node]))
    whole = None if measured is None else drawn.sum(axis=0) / part[row]
    before = float(medians @ np.exp((own**2 + (shared**2).sum(axis=1)) / 2))  # mean of the sum, one by one
    return _result(drawn, whole, before, supply, measured, effective, moved)


def _as_arrays(
    flows: Sequence[Uncertain],
) -> tuple[NDArray[np.float64], NDArray[np.float64], list[str], NDArray[np.float64]]:
    if not flows:
        raise InputError("flows", "none", "one flow or more")
    medians = np.array([f.median for f in flows], dtype=np.float64)
    if not np.all(medians > 0) or not np.all(np.isfinite(medians)):
        raise InputError("flows", [float(m) for m in medians if not m > 0][:3], "each above 0")
    names = sorted({name for f in flows for name in f.shared})
    shared = np.array([[f.shared.get(name, 0.0) for name in names] for f in flows]).reshape(len(flows), len(names))
    return medians, np.array([f.own for f in flows], dtype=np.float64), names, shared


def _direction(
    medians: NDArray[np.float64], own: NDArray[np.float64], shared: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Unit vector, over shared and own parts, along which the logarithm of the sum grows fastest."""
    weight = medians * np.exp((own**2 + (shared**2).sum(axis=1)) / 2)
    weight = weight / weight.sum()
    by_shared, by_own = weight @ shared, weight * own
    length = math.sqrt(float(by_shared @ by_shared + by_own @ by_own))
    return (by_shared / length, by_own / length) if length > 0 else (by_shared, by_own)


def _blocks(count: int) -> list[slice]:
    return [slice(start, min(start + _BLOCK, count)) for start in range(0, count, _BLOCK)]


def _own_noise(seed: int, leaks: slice, count: int) -> NDArray[np.float64]:
    """The own parts of a block of leaks, made afresh each time rather than kept."""
    return np.random.default_rng([seed, 1 + leaks.start]).standard_normal((leaks.stop - leaks.start, count))


def _resample(
    log_weight: NDArray[np.float64], rng: np.random.Generator
) -> tuple[NDArray[np.intp], NDArray[np.intp], float]:
    """Rows (draws) by systematic resampling, and within each a grid node, both in proportion to weight."""
    weight = np.exp(log_weight - log_weight.max())
    by_row = weight.sum(axis=1)
    effective = float(by_row.sum() ** 2 / (by_row @ by_row))
    count = len(weight)
    points = (np.arange(count) + rng.random()) / count * by_row.sum()
    row = np.minimum(np.searchsorted(np.cumsum(by_row), points, side="right"), count - 1)
    within = np.cumsum(weight[row], axis=1)
    node = (within > rng.random((count, 1)) * within[:, -1:]).argmax(axis=1)
    return row, node, effective


def _result(
    drawn: NDArray[np.float64],
    whole: NDArray[np.float64] | None,
    before: float,
    supply: float | None,
    measured: Uncertain | None,
    effective: float,
    moved: float,
) -> Reconciliation:
    tail = (1 - COVERAGE) / 2
    flows: list[Interval] = []
    for leaks in _blocks(len(drawn)):
        low, median, high = np.quantile(drawn[leaks], [tail, 0.5, 1 - tail], axis=1)
        mean = drawn[leaks].mean(axis=1)
        flows += [
            Interval(*values)
            for values in zip(median.tolist(), low.tolist(), high.tolist(), mean.tolist(), strict=True)
        ]
    sums = drawn.sum(axis=0)
    found = summary(sums)
    return Reconciliation(
        tuple(flows),
        drawn,
        found,
        None if whole is None else summary(whole),
        None if whole is None else summary(whole - sums),
        None if whole is None else summary(sums / whole),
        effective,
        _notes(found, before, supply, whole, measured, effective, moved),
    )


def _notes(
    found: Interval,
    before: float,
    supply: float | None,
    whole: NDArray[np.float64] | None,
    measured: Uncertain | None,
    effective: float,
    moved: float,
) -> tuple[Sentence, ...]:
    notes = []
    if found.mean < before / 1.5:
        notes.append(
            say(
                "leaks-scaled-down",
                "Taken one by one the leaks would add up to {times:.1f} times what the whole system allows; they were "
                "scaled down together, and the order among them changes little.",
                times=before / found.mean,
            )
        )
    if supply is not None and whole is None:
        notes.append(
            say(
                "no-system-test",
                "Without a test of the whole system's leakage the sum is capped by the supply alone, and what was not "
                "found cannot be told. Load and unload times of one quiet hour would settle it.",
            )
        )
    if supply is not None and measured is not None and measured.median > supply:
        notes.append(
            say(
                "test-over-supply",
                "The system test found {times:.2f} times what is supplied on average, which cannot be: check the test, "
                "the capacity and the average load. The supply was taken as the limit.",
                times=measured.median / supply,
            )
        )
    if whole is not None and abs(moved) > _FAR:
        notes.append(
            say(
                "sides-disagree",
                "The leaks' own flows and the system's leakage do not agree: to meet, the flows moved {deviations:.1f} "
                "standard deviations. Check the units, the test and the method before using either.",
                deviations=abs(moved),
            )
        )
    if effective < _FEW_DRAWS:
        notes.append(
            say(
                "few-draws",
                "The reconciled intervals rest on {draws:.0f} independent draws only: take them as rough.",
                draws=effective,
            )
        )
    return tuple(notes)
