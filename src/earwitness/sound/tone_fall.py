"""How far a tone falls along a sweep with all that sounds beside it, and whether it only drifted."""

from __future__ import annotations

from dataclasses import replace
from functools import reduce

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from earwitness.sound.pulsing import quantile, running_mean
from earwitness.sound.tone_cells import LONG_HOP_S, ToneCells
from earwitness.sound.tone_course import RESTS, Course, noise_of, whole_beats

Array = NDArray[np.float64]
Against = tuple[float, float, float]
UNTOLD: Against = (0.0, 0.0, 1.0)  # of what runs through all frequencies, among all that sounds there

SKIRT = 2  # bins that a line itself fills to either side
_NOISE_BAND_HZ = 200.0
_AS_LOUD_DB = -0.5
_BEAT_S = 0.1
_LOBE, _SECOND = 17, 31  # frames, about half a second
_CERTAIN, _RISES_DB, _TELLS_FALL_DB = 7.0, 3.0, 3.0  # deviates; what is worth asking; from here on a fall could be seen
_HARDLY = 0.5  # of what it could fall
_TINY = 1e-20


def against_noise(cells: ToneCells, course: Course) -> Against:
    """The tone over the noise of a 200 Hz band where it is strongest; how far all that sounds within 200 Hz of it falls
    where it is weakest (an emitter that beats and warbles leaves each of its lines at times, but never all), or a line
    alone whose beat is known; over what share of the sweep it is within 6 dB of its loudest.

    Of what sounds beside it only the part that changes counts. A fall with all that sounds, under an automatic gain, is
    none, nor is one into the noise of a puff or where a knock was held down: of three reckonings (over the noise of the
    moment, over the usual noise, and with knocks in it) that counts which falls the least.

    Parameters
    ----------
    cells : the recording's cells.
    course : of a candidate.

    Returns
    -------
    tone to noise [dB], fall, at most 0 or little more [dB], share of the sweep [1].
    """
    if course.box.steep:
        return UNTOLD
    bins = course.box.bins
    step = float(cells.hz[1] - cells.hz[0]) / _NOISE_BAND_HZ
    alone = course.box.line and course.beat_s > _BEAT_S  # a line whose silences are known
    reach = 2 * SKIRT if alone else round(1 / step)
    near = slice(max(0, bins.start - reach), bins.stop + reach)
    own = slice(max(0, bins.start - near.start - SKIRT), bins.stop - near.start + SKIRT)
    short, long = (round(whole_beats(frames, course.beat_s, len(cells.power) / 2)) for frames in (_LOBE, _SECOND))
    beat = course.beat_s / LONG_HOP_S
    power = cells.power[:, near]
    usual = np.float32(-np.log(1 - 0.4) / max(float(quantile(power[::8].ravel(), 0.4)), _TINY))
    over = _changing(cells.over[:, near], own, long)
    least = 1e-2 * power.shape[1]
    found = []
    for tone in (over, over * noise_of(cells, course.box), _changing(power * usual, own, long)):
        smooth = running_mean(tone, short)
        strongest = float(smooth[course.within].max() if beat > _LOBE else smooth[course.top])
        weakest = float(quantile(running_mean(tone, long), RESTS))
        strong_db, weak_db = (10 * float(np.log10(max(power, least) * step)) for power in (strongest, weakest))
        found.append((strong_db, weak_db - strong_db, float((smooth > 0.25 * smooth.max()).mean())))
    fall, spread = max(fall for _, fall, _ in found), max(spread for _, _, spread in found)
    return found[0][0], fall, 1.0 if fall > _AS_LOUD_DB else spread  # as loud elsewhere: at its top is something else


def without_drift(cells: ToneCells, course: Course) -> Course:
    """A course; if it rises while all that sounds within 200 Hz of it hardly falls, the tone has drifted there from
    beside, and rises by that fall.

    Parameters
    ----------
    cells : the recording's cells.
    course : of a candidate.
    """
    if course.deviate < _CERTAIN or course.rise_db < _RISES_DB:
        return course
    # within 200 Hz also of a line whose beat is known
    near = replace(course, beat_s=0.0) if course.box.line else course
    to_noise_db, stays_db, _ = against_noise(cells, near)
    if to_noise_db < _TELLS_FALL_DB or -stays_db > _HARDLY * to_noise_db:
        return course
    rise_db, at_most_db = (min(rise, -stays_db) for rise in (course.rise_db, course.at_most_db))
    return replace(course, rise_db=rise_db, at_most_db=at_most_db)


def _changing(over: NDArray[np.float32], own: slice, frames: int) -> Array:
    """(frames,) what is over the noise in all cells, less what is always there outside a tone's own."""
    rows = _running_rows(over, frames)
    rank = round(RESTS * (len(rows) - 1))
    steady = np.partition(rows, rank, axis=0)[rank]
    steady[own] = 1.0
    return np.asarray(over.sum(axis=1) - steady.sum(), dtype=np.float64)


def _running_rows(values: NDArray[np.float32], frames: int) -> NDArray[np.float32]:
    """Every fourth of the running means along the first axis, over so many frames to the next four."""
    count = len(values) // 4
    quarters = reduce(np.add, (values[i : 4 * count : 4] for i in range(4))) / np.float32(4)
    size = min(max(1, round(frames / 4)), count)
    return np.asarray(uniform_filter1d(quarters, size, axis=0)[size // 2 : size // 2 + count - size + 1])
