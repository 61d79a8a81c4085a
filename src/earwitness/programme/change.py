"""Has it changed? Charts that tell a small lasting shift from scatter, at a stated rate of false alarms.

Both charts count readings, not days, so irregular intervals do not matter as long as the scatter of a reading does
not depend on the interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError

FloatArray = NDArray[np.float64]

REFERENCE_VALUE = 0.5  # in standard deviations: tuned to a shift of one standard deviation
DECISION_INTERVAL = 5.0  # one false alarm in about 930 readings of a sound point (one-sided)


@dataclass(frozen=True)
class Change:
    """Where the chart alarmed and where the shift began (indices of readings), and the chart's height over time."""

    alarm: int | None
    began: int | None
    heights: FloatArray
    false_alarm_every: float  # readings


def cusum(
    levels_db: FloatArray,
    baseline_db: float,
    sigma_db: float,
    *,
    reference: float = REFERENCE_VALUE,
    decision: float = DECISION_INTERVAL,
    baseline_count: float = math.inf,
) -> Change:
    """One-sided cumulative sum chart for an upward shift: S = max(0, S + z - k), alarm at S > h.

    Parameters
    ----------
    levels_db : FloatArray, (n,) levels in order of time [dB]
    baseline_db : float, level when good [dB]
    sigma_db : float, standard deviation of a reading of a sound point, > 0 [dB]
    reference : float, k [standard deviations]
    decision : float, h [standard deviations]
    baseline_count : float, readings that the baseline is the median of; a stated baseline counts as known [1]

    References: Page (1954), Biometrika 41, 100; Montgomery, Introduction to Statistical Quality Control, ch. 9.
    """
    if sigma_db <= 0:
        raise InputError("sigma_db", sigma_db, "greater than 0")
    heights = np.zeros(len(levels_db))
    height, began, first = 0.0, 0, None
    begin: int | None = None
    for i, level in enumerate(levels_db):
        before = height
        z = 0.0 if math.isnan(level) else (level - baseline_db) / sigma_db
        height = max(0.0, height + z - reference) if not math.isnan(level) else height
        if before == 0.0 and height > 0.0:
            began = i
        heights[i] = height
        if first is None and height > decision:
            first, begin = i, began
    every = cusum_false_alarm_every(reference, decision, baseline_count=baseline_count)
    return Change(first, begin, heights, every)


def cusum_false_alarm_every(reference: float, decision: float, *, baseline_count: float = math.inf) -> float:
    """Readings between false alarms of the one-sided chart (average run length with no shift).

    Parameters
    ----------
    reference : float, k > 0 [standard deviations]
    decision : float, h > 0 [standard deviations]
    baseline_count : float, readings that the baseline is the median of, >= 1; the fewer, the more often it is wrong [1]

    With a baseline from few readings this is the inverse of the mean rate of alarms over the error of the baseline.

    References: Siegmund (1985), Sequential Analysis, eq. 2.56: (exp(-2Δb) + 2Δb - 1) / (2Δ²) with Δ = shift - k and
    b = h + 1.166; variance of a median of n: about (π/2) / (n + π/2 - 1) of one reading's.
    """
    if reference <= 0 or decision <= 0 or baseline_count < 1:
        given = (reference, decision, baseline_count)
        raise InputError("reference, decision, baseline_count", given, "above 0, above 0, and 1 or more")
    b = decision + 1.166

    def every(shift: float) -> float:
        drift = shift - reference
        x = 2 * drift * b
        return b * b if abs(x) < 1e-6 else (math.exp(-x) + x - 1) / (2 * drift**2)

    if math.isinf(baseline_count):
        return every(0.0)
    spread = math.sqrt(math.pi / 2 / (baseline_count + math.pi / 2 - 1))
    nodes, weights = np.polynomial.hermite_e.hermegauss(41)
    rates = [1 / every(spread * float(x)) for x in nodes]
    return float(weights.sum() / (weights @ np.array(rates)))
