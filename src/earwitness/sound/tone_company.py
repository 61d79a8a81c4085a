"""Candidates for a tone held against one another: a beeper's lines keep step, a melody's come at other times.

What drifts has not gone, and a crowd of lines is another thing than a line alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.pulsing import running_mean
from earwitness.sound.tone_cells import LONG_S
from earwitness.sound.tone_course import Course, whole_beats

Array = NDArray[np.float64]

_DRIFTS_HZ, _TAKES_TURNS = 100.0, -0.5
_SURE_DB = 3.0  # what rises by less may be the tone's own splatter
_SLOW = 47  # frames: the way past a place
_IN_STEP_HZ = 1300.0  # farther than the tones of one emitter
_ONE_SOUND = 0.8  # correlation of two lines' beats


@dataclass(frozen=True)
class Company:
    """All candidates of a recording.

    courses : of each
    in_step : (candidates, candidates) correlation of their beats
    crowd : whether the one is a crowd of lines where the other surely is a line alone
    """

    courses: Sequence[Course]
    in_step: Array
    crowd: Callable[[int, int], bool]

    def partner(self, n: int) -> tuple[float, float]:
        """Correlation of its beat with that of another tone, too far from it to be the same emitter's, and that tone's
        beat [s]; 0 where there is none."""
        far = [k for k, other in enumerate(self.courses) if _far(other, self.courses[n])]
        if not far:
            return 0.0, 0.0
        best = max(far, key=lambda k: self.in_step[n, k])
        return float(self.in_step[n, best]), self.courses[best].beat_s

    def elsewhen_db(self, n: int) -> float:
        """Rise of the strongest other line that comes and goes at other times. What drifts is near; what takes turns
        with it within a beat is the other tone of its warble."""
        tone, most = self.courses[n], float("-inf")
        for k, other in enumerate(self.courses):
            if k == n or other.box.wide or self.in_step[n, k] < _TAKES_TURNS or _gap_hz(other, tone) < _DRIFTS_HZ:
                continue
            if other.at_most_db > max(most, _SURE_DB) and not _together(other, tone) and not self.crowd(k, n):
                most = other.at_most_db
        return most


def steps(courses: Sequence[Course]) -> Array:
    """(candidates, candidates) correlation of their beats.

    Parameters
    ----------
    courses : of each.
    """
    beats = np.stack([course.quick for course in courses])
    return np.asarray(beats @ beats.T)


def one_sound(one: Course, other: Course, in_step: float) -> bool:
    """Whether two are lines of one beeper.

    Parameters
    ----------
    one, other : two candidates.
    in_step : correlation of their beats [1].
    """
    return _far(one, other) and bool(in_step > _ONE_SOUND)


def _far(other: Course, tone: Course) -> bool:
    return abs(other.hz - tone.hz) > _IN_STEP_HZ and not (other.box.steep or tone.box.steep)


def _together(other: Course, tone: Course) -> bool:
    """Whether two rise and fall at the same times; the tones of a warble take turns within a beat."""
    whole = round(whole_beats(_SLOW, tone.beat_s))
    return bool(np.corrcoef(running_mean(other.log, whole), running_mean(tone.log, whole))[0, 1] >= 0.5)


def _gap_hz(one: Course, other: Course) -> float:
    """Between the bands of two."""
    low, high = sorted((one.box.bins, other.box.bins), key=lambda bins: bins.start)
    return float((high.start - low.stop) / LONG_S)
