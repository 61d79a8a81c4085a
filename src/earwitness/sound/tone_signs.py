"""What tells an emitter's tone at a place from all else that rises along a sweep, measured on its course.

A passage is a hump in a sweep that else is quiet: what comes through the wall dips here and there, a machine swells for
most of the way. A beeper's lines keep step with one another, music brings company, and what stands beside a louder line
may be no more than its skirt.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.pulsing import running_mean, running_quantile
from earwitness.sound.tone_beat import beating
from earwitness.sound.tone_course import RESTS, Course, around, noise_of, whole_beats
from earwitness.sound.tone_search import LONG_HOP_S, LONG_S, NARROW, SHORT_HOP_S, ToneCells

Array = NDArray[np.float64]
Against = tuple[float, float, float]

_NOISE_BAND_HZ = 200.0
_AS_LOUD_DB = -0.5
_BEAT_S = 0.1
_LOBE, _SECOND = 17, 31  # frames, about half a second
_COMPANY_HZ, _SAME_HZ = 1800.0, 200.0  # a warble spans less; an emitter drifts by less
_DRIFTS_HZ, _TAKES_TURNS = 60.0, -0.5
_SURE_DB, _COMPARABLE = 3.0, 0.35  # what rises by less in decibels may be the tone's own splatter
_SLOW = 47  # frames: the way past a place
_IN_STEP_HZ = 1300.0  # farther than the tones of one emitter
_ONE_SOUND = 0.8  # correlation of two lines' beats
_LINES_BINS = 25  # 200 Hz, over whose median a line stands
_RISEN, _AWAY_HZ, _AROUND = 3.0, 1800.0, 16  # what else rises, farther than a warble; frames to either side of the top
_FRONT, _FRONT_NEAR = 4, 64  # frames
_BETWEEN_PUFFS_S = 2.0
_FILLS_HZ, _LINE_CELLS = 1000.0, 3  # a line fills so many cells
_BESIDE, _SKIRT = 64, 2  # bins: 500 Hz, and what a line itself fills
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
    in_step : correlation of its beat with that of another tone, too far from it to be the same emitter's
    company_hz : width of all other lines, more than 1.8 kHz away, that are three times as loud around its top as they
        usually are
    company_db : rise of the strongest other tone that surely comes and goes, more than 1.8 kHz away or at other times
        (-inf where there is none)
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
    company_hz: float
    company_db: float
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
    beats = np.stack([course.quick for course in courses])
    in_step = beats @ beats.T
    chosen: list[int] = []
    for n, course in enumerate(courses):
        if len(chosen) == most:
            break
        # the lines of a beeper are one sound
        alike = any(_far(courses[k], course) and in_step[n, k] > _ONE_SOUND for k in chosen)
        if course.rise_db > rises_db and not alike:
            chosen.append(n)
    usual, short = _usual(cells.over, LONG_HOP_S), np.exp(cells.flat)
    short_usual = _usual(short, SHORT_HOP_S)
    against = cache(lambda n: _against_noise(cells, courses[n]))
    return tuple(_signs(cells, courses, n, in_step[n], against, usual, short, short_usual) for n in chosen or [0])


def _signs(
    cells: ToneCells,
    courses: Sequence[Course],
    n: int,
    in_step: Array,
    against: Callable[[int], Against],
    usual: Array,
    short: NDArray[np.float32],
    short_usual: Array,
) -> Tone:
    course = courses[n]
    box, within = course.box, course.within
    half_s = 0.5 * LONG_HOP_S * (within.stop - within.start)
    depth, wander = beating(cells, around(cells, box), course.top, max(0.4, half_s))
    far = [k for k, other in enumerate(courses) if _far(other, course)]
    return Tone(
        course,
        *_where(cells, course, wander),
        *against(n),
        depth,
        wander,
        _fades_db(noise_of(cells, box)),
        _front_db(course),
        _skirt_db(cells, course),
        float(in_step[far].max()) if far else 0.0,
        _company_hz(cells, course, usual) if course.deviate > 0 else 0.0,
        _company_db(courses, n, against),
        _elsewhen_db(courses, n, in_step),
        _filled(cells, course, short, short_usual),
    )


def _far(other: Course, tone: Course) -> bool:
    return abs(other.hz - tone.hz) > _IN_STEP_HZ


def _against_noise(cells: ToneCells, course: Course) -> Against:
    """The tone over the noise of a 200 Hz band where it is strongest; how far all that sounds within 200 Hz of it falls
    where it is weakest (an emitter that beats and warbles leaves each of its lines at times, but never all), or a line
    alone whose beat is known; over what share of the sweep it is within 6 dB of its loudest.

    Of what sounds beside it only the part that changes counts. A fall with all that sounds, under an automatic gain, is
    none, nor is one into the noise of a puff or where a knock was held down: of three reckonings (over the noise of the
    moment, over the usual noise, and with knocks in it) that counts which falls the least.
    """
    bins = course.box.bins
    step = float(cells.hz[1] - cells.hz[0]) / _NOISE_BAND_HZ
    alone = bins.stop - bins.start <= NARROW and course.beat_s > _BEAT_S  # a line whose silences are known
    reach = 2 * _SKIRT if alone and not course.box.swept else round(1 / step)
    near = slice(max(0, bins.start - reach), bins.stop + reach)
    own = slice(max(0, bins.start - near.start - _SKIRT), bins.stop - near.start + _SKIRT)
    short, long = (round(whole_beats(frames, course.beat_s, len(cells.power) / 2)) for frames in (_LOBE, _SECOND))
    beat = course.beat_s / LONG_HOP_S
    power = cells.power[:, near]
    usual = np.float32(-np.log(1 - 0.4) / max(float(np.quantile(power[::4], 0.4)), _TINY))
    over = _changing(cells.over[:, near], own, long)
    least = 1e-2 * power.shape[1]
    found = []
    for tone in (over, over * noise_of(cells, course.box), _changing(power * usual, own, long)):
        smooth = running_mean(tone, short)
        strongest = float(smooth[course.within].max() if beat > _LOBE else smooth[course.top])
        weakest = float(np.quantile(running_mean(tone, long), RESTS))
        strong_db, weak_db = (10 * float(np.log10(max(power, least) * step)) for power in (strongest, weakest))
        found.append((strong_db, weak_db - strong_db, float((smooth > 0.25 * smooth.max()).mean())))
    fall, spread = max(fall for _, fall, _ in found), max(spread for _, _, spread in found)
    return found[0][0], fall, 1.0 if fall > _AS_LOUD_DB else spread  # as loud elsewhere: at its top is something else


def _changing(over: NDArray[np.float32], own: slice, frames: int) -> Array:
    """(frames,) what is over the noise in all cells, less what is always there outside a tone's own."""
    rows = np.sort(_running_rows(over, frames), axis=0)
    steady = rows[round(RESTS * (len(rows) - 1))]
    steady[own] = 1.0
    return np.asarray(over.sum(axis=1, dtype=np.float64) - steady.sum())


def _running_rows(values: NDArray[np.float32], frames: int) -> Array:
    """Every fourth of the running means along the first axis, over so many frames to the next four."""
    count = len(values) // 4
    quarters = values[: 4 * count].reshape(count, 4, -1).mean(axis=1)
    size = min(max(1, round(frames / 4)), count)
    total = np.zeros((count + 1, values.shape[1]))
    np.cumsum(quarters, axis=0, out=total[1:])
    return (total[size:] - total[:-size]) / size


def _skirt_db(cells: ToneCells, course: Course) -> float:
    low = max(0, course.box.bins.start - _BESIDE)
    reach = _AROUND // 2
    there = cells.over[max(0, course.top - reach) : course.top + reach + 1, low : course.box.bins.stop + _BESIDE]
    there = there.mean(axis=0)
    own = slice(max(0, course.box.bins.start - low - _SKIRT), course.box.bins.stop - low + _SKIRT)
    loudest = float(there[own].max())
    there[own] = 0.0
    return float(10 * np.log10(float(there.max()) / loudest + _TINY))


def _company_db(courses: Sequence[Course], n: int, against: Callable[[int], Against]) -> float:
    """Rise of the strongest other tone that surely comes and goes; what drifts out of its box has not faded."""
    tone = courses[n]
    most = float("-inf")
    for k, other in enumerate(courses):
        if k != n and other.at_most_db > most and _foreign(other, tone):
            rise = min(other.at_most_db, -against(k)[1])
            most = max(most, rise if rise > _least_company_db(tone) else most)
    return most


def _least_company_db(tone: Course) -> float:
    return max(_SURE_DB, _COMPARABLE * tone.rise_db)


def _foreign(other: Course, tone: Course) -> bool:
    """Another tone that surely comes and goes, and is not the same emitter's: far from it, or at other times. A wide
    box is filled by clatter and hiss too, and tells of no other tone."""
    apart = abs(other.hz - tone.hz)
    wide = other.box.bins.stop - other.box.bins.start > NARROW and not other.box.swept
    if wide or other.at_most_db < _least_company_db(tone) or _gap_hz(other, tone) < _SAME_HZ:
        return False
    if other.box.swept and tone.box.swept and apart < _COMPANY_HZ:  # a sweep goes from band to band
        return False
    return apart > _COMPANY_HZ or not _together(other, tone)


def _together(other: Course, tone: Course) -> bool:
    """Whether two rise and fall at the same times; the tones of a warble take turns within a beat."""
    whole = round(whole_beats(_SLOW, tone.beat_s))
    return bool(np.corrcoef(running_mean(other.log, whole), running_mean(tone.log, whole))[0, 1] >= 0.5)


def _elsewhen_db(courses: Sequence[Course], n: int, in_step: Array) -> float:
    """Rise of the strongest other line that comes and goes at other times. What drifts is near, and what takes turns
    with it within a beat is the other tone of its warble."""
    tone = courses[n]
    most = float("-inf")
    for k, other in enumerate(courses):
        wide = other.box.bins.stop - other.box.bins.start > NARROW and not other.box.swept
        if k == n or wide or in_step[k] < _TAKES_TURNS or _gap_hz(other, tone) < _DRIFTS_HZ:
            continue
        if other.rise_db > max(most, _SURE_DB) and not _together(other, tone):
            most = other.rise_db
    return most


def _gap_hz(one: Course, other: Course) -> float:
    """Between the bands of two."""
    low, high = sorted((one.box.bins, other.box.bins), key=lambda bins: bins.start)
    return float((high.start - low.stop) / LONG_S)


def _filled(cells: ToneCells, course: Course, short: NDArray[np.float32], usual: Array) -> float:
    """How much of what is added within 1 kHz around the top lies outside the loudest line of each short frame: a tone,
    however it moves, is one line in 32 ms; a burst of noise fills the band, voices and music bring lines by the dozen.
    """
    ratio = LONG_HOP_S / SHORT_HOP_S
    reach = min(_AROUND, max(1, course.within.stop - course.within.start))
    there = slice(max(0, round(ratio * (course.top - reach))), round(ratio * (course.top + reach)) + 1)
    low, high = (float(cells.hz[k]) for k in (course.box.bins.start, course.box.bins.stop - 1))
    near = slice(*np.searchsorted(cells.short_hz, (low - _FILLS_HZ, high + _FILLS_HZ)))
    added = short[there, near] - usual[near]
    total = np.pad(np.cumsum(added, axis=1, dtype=np.float64), ((0, 0), (1, 0)))
    line = min(_LINE_CELLS, added.shape[1])
    loudest = (total[:, line:] - total[:, :-line]).max(axis=1)
    return float(np.clip(1 - loudest.sum() / max(float(total[:, -1].sum()), _TINY), 0, 1))


def _usual(over: NDArray[np.float32], hop_s: float) -> Array:
    """(bins,) how loud it usually is within a second."""
    size = round(2 * _AROUND * LONG_HOP_S / hop_s)
    count = len(over) // size
    return np.median(over[: size * count].reshape(count, size, -1).mean(axis=1), axis=0)


def _company_hz(cells: ToneCells, course: Course, usual: Array) -> float:
    """Width of all other lines that are three times as loud around the tone's top as usual within a second; a burst of
    noise has none."""
    there = cells.over[max(0, course.top - _AROUND) : course.top + _AROUND + 1].mean(axis=0, dtype=np.float64)
    low, high = cells.hz[course.box.bins.start], cells.hz[course.box.bins.stop - 1]
    away = (cells.hz < low - _AWAY_HZ) | (cells.hz > high + _AWAY_HZ)
    beside = running_quantile(there, _LINES_BINS, 0.5)
    risen = (there > _RISEN * np.maximum(np.maximum(usual, 1.0), beside)) & away
    return float((cells.hz[1] - cells.hz[0]) * np.count_nonzero(risen))


def _fades_db(noise: Array) -> float:
    """How far the noise falls below its usual level in a twentieth of the time; between puffs it is the noise too."""
    floor = np.quantile(running_quantile(noise, round(_BETWEEN_PUFFS_S / LONG_HOP_S), 0.0), [0.05, 0.5])
    return float(10 * np.log10(floor[1] / floor[0]))


def _front_db(course: Course) -> float:
    """The steepest rise near the top: a probe that passes a gap hears none (at 0.4 m/s and 10 cm: 2 dB)."""
    near = slice(max(0, course.top - _FRONT_NEAR), course.top + _FRONT_NEAR + 1)
    noise = float(np.expm1(course.noise_log))
    level = 10 * np.log10(np.maximum(np.expm1(running_mean(course.log, 3)[near]), 0.5 * noise))
    return float((level[_FRONT:] - level[:-_FRONT]).max()) if len(level) > _FRONT else 0.0


def _where(cells: ToneCells, course: Course, wander_hz: float) -> tuple[float, float]:
    """Middle and width of what it moves in: its box, or the strongest line of a broad one where it keeps to that."""
    bins = course.box.bins
    if not course.box.swept or wander_hz > _KEEPS_TO_HZ:
        return course.hz, float(cells.hz[bins.stop - 1] - cells.hz[bins.start])
    there = cells.over[max(0, course.top - _AROUND) : course.top + _AROUND + 1, bins].mean(axis=0)
    return float(cells.hz[bins.start + int(np.argmax(there))]), float(cells.hz[1] - cells.hz[0])
