"""What tells an emitter's tone at a place from all else that rises along a sweep, measured on its course.

A passage is a hump in a sweep that else is quiet: what comes through the wall dips here and there, a machine swells for
most of the way. A beeper's lines keep step with one another, music brings company, and what stands beside a louder line
may be no more than its skirt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from earwitness.sound.pulsing import quantile, running_mean, running_quantile
from earwitness.sound.tone_beat import beating
from earwitness.sound.tone_cells import LONG_HOP_S, SHORT_HOP_S, ToneCells
from earwitness.sound.tone_company import Company, one_sound, steps
from earwitness.sound.tone_course import Course, around, noise_of
from earwitness.sound.tone_fall import SKIRT, Against, against_noise

Array = NDArray[np.float64]

_LINES_BINS = 25  # 200 Hz, over whose median a line stands
_RISEN, _AWAY_HZ, _AROUND = 3.0, 1800.0, 16  # what else rises, farther than a warble; frames to either side of the top
_FRONT, _FRONT_NEAR = 4, 64  # frames
_SOUNDS_DB = 6.0  # under its top
_BETWEEN_PUFFS_S = 2.0
_FILLS_HZ, _LINE_CELLS, _STEEP_CELLS = 1000.0, 3, 24  # a line fills so many cells, one that runs through kilohertz
_CLEAR_DB, _FILLED_MORE = 6.0, 0.25  # from here on it can be told that others fill their kilohertz as it does not
_BESIDE = 64  # bins: 500 Hz
_KEEPS_TO_HZ = 40.0  # a line seen in short frames
_TINY = 1e-20


@dataclass(frozen=True)
class Tone:
    """A tone that may come and go, and what speaks of an emitter or of something else.

    course : its course along the sweep
    tone_hz, width_hz : middle and width of the band it moves in
    to_noise_db : the tone over the noise of a 200 Hz band, where it is strongest
    stays_db : the same where it is weakest for a second, less that: 0 where a wall passes it everywhere
    spread : share of the sweep in which it is within 6 dB of its loudest
    beat_depth : variance of its power over the square of the mean, noise taken off (half on, half off: 1)
    wander_hz : spread of its frequency from frame to frame
    fades_db : how far the noise about it falls below its usual level in a twentieth of the time
    front_db : the most that it rises within an eighth of a second near its top, gaps not closed
    skirt_db : how much louder another line within 500 Hz is at its top
    in_step, steps_s : correlation of its beat with that of another tone, too far from it to be the same emitter's, and
        that tone's beat (0 where none is found)
    company_hz : width of all other lines, more than 1.8 kHz away, that are three times as loud around its top as they
        usually are, over that at other times
    elsewhen_db : rise of the strongest other line that surely comes and goes at other times (-inf where there is none)
    filled : share of all that is added within 1 kHz around its top which lies outside the loudest line of each 32 ms
    """

    course: Course
    tone_hz: float
    width_hz: float
    to_noise_db: float
    stays_db: float
    spread: float
    beat_depth: float
    wander_hz: float
    fades_db: float
    front_db: float
    skirt_db: float
    in_step: float
    steps_s: float
    company_hz: float
    elsewhen_db: float
    filled: float

    @property
    def beat_hz(self) -> float:
        """Its beat; 0 where none is found."""
        return 1 / self.course.beat_s if self.course.beat_s else 0.0


def signs_of(cells: ToneCells, courses: Sequence[Course], most: int, rises_db: float) -> tuple[Tone, ...]:
    """Those of the candidates that rise, each held against all others; one at least.

    Parameters
    ----------
    cells : the recording's cells.
    courses : of all candidates, those that rise the most first.
    most : how many to return.
    rises_db : from which assured rise on [dB].
    """
    in_step = steps(courses)
    chosen: list[int] = []
    for n, course in enumerate(courses):
        if len(chosen) == most:
            break
        if course.rise_db > rises_db and not any(one_sound(courses[k], course, in_step[n, k]) for k in chosen):
            chosen.append(n)
    seconds = _by_seconds(cells.over, LONG_HOP_S)
    usual = np.maximum(quantile(seconds, 0.5), 1.0)
    short_usual = quantile(_by_seconds(cells.short_over, SHORT_HOP_S), 0.5)
    against = cache(lambda n: against_noise(cells, courses[n]))
    filled = cache(lambda n: _filled(cells, courses[n], short_usual))
    company = Company(
        courses,
        in_step,
        crowd=lambda k, n: against(n)[0] > _CLEAR_DB and filled(k) > filled(n) + _FILLED_MORE,
    )
    return tuple(_signs(cells, company, n, against(n), filled(n), seconds, usual) for n in chosen or [0])


def _signs(
    cells: ToneCells, company: Company, n: int, against: Against, filled: float, seconds: Array, usual: Array
) -> Tone:
    course = company.courses[n]
    box, within = course.box, course.within
    half_s = 0.5 * LONG_HOP_S * (within.stop - within.start)
    depth, wander = beating(cells, around(cells, box), course.top, max(0.4, half_s), short=course.short)
    return Tone(
        course,
        *_where(cells, course, wander),
        *against,
        depth,
        wander,
        _fades_db(noise_of(cells, box)),
        _front_db(course),
        _skirt_db(cells, course),
        *company.partner(n),
        _company_hz(cells, course, seconds, usual) if course.deviate > 0 else 0.0,
        company.elsewhen_db(n),
        filled,
    )


def _skirt_db(cells: ToneCells, course: Course) -> float:
    low = max(0, course.box.bins.start - _BESIDE)
    reach = _AROUND // 2
    there = cells.over[max(0, course.top - reach) : course.top + reach + 1, low : course.box.bins.stop + _BESIDE]
    there = there.mean(axis=0)
    own = slice(max(0, course.box.bins.start - low - SKIRT), course.box.bins.stop - low + SKIRT)
    loudest = float(there[own].max())
    there[own] = 0.0
    return float(10 * np.log10(float(there.max()) / loudest + _TINY))


def _filled(cells: ToneCells, course: Course, usual: Array) -> float:
    """How much of what is added within 1 kHz around the top lies outside the loudest line of each short frame: a tone,
    however it moves, is one line in 32 ms; a burst of noise fills the band, voices and music bring lines by the dozen.
    """
    ratio = LONG_HOP_S / SHORT_HOP_S
    reach = min(_AROUND, max(1, course.within.stop - course.within.start))
    there = slice(max(0, round(ratio * (course.top - reach))), round(ratio * (course.top + reach)) + 1)
    low, high = (float(cells.hz[k]) for k in (course.box.bins.start, course.box.bins.stop - 1))
    near = slice(*np.searchsorted(cells.short_hz, (low - _FILLS_HZ, high + _FILLS_HZ)))
    added = cells.short_over[there, near] - usual[near]
    line = min(_STEEP_CELLS if course.box.steep else _LINE_CELLS, added.shape[1])
    loudest = line * uniform_filter1d(added, line, axis=1, mode="constant").max(axis=1)
    return float(np.clip(1 - loudest.sum() / max(float(added.sum()), _TINY), 0, 1))


def _by_seconds(over: NDArray[np.float32], hop_s: float) -> Array:
    """(seconds, bins) the means of each second."""
    size = round(2 * _AROUND * LONG_HOP_S / hop_s)
    count = len(over) // size
    return np.asarray(over[: size * count].reshape(count, size, -1).mean(axis=1), dtype=np.float64)


def _company_hz(cells: ToneCells, course: Course, seconds: Array, usual: Array) -> float:
    """Width of all other lines that are three times as loud around the tone's top as usual within a second, over that
    in other seconds: music that plays on keeps it no company, nor does a whine that drifts. A burst of noise has none.
    """
    low, high = cells.hz[course.box.bins.start], cells.hz[course.box.bins.stop - 1]
    away = (cells.hz < low - _AWAY_HZ) | (cells.hz > high + _AWAY_HZ)

    def width_hz(there: Array) -> float:
        return float((cells.hz[1] - cells.hz[0]) * np.count_nonzero(away[_risen(there, usual)]))

    around_top = slice(max(0, course.top - _AROUND), course.top + _AROUND + 1)
    risen_hz = width_hz(cells.over[around_top].mean(axis=0, dtype=np.float64))
    middles = 2 * _AROUND * (np.arange(len(seconds)) + 0.5)
    others = seconds[np.abs(middles - course.top) > 2 * _AROUND]
    if not risen_hz or not len(others):
        return risen_hz
    return max(risen_hz - float(np.median([width_hz(second) for second in others])), 0.0)


def _risen(there: Array, usual: Array) -> NDArray[np.intp]:
    """The lines that are so much louder than they usually are, and than what is beside them."""
    risen = np.flatnonzero(there > _RISEN * usual)
    near = np.arange(_LINES_BINS) - _LINES_BINS // 2
    beside = np.sort(there[np.clip(risen[:, None] + near, 0, len(there) - 1)], axis=1)
    return risen[there[risen] > _RISEN * beside[:, _LINES_BINS // 2]]


def _fades_db(noise: Array) -> float:
    """How far the noise falls below its usual level in a twentieth of the time; between puffs it is the noise too."""
    floor = running_quantile(noise, round(_BETWEEN_PUFFS_S / LONG_HOP_S), 0.0)
    return float(10 * np.log10(quantile(floor, 0.5) / quantile(floor, 0.05)))


def _front_db(course: Course) -> float:
    """The steepest rise near the top, or fall of what sounded before the recording began: a probe that passes a gap
    hears none (at 0.4 m/s and 10 cm: 2 dB)."""
    near = slice(max(0, course.top - _FRONT_NEAR), course.top + _FRONT_NEAR + 1)
    noise = float(np.expm1(course.noise_log))
    level = 10 * np.log10(np.maximum(np.expm1(running_mean(course.log, 3)[near]), 0.5 * noise))
    if len(level) <= _FRONT:
        return 0.0
    rise, sounded = level[_FRONT:] - level[:-_FRONT], level[:_FRONT].max() > level.max() - _SOUNDS_DB
    return float(max(rise.max(), -rise.min() if course.top < _FRONT_NEAR and sounded else 0.0))


def _where(cells: ToneCells, course: Course, wander_hz: float) -> tuple[float, float]:
    """Middle and width of what it moves in: its box, or the strongest line of a broad one where it keeps to that."""
    bins = course.box.bins
    if not course.box.swept or course.box.steep or wander_hz > _KEEPS_TO_HZ:
        return course.hz, float(cells.hz[bins.stop - 1] - cells.hz[bins.start])
    there = cells.over[max(0, course.top - _AROUND) : course.top + _AROUND + 1, bins].mean(axis=0)
    return float(cells.hz[bins.start + int(np.argmax(there))]), float(cells.hz[1] - cells.hz[0])
