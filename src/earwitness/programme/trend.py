"""A point's level over time: baseline, alarm levels, slope, and how long until the next alarm.

Levels are displayed dB, or any figure that is worse when it is higher. Times are days from any origin, in order.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.sentence import Sentence, say

FloatArray = NDArray[np.float64]

REPEATABILITY_FACTOR = 2.8  # ISO 5725-6: two single results differ by more than 2.8 s_r in 5 % of cases
DEFAULT_REPEATABILITY_DB = 1.5  # common practice for a hand-held probe; used until a point has repeats, and said
MAD_TO_SIGMA = 1.4826


@dataclass(frozen=True)
class Baseline:
    level_db: float
    sigma_db: float
    count: int


@dataclass(frozen=True)
class Alarms:
    """`watch` is the least change that is not repeatability; `act` twice that."""

    watch_db: float
    act_db: float
    basis: Sentence


@dataclass(frozen=True)
class Slope:
    per_day: float
    low: float
    high: float
    intercept: float


@dataclass(frozen=True)
class Forecast:
    """Days from the last reading until the level is reached: earliest, likeliest, latest (None: not within reach)."""

    earliest_days: float | None
    likely_days: float | None
    latest_days: float | None
    sentence: Sentence


def robust_baseline(levels_db: FloatArray, count: int = 5) -> Baseline:
    """Baseline of a point: the median of its first good readings, its spread from their median absolute deviation.

    Parameters
    ----------
    levels_db : FloatArray, (n,) levels in order of time, n >= 1 [dB]
    count : how many of the first readings count

    References: Rousseeuw and Croux (1993), J. Am. Stat. Assoc. 88, 1273 (1.4826 MAD).
    """
    first = np.asarray(levels_db, dtype=float)[:count]
    first = first[np.isfinite(first)]
    if not len(first):
        raise InputError("levels_db", "empty", "at least one level")
    median = float(np.median(first))
    return Baseline(median, float(MAD_TO_SIGMA * np.median(np.abs(first - median))), len(first))


def repeatability(repeats_db: Sequence[Sequence[float]]) -> float:
    """Repeatability standard deviation s_r [dB], pooled over points that were read several times in a row.

    Parameters
    ----------
    repeats_db : for each point its repeated levels [dB]; a point with fewer than two says nothing

    References: ISO 5725-2:2019, repeatability variance as the pooled within-cell variance.
    """
    groups = [np.asarray(g, dtype=float) for g in repeats_db if len(g) >= 2]
    freedom = sum(len(g) - 1 for g in groups)
    if not freedom:
        raise InputError("repeats_db", "no repeats", "at least one point read twice; three repeats are usual")
    return math.sqrt(sum(float(((g - g.mean()) ** 2).sum()) for g in groups) / freedom)


def alarm_levels(baseline_db: float, repeatability_db: float | None) -> Alarms:
    """Default *watch* and *act* levels from the point's own repeatability; the site may set its own instead.

    Parameters
    ----------
    baseline_db : float, level of the point when good [dB]
    repeatability_db : float or None, repeatability standard deviation s_r [dB]

    References: ISO 5725-6:1994, 4.1.4 (repeatability limit 2.8 s_r). No criterion of severity for ultrasound is
    universally accepted (ISO 29821-1:2011, 8.5), hence the site's own levels.
    """
    if repeatability_db is None:
        step = REPEATABILITY_FACTOR * DEFAULT_REPEATABILITY_DB
        basis = say(
            "alarms-from-practice",
            "Watch at {step:.1f} dB over baseline and act at twice that: common practice until three repeats at this "
            "point show its own repeatability.",
            step=step,
        )
    else:
        step = REPEATABILITY_FACTOR * max(repeatability_db, 0.1)
        basis = say(
            "alarms-from-repeatability",
            "Watch at {step:.1f} dB over baseline (2.8 times this point's repeatability of {sr:.1f} dB) and act at "
            "twice that.",
            step=step,
            sr=repeatability_db,
        )
    return Alarms(baseline_db + step, baseline_db + 2 * step, basis)


def slope(days: FloatArray, levels_db: FloatArray) -> Slope:
    """Slope of level over time with its 95 % interval, robust against outliers.

    Parameters
    ----------
    days : FloatArray, (n,) times in order, n >= 3 [d]
    levels_db : FloatArray, (n,) [dB]

    References: Sen (1968), J. Am. Stat. Assoc. 63, 1379 (median of pairwise slopes and its interval by Kendall's tau).
    """
    from scipy.stats import theilslopes  # seconds to import

    if len(days) < 3:
        raise InputError("days", f"{len(days)} times", "at least 3 readings")
    fit = theilslopes(np.asarray(levels_db, dtype=float), np.asarray(days, dtype=float), alpha=0.95)
    return Slope(float(fit.slope), float(fit.low_slope), float(fit.high_slope), float(fit.intercept))


def time_to_level(days: FloatArray, levels_db: FloatArray, alarm_db: float, *, horizon_days: float = 730.0) -> Forecast:
    """Time from the last reading until the trend reaches an alarm level, as a range, or "not predictable yet".

    Parameters
    ----------
    days : FloatArray, (n,) times in order [d]
    levels_db : FloatArray, (n,) [dB]
    alarm_db : float, the level asked for [dB]
    horizon_days : float, how far the trend may be carried, at most twice the time observed [d]

    A straight line carried forward (Sen's slope); it is no model of how bearings fail, so the range is wide and the
    horizon short.
    """
    if len(days) < 4:
        return Forecast(
            None, None, None, say("forecast-few", "Not predictable yet: {n} readings, 4 needed.", n=len(days))
        )
    trend = slope(days, levels_db)
    horizon = min(horizon_days, 2 * float(days[-1] - days[0]))
    now = trend.per_day * float(days[-1]) + trend.intercept
    if now >= alarm_db:
        return Forecast(
            0.0, 0.0, 0.0, say("forecast-now", "The trend has reached {alarm:.0f} dB already.", alarm=alarm_db)
        )
    if trend.low <= 0:
        text = "Not predictable yet: a level trend is within the scatter of {n} readings."
        earliest = (alarm_db - now) / trend.high if trend.high > 0 else None
        earliest = earliest if earliest is not None and earliest <= horizon else None
        return Forecast(earliest, None, None, say("forecast-flat", text, n=len(days)))
    early, likely, late = ((alarm_db - now) / s for s in (trend.high, trend.per_day, trend.low))
    if early > horizon:
        text = "Rising, but not expected to reach {alarm:.0f} dB within {horizon:.0f} days; look again by then."
        return Forecast(None, None, None, say("forecast-far", text, alarm=alarm_db, horizon=horizon))
    text = "Expected to reach {alarm:.0f} dB in {early:.0f} to {late:.0f} days if it goes on as it did."
    return Forecast(early, likely, late, say("forecast-range", text, alarm=alarm_db, early=early, late=late))


def state_of(level_db: float, watch_db: float, act_db: float) -> Literal["ok", "watch", "act"]:
    """Which alarm a level has reached.

    Parameters
    ----------
    level_db : float, the reading [dB]
    watch_db : float, first alarm [dB]
    act_db : float, second alarm [dB]
    """
    return "act" if level_db >= act_db else "watch" if level_db >= watch_db else "ok"
