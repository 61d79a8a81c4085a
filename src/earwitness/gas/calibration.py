"""The site's own calibration: leaks of known size, listened to, turn a level into a flow.

Bayesian linear regression of log flow on level, pressure and distance. The physics is the prior, so that three leaks
already help and thirty decide; the interval is the predictive one (Student's t).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.interval import COVERAGE, Z_95, Uncertain
from earwitness.sentence import Sentence, say

Floats = float | NDArray[np.float64]
SHARED_NAME = "site_calibration"
_NAMES = ("level", "pressure", "distance")
_HALF_RANGE_DECADES = 1.0  # so far outside the calibrated range (in pressure, distance) the spread doubles
_HALF_RANGE_DB = 10.0


@dataclass(frozen=True)
class CalibrationPrior:
    """What physics says before any leak of the site is heard.

    slope_low_db, slope_high_db : the level rises so much for a decade of flow, evenly likely between [dB]; jet noise in
        a fixed band runs from about 25 (small holes) to 5 (large ones)
    scatter_db : customary scatter of repeated listening at one leak (P) [dB]
    flow_decades : standard deviation of log10 flow among leaks (P)
    pressure_decades : how far, in decades of flow for a decade of pressure, pressure may matter beside the level (P)
    distance_decades : the same for distance, after spreading and absorption have been taken off (P)
    weight : how many calibration leaks the prior's idea of the scatter counts for
    """

    slope_low_db: float = 5.0
    slope_high_db: float = 25.0
    scatter_db: float = 3.0
    flow_decades: float = 0.7
    pressure_decades: float = 0.5
    distance_decades: float = 0.25
    weight: float = 3.0


@dataclass(frozen=True)
class Calibration:
    """A fitted calibration; plain numbers, so that it can be stored and read back.

    coefficients : of log10 flow on 1, level, log10 pressure, log10 distance, all less `centre`
    covariance : of the coefficients over the scatter's variance, row by row
    scatter_decades : standard deviation of log10 flow about the plane
    freedom : degrees of freedom of Student's t
    low, high : the calibrated range of level (at 1 m, spreading and absorption off), log10 pressure, log10 distance
    """

    coefficients: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    scatter_decades: float
    freedom: float
    centre: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    absorption_db_m: float
    leaks: int
    notes: tuple[Sentence, ...] = ()

    @property
    def slope_db_decade(self) -> float:
        """The level rises so much for a decade of flow [dB], as the inverse of the fitted coefficient."""
        return math.inf if self.coefficients[1] == 0 else 1 / self.coefficients[1]


@dataclass(frozen=True)
class CalibratedFlow:
    """Flow from a level by the site's calibration, in the unit of the calibration's flows.

    median, low, high : arrays; the interval is predictive, of the stated coverage
    own, shared : ln standard deviations of a log-normal with the same 95 % interval: the reading's own part, and the
        part that every flow by this calibration shares (named "site_calibration")
    outside : how far outside the calibrated range, 0 inside, 1 where the spread has doubled
    """

    median: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    own: NDArray[np.float64]
    shared: NDArray[np.float64]
    outside: NDArray[np.float64]
    coverage: float = COVERAGE
    notes: tuple[Sentence, ...] = ()

    def uncertain(self, index: int = 0) -> Uncertain:
        own, shared = np.atleast_1d(self.own)[index], np.atleast_1d(self.shared)[index]
        return Uncertain(float(np.atleast_1d(self.median)[index]), float(own), {SHARED_NAME: float(shared)})


def fit_calibration(
    level_db: Sequence[float] | NDArray[np.float64],
    flow: Sequence[float] | NDArray[np.float64],
    pressure_abs: Sequence[float] | NDArray[np.float64],
    distance_m: Sequence[float] | NDArray[np.float64],
    absorption_db_m: float = 0.0,
    prior: CalibrationPrior | None = None,
) -> Calibration:
    """Fit log flow on level, pressure and distance of leaks of known size.

    Parameters
    ----------
    level_db : array (n >= 1), displayed level, gain taken off [dB]
    flow : array (n), known flow, above 0; the flows that come out are in the same unit [kg/s]
    pressure_abs : array (n), above 0 [Pa absolute]
    distance_m : array (n), above 0 [m]
    absorption_db_m : float, air absorption at the receiver's frequency, 0 or more [dB/m]
    prior : what physics says; the default one where None

    Raises
    ------
    InputError : no leak, columns of different length, NaN, flows, pressures or distances of 0 or less

    Notes
    -----
    Conjugate normal-inverse-gamma regression (Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 14). The prior of the
    level's coefficient is the mean and spread, over the stated slopes, of the regression of log flow on level that a
    slope, the scatter and the spread of flows imply.
    """
    p = prior or CalibrationPrior()
    columns = [np.asarray(c, dtype=np.float64) for c in (level_db, flow, pressure_abs, distance_m)]
    if any(c.ndim != 1 or len(c) != len(columns[0]) or len(c) == 0 for c in columns):
        raise InputError(
            "level_db", list(level_db), "one level, flow, pressure and distance for each of 1 or more leaks"
        )
    for name, column in zip(("level_db", "flow", "pressure_abs", "distance_m"), columns, strict=True):
        if not np.all(np.isfinite(column)) or (name != "level_db" and np.any(column <= 0)):
            raise InputError(name, column.tolist(), "numbers" if name == "level_db" else "numbers above 0")
    level, known, pressure, distance = columns
    x = _features(level, pressure, distance, absorption_db_m)
    y = np.log10(known)
    centre = x.mean(axis=0)
    design = np.column_stack([np.ones(len(y)), x - centre])
    mean, precision, scatter = _prior_numbers(p, float(y.mean()))
    posterior_precision = precision + design.T @ design
    covariance = np.linalg.inv(posterior_precision)
    coefficients = covariance @ (precision @ mean + design.T @ y)
    freedom = p.weight + len(y)
    squares = p.weight * scatter**2 + y @ y + mean @ precision @ mean
    squares -= coefficients @ posterior_precision @ coefficients
    return Calibration(
        tuple(coefficients.tolist()),
        tuple(tuple(row) for row in covariance.tolist()),
        math.sqrt(max(float(squares), 0.0) / freedom),
        freedom,
        tuple(centre.tolist()),
        tuple(x.min(axis=0).tolist()),
        tuple(x.max(axis=0).tolist()),
        absorption_db_m,
        len(y),
        _few(len(y)),
    )


def calibrated_flow(
    calibration: Calibration, level_db: Floats, pressure_abs: Floats, distance_m: Floats, coverage: float = COVERAGE
) -> CalibratedFlow:
    """Flow from a level by the site's calibration, with its predictive interval.

    Parameters
    ----------
    calibration : from `fit_calibration`
    level_db : float or array (m), displayed level, gain taken off [dB]
    pressure_abs : float or array (m), above 0 [Pa absolute]
    distance_m : float or array (m), above 0 [m]
    coverage : float, of the interval, between 0 and 1 [1]

    Returns
    -------
    CalibratedFlow; outside the calibrated range wider, with a note that says in what

    Raises
    ------
    InputError : pressure or distance of 0 or less, coverage out of range
    """
    from scipy.special import stdtrit

    if not 0 < coverage < 1:
        raise InputError("coverage", coverage, "between 0 and 1")
    pressure, distance = np.asarray(pressure_abs, dtype=np.float64), np.asarray(distance_m, dtype=np.float64)
    if np.any(pressure <= 0):
        raise InputError("pressure_abs", pressure_abs, "above 0 Pa absolute")
    if np.any(distance <= 0):
        raise InputError("distance_m", distance_m, "above 0 m")
    c = calibration
    x = _features(np.asarray(level_db, dtype=np.float64), pressure, distance, c.absorption_db_m)
    step = x - np.asarray(c.centre)
    design = np.concatenate([np.ones((*step.shape[:-1], 1)), step], axis=-1)
    log_flow = design @ np.asarray(c.coefficients)
    leverage = np.einsum("...i,ij,...j->...", design, np.asarray(c.covariance), design)
    beyond = np.maximum(np.maximum(np.asarray(c.low) - x, x - np.asarray(c.high)), 0.0)
    beyond = beyond / np.array([_HALF_RANGE_DB, _HALF_RANGE_DECADES, _HALF_RANGE_DECADES])
    outside = np.sqrt((beyond**2).sum(axis=-1))
    own, shared = c.scatter_decades * (1 + outside), c.scatter_decades * np.sqrt(leverage) * (1 + outside)
    t = float(stdtrit(c.freedom, 0.5 + coverage / 2))
    half = t * np.hypot(own, shared)
    as_ln = math.log(10) * float(stdtrit(c.freedom, 0.975)) / Z_95  # a log-normal with the same 95 % interval
    return CalibratedFlow(
        10**log_flow,
        10 ** (log_flow - half),
        10 ** (log_flow + half),
        own * as_ln,
        shared * as_ln,
        outside,
        coverage,
        (*c.notes, *_outside_notes(beyond)),
    )


def _features(
    level: NDArray[np.float64], pressure: NDArray[np.float64], distance: NDArray[np.float64], absorption_db_m: float
) -> NDArray[np.float64]:
    """Level brought to 1 m by spreading and absorption, log10 pressure, log10 distance: last axis."""
    at_metre = level + 20 * np.log10(distance) + absorption_db_m * (distance - 1)
    return np.stack(np.broadcast_arrays(at_metre, np.log10(pressure), np.log10(distance)), axis=-1)


def _prior_numbers(p: CalibrationPrior, flow_level: float) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Mean and precision of the coefficients (in units of the scatter's variance) and the scatter [decades]."""
    slope = np.linspace(p.slope_low_db, p.slope_high_db, 201)
    variance = p.flow_decades**2
    total = slope**2 * variance + p.scatter_db**2
    on_level = slope * variance / total
    scatter = math.exp(float(np.mean(np.log(np.sqrt(variance) * p.scatter_db / np.sqrt(total)))))
    spread = np.array([2.0, float(on_level.std()), p.pressure_decades, p.distance_decades]) / scatter
    return np.array([flow_level, float(on_level.mean()), 0.0, 0.0]), np.diag(spread**-2), scatter


def _few(leaks: int) -> tuple[Sentence, ...]:
    if leaks >= 10:
        return ()
    return (
        say(
            "few-calibration-leaks",
            "The site's calibration rests on {leaks}: much of it is still physics. Thirty would decide.",
            leaks="1 leak" if leaks == 1 else f"{leaks} leaks",
        ),
    )


def _outside_notes(beyond: NDArray[np.float64]) -> tuple[Sentence, ...]:
    names = [name for name, column in zip(_NAMES, np.moveaxis(beyond, -1, 0), strict=True) if np.any(column > 0)]
    if not names:
        return ()
    return (
        say(
            "outside-calibration",
            "Outside the range of the site's calibration in {what}: the interval is widened. Calibration leaks there "
            "would settle it.",
            what=", ".join(names),
        ),
    )
