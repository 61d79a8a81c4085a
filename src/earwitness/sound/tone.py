"""Tones of unknown frequency and beat in noise, followed along a sweep: how loud each is where, and how sure that is.

Of the boxes that `tone_search` and `tone_swept` propose each is followed along the whole recording (`tone_course`), and
what speaks of an emitter or of something else is measured on those that rise the most (`tone_signs`). Each is a
candidate of its own: a passage may lie beneath a louder beeper.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.pulsing import quantile, running_mean, running_quantile
from earwitness.sound.tone_beat import short_course
from earwitness.sound.tone_cells import LONG_HOP_S, LONG_S, SOFT, Samples, ToneCells, tone_cells
from earwitness.sound.tone_course import RESTS, Course, follow, noise_of
from earwitness.sound.tone_fall import without_drift
from earwitness.sound.tone_search import strongest_boxes
from earwitness.sound.tone_signs import Tone, signs_of
from earwitness.sound.tone_swept import steep_boxes, swept_boxes

Array = NDArray[np.float64]

_AT_LEAST, _STANDS_OUT = 3, 2.0  # candidates that are followed, however little they rise; others only from here on
_MOST, _RISES_DB = 2, -5.0  # candidates that are looked at: so many, if they rise at all
_SWEPT_DB = 1.0  # a line or a box is followed through puffs more surely than what stands out of its band
_SHORTEST_BEAT_S = 0.1
_UNSURE_GAP_S = 0.8  # closed where the beat is not known
_TELLS_SWITCHING_DB, _SWITCHED_DB, _SWITCH_FRAMES = 18.0, 12.0, 3  # 48 ms; a lobe of 0.4 s rises by 6 dB in it
_SMOOTH = 15  # frames over which the level of a clear tone is taken
_CLEAR = 0.48  # nats over the noise
_LITTLE = 5  # frames
_DROWNS, _DROWNED = 4.0, 1.0  # times the quiet noise; what is left of a tone, over the noise
_PICTURE = (400, 200)
_TINY = 1e-20


@dataclass(frozen=True)
class ToneTrack:
    """A tone along a recording, to draw and to find its places.

    time_s : (frames,)
    level_db : (frames,) tone and noise over the noise, gaps of the beat bridged
    picture_time_s, picture_hz, picture_db : the spectrogram at a size to draw, with its axes
    """

    time_s: Array
    level_db: Array
    picture_time_s: Array
    picture_hz: Array
    picture_db: NDArray[np.float32]


def find_tones(
    samples: Samples, rate_hz: float, *, low_hz: float, high_hz: float
) -> tuple[ToneCells, tuple[Tone, ...]]:
    """The tones that come and go the most within a range of frequencies, the one that surely rises the most first.

    Parameters
    ----------
    samples : (n,) at least 2 s [full scale 1].
    rate_hz : sampling rate [Hz].
    low_hz : lower end of the range to look in [Hz].
    high_hz : its upper end, at most half the rate [Hz].

    Returns
    -------
    the recording's cells, and one tone or more.

    Raises
    ------
    InputError
        if there is less than 2 s.
    """
    cells = tone_cells(samples, rate_hz, low_hz=low_hz, high_hz=high_hz)
    boxes = strongest_boxes(cells.over)
    boxes = [box for n, box in enumerate(boxes) if n < _AT_LEAST or box.deviate > _STANDS_OUT]
    boxes += [box for box in (*swept_boxes(cells), *steep_boxes(cells)) if box.deviate > 0]
    followed = (without_drift(cells, follow(cells, box)) for box in boxes)
    courses = sorted(followed, key=lambda course: _SWEPT_DB * course.box.swept - course.rise_db)
    return cells, signs_of(cells, courses, _MOST, _RISES_DB)


def track_tone(cells: ToneCells, tone: Tone) -> ToneTrack:
    """The level of a tone along the recording, and its picture.

    Parameters
    ----------
    cells : the recording's cells.
    tone : the one to draw.
    """
    level = _level_db(cells, tone.course)
    time = (LONG_S / 2 + LONG_HOP_S * np.arange(len(level))).astype(np.float64)
    return ToneTrack(time, level, *_picture(cells.hz, cells.power))


def _level_db(cells: ToneCells, course: Course) -> Array:
    """Level over the quiet noise along the sweep, gaps of the beat closed; faint tones are smoothed the more. Where air
    is let off over it and drowns it, or somebody talks, it is drawn through."""
    if course.box.steep:
        return _closed(10 * np.log10(SOFT * np.expm1(course.log)), _UNSURE_GAP_S)
    clear = running_mean(course.log, _SMOOTH)[course.within].max() - course.noise_log > _CLEAR
    smooth = _LITTLE if clear else course.box.frames
    noise = noise_of(cells, course.box)
    louder = noise / quantile(noise, RESTS)
    floor = np.expm1(course.noise_log)
    tone = np.maximum(np.expm1(running_mean(course.log, smooth)) - floor, 0) / floor
    # what is smoothed into a puff from beside it was measured against the quieter noise there
    level = 10 * np.log10(1 + tone * running_quantile(louder, smooth + 2, 0.0))
    drowned = (running_mean(louder, smooth) > _DROWNS) & (tone < _DROWNED)
    drowned |= running_quantile((~cells.heard(course.box.bins)).astype(float), smooth + 2, 1.0) > 0
    if drowned.any() and not drowned.all():
        frames = np.arange(len(level))
        level[drowned] = np.interp(frames[drowned], frames[~drowned], level[~drowned])
    return _closed(level, _gap_s(cells, course))


def _closed(level: Array, gap_s: float) -> Array:
    """Its gaps bridged, and smoothed over as much."""
    gap = round(gap_s / LONG_HOP_S)
    return running_mean(running_quantile(running_quantile(level, gap, 1.0), gap, 0.0), max(_SMOOTH, gap))


def _gap_s(cells: ToneCells, course: Course) -> float:
    """How long the emitter may be silent within its beat: not at all where the tone is clear and was never switched,
    for a probe is led into a place and out of it smoothly (two close places have no more of a beat than that)."""
    tone, beside = short_course(cells, course.box)
    last = len(tone) * course.within.stop // len(course.log)
    near = slice(len(tone) * course.within.start // len(course.log), max(last, 1))
    level = 10 * np.log10(tone + _TINY)
    top = float(level[near].max())
    if top - 10 * np.log10(float(np.median(beside[near])) + _TINY) > _TELLS_SWITCHING_DB:
        held = np.maximum(level[near], top - _SWITCHED_DB)
        if np.max(held[_SWITCH_FRAMES:] - held[:-_SWITCH_FRAMES], initial=0.0) < _SWITCHED_DB / 1.5:
            return 0.0
    return course.beat_s if course.beat_s > _SHORTEST_BEAT_S else _UNSURE_GAP_S


def _picture(hz: Array, power: NDArray[np.float32]) -> tuple[Array, Array, NDArray[np.float32]]:
    """Means over blocks of at most 400 × 200 cells."""
    a, b = (max(1, -(-n // most)) for n, most in zip(power.shape, _PICTURE, strict=True))
    whole = power[: len(power) // a * a, : power.shape[1] // b * b]
    lines = (whole.reshape(-1, b) @ np.full(b, 1 / (a * b), np.float32)).reshape(len(whole), -1)
    small = reduce(np.add, (lines[i::a] for i in range(a)))
    time = LONG_S / 2 + LONG_HOP_S * (np.arange(len(small)) * a + (a - 1) / 2)
    return time.astype(np.float64), hz[: whole.shape[1]].reshape(-1, b).mean(axis=1), 10 * np.log10(small)
