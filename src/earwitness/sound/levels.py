"""Level over time, and what its course looks like: steady, swept past a source, pulsing with a process, erratic."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError

Samples = NDArray[np.float32]
Word = Literal["steady", "swept", "pulsing", "erratic", "too-short"]
STEADY_DB = 3.0  # spread of the smoothed level within which it counts as steady
PERIODIC = 0.5  # correlation with itself one period later
_SMOOTH_S = 0.2
_FLOOR_DB = -150.0


@dataclass(frozen=True)
class LevelTrack:
    """times_s : (steps,) middle of each step; level_db : (steps,) dB re full scale (mean square 1)"""

    times_s: NDArray[np.float64]
    level_db: NDArray[np.float64]
    step_s: float


@dataclass(frozen=True)
class Course:
    """How the level runs.

    word : "steady", "swept" (one or two smooth humps), "pulsing" (comes again in a rhythm), "erratic", or "too-short"
    spread_db : 95 % minus 5 % of the smoothed level
    peak_s : where it is loudest
    rise_db : how far the loudest stands over the quiet tenth
    period_s, regularity : of the rhythm where there is one (correlation at one period)
    """

    word: Word
    spread_db: float
    peak_s: float
    rise_db: float
    period_s: float | None = None
    regularity: float = 0.0


def level_track(samples: Samples, rate_hz: float, *, step_s: float = 0.05) -> LevelTrack:
    """Level of one channel in steps.

    Parameters
    ----------
    samples : (n,) float32, full scale 1 [-]
    rate_hz : samples a second [Hz]
    step_s : length of a step [s]
    """
    step = max(1, round(step_s * rate_hz))
    if not step_s > 0:
        raise InputError("step_s", step_s, "more than 0")
    count = len(samples) // step
    rows = np.asarray(samples[: count * step], np.float32).reshape(count, step)
    power = np.einsum("ij,ij->i", rows, rows).astype(np.float64) / step
    level = 10 * np.log10(np.maximum(power, 10 ** (_FLOOR_DB / 10)))
    return LevelTrack(np.arange(0.5, count) * (step / rate_hz), level, step / rate_hz)


def level_course(track: LevelTrack) -> Course:
    """What the level does over the recording."""
    level, step = track.level_db, track.step_s
    if len(level) * step < 4 * _SMOOTH_S or len(level) < 8:
        peak_s = float(track.times_s[int(np.argmax(level))]) if len(level) else 0.0
        return Course("too-short", 0.0, peak_s, 0.0)
    width = max(1, round(_SMOOTH_S / step))
    smooth = np.convolve(
        np.pad(level, (width // 2, width - 1 - width // 2), "edge"), np.full(width, 1 / width), "valid"
    )
    low, quiet, high = np.quantile(smooth, [0.05, 0.1, 0.95])
    peak = int(np.argmax(smooth))
    spread, rise = float(high - low), float(smooth[peak] - quiet)
    period_s, regularity = _rhythm(level, step)
    word: Word = "erratic"
    if period_s is not None and float(np.std(level)) > STEADY_DB / 3:
        word = "pulsing"
    elif spread < STEADY_DB:
        word = "steady"
    elif _humps(smooth, spread) <= 2 and _smoothness(level, width) > 0.7:
        word = "swept"
    if word != "pulsing":
        period_s = None
    return Course(word, spread, float(track.times_s[peak]), rise, period_s, regularity)


def _rhythm(level: NDArray[np.float64], step: float) -> tuple[float | None, float]:
    """The shortest period at which the level resembles itself, seen three times and more, and how well it does."""
    x = level - np.poly1d(np.polyfit(np.arange(len(level)), level, 1))(np.arange(len(level)))
    energy = float(np.dot(x, x))
    most = len(x) // 3
    if energy <= 0 or most < 4:
        return None, 0.0
    spectrum = np.fft.rfft(x, 2 * len(x))
    same = np.fft.irfft(np.abs(spectrum) ** 2)[: most + 1] / energy
    same /= 1 - np.arange(most + 1) / len(x)  # fewer pairs at long lags
    crossing = np.flatnonzero(same < 0)
    if not len(crossing):
        return None, 0.0
    start = int(crossing[0])
    rest = same[start:]
    peaks = np.flatnonzero((rest[1:-1] >= rest[:-2]) & (rest[1:-1] > rest[2:])) + 1
    if not len(peaks):
        return None, 0.0
    best = float(rest[peaks].max())
    lag = start + int(peaks[rest[peaks] >= 0.85 * best][0])
    return (lag * step if best >= PERIODIC else None), best


def _humps(smooth: NDArray[np.float64], spread: float) -> int:
    """Times the level goes up through the middle of its range, with hysteresis of a quarter of it."""
    middle = (smooth.max() + np.quantile(smooth, 0.1)) / 2
    up, humps = False, 0
    for value in smooth:
        if not up and value > middle + spread / 8:
            up, humps = True, humps + 1
        elif up and value < middle - spread / 8:
            up = False
    return humps


def _smoothness(level: NDArray[np.float64], width: int) -> float:
    """Share of the level's variance that its smoothed course carries."""
    smooth = np.convolve(level, np.full(width, 1 / width), "same")
    variance = float(np.var(level))
    return float(np.var(smooth)) / variance if variance > 0 else 0.0
