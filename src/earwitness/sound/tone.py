"""A tone of unknown frequency and beat in noise, followed along a sweep: how loud it is where, and how sure that is.

Of the boxes that `tone_search` proposes each is followed along the whole recording: the mean of log(1 + cell/2) in it,
its noise taken from boxes beside it, over a window that holds a whole beat. What counts is the rise of the tone itself
that can be relied on: the least that its top can be, given the looks, over the most that may remain of it elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.pulsing import running_mean, running_quantile
from earwitness.sound.tone_beat import beat_period, beating, short_course
from earwitness.sound.tone_search import (
    BIN_WIDTH,
    LONG_HOP_S,
    LONG_S,
    NARROW,
    OVERLAP,
    Box,
    Cells32,
    Samples,
    ToneCells,
    chance_deviate,
    strongest_boxes,
    tone_cells,
)
from earwitness.sound.tone_swept import swept_boxes, swept_course

Array = NDArray[np.float64]

_DRIFT_BINS = 6
_KNOCKS = {0.4: 5.0, 1.0: 15.0}  # depth within so many seconds: on for a fifth of the time: 4; knocks are shorter
_KNOCK_DB = -3.0  # what a rise of knocks counts
_SHORTEST_BEAT_S = 0.1
_UNSURE_GAP_S = 0.8  # closed where the beat is not known
_TELLS_SWITCHING_DB, _SWITCHED_DB, _SWITCH_FRAMES = 18.0, 12.0, 3  # 48 ms; a lobe of 0.4 s rises by 6 dB in it
_UNSURE_BEAT_S = 1.5  # a tone whose beat is not known may be silent for so long
_RESTS = 0.15  # share of the time in which a tone that comes and goes is least
_SMOOTH = 15  # frames over which the level of a clear tone is taken
_CLEAR = 0.7  # nats over the noise
_LITTLE = 5  # frames
_DROWNS, _DROWNED = 4.0, 1.0  # times the quiet noise; what is left of a tone, over the noise
_AUDIBLE = {True: 0.35, False: 0.05}  # from here on a line, or a swept tone, may show its beat
_NOISE_BAND_HZ = 200.0
_COMPANY_HZ, _SAME_HZ = 1800.0, 150.0  # a warble spans less
_POSITIONS = 100  # looks for each independent one: four lengths, four widths, and boxes that overlap
_SURE_DB, _COMPARABLE = 3.0, 0.35  # what rises by less in decibels may be the tone's own splatter
_COLOUR = 0.07  # nats: noise changes its colour along a sweep by a decibel, which a wide box takes for a tone
_AT_LEAST, _STANDS_OUT = 4, 0.5  # candidates that are followed, however little they rise; others only from here on
_SMOOTHED = 1.65  # frames overlap and are smoothed: their means spread by so much more than single ones would
_RISEN, _AWAY_HZ, _AROUND = 3.0, 1800.0, 16  # what else rises, farther than a warble; frames to either side of the top
_FRONT, _FRONT_NEAR = 4, 64  # frames
_SWEPT_DB = 1.0  # a line or a box is followed through puffs more surely than what stands out of its band
_KEEPS_TO_HZ = 40.0  # a line seen in short frames
_PICTURE = (400, 200)
_TINY = 1e-20


@dataclass(frozen=True)
class ToneTrack:
    """A tone along a recording, or the likeliest candidate for one.

    time_s : (frames,)
    level_db : (frames,) tone and noise over the noise, gaps of the beat bridged
    deviate : standard normal deviate of its rise, looks taken off: over 3 it is no chance of noise
    rise_db : how far the tone at its loudest surely stands over what may be left of it elsewhere; less for knocks
    tone_hz, width_hz : middle and width of the band it moves in
    to_noise_db : the tone over the noise of a 200 Hz band, where it is strongest
    steady_db : the same where it is weakest for a second (a wall that passes it)
    beat_hz : its beat; 0 where none is found
    beat_depth : variance of its power over the square of the mean, noise taken off (half on, half off: 1)
    wander_hz : spread of its frequency from frame to frame
    fades_db : how far the noise about it falls below its usual level in a twentieth of the time
    front_db : the most that it rises within an eighth of a second near its top, gaps not closed
    swept : whether it was found by standing out of its band in short frames, not as a line or a box
    company_hz : width of all else, more than 1.8 kHz away, that is three times as loud around its top as it usually is
    company, company_db : other tones that surely come and go, more than 1.8 kHz away or at other times: how many, and
        the rise of the strongest (-inf where there is none)
    picture_time_s, picture_hz, picture_db : the spectrogram at a size to draw, with its axes
    """

    time_s: Array
    level_db: Array
    deviate: float
    rise_db: float
    tone_hz: float
    width_hz: float
    to_noise_db: float
    steady_db: float
    beat_hz: float
    beat_depth: float
    wander_hz: float
    fades_db: float
    front_db: float
    swept: bool
    company_hz: float
    company: int
    company_db: float
    picture_time_s: Array
    picture_hz: Array
    picture_db: NDArray[np.float32]


def find_tone(samples: Samples, rate_hz: float, *, low_hz: float, high_hz: float) -> ToneTrack:
    """The tone that comes and goes the most within a range of frequencies.

    Parameters
    ----------
    samples : (n,) at least 2 s [full scale 1].
    rate_hz : sampling rate [Hz].
    low_hz : lower end of the range to look in [Hz].
    high_hz : its upper end, at most half the rate [Hz].

    Raises
    ------
    InputError
        if there is less than 2 s.
    """
    cells = tone_cells(samples, rate_hz, low_hz=low_hz, high_hz=high_hz)
    boxes = strongest_boxes(cells.over)
    boxes = [box for n, box in enumerate(boxes) if n < _AT_LEAST or box.deviate > _STANDS_OUT]
    boxes += [box for box in swept_boxes(cells) if box.deviate > 0]
    courses = [_follow(cells, box) for box in boxes]
    best = max(courses, key=lambda course: course.rise_db - _SWEPT_DB * course.box.swept)
    track = _track(cells, best)
    others = [course for course in courses if _foreign(course, best)]
    strongest = max((course.at_most_db for course in others), default=float("-inf"))
    return replace(track, company=len(others), company_db=strongest)


@dataclass(frozen=True)
class _Course:
    """The log of one box along the recording, what it is in noise, and what its rise amounts to."""

    box: Box
    hz: float
    log: Array
    noise_log: float
    spread: float
    beat_s: float
    top: int
    within: slice
    deviate: float
    rise_db: float
    at_most_db: float  # as rise_db, whichever way the noise is reckoned


def _foreign(other: _Course, tone: _Course) -> bool:
    """Another tone that surely comes and goes, and is not the same emitter's: far from it, or at other times."""
    apart = abs(other.hz - tone.hz)
    if other.at_most_db < max(_SURE_DB, _COMPARABLE * tone.rise_db) or apart < _SAME_HZ:
        return False
    together = np.corrcoef(running_mean(other.log, 47), running_mean(tone.log, 47))[0, 1]
    return bool(apart > _COMPANY_HZ or together < 0.5)


def _follow(cells: ToneCells, box: Box) -> _Course:
    if box.swept:
        (log, *beside), noise_log, spread = swept_course(cells, box)
    else:
        (log, noise_log, spread), beside = _log_course(cells.over, box, _DRIFT_BINS), []
    narrow = box.bins.stop - box.bins.start <= NARROW
    if narrow and running_mean(log, box.frames).max() - noise_log < _CLEAR:
        log, noise_log, spread = _log_course(cells.over, box, 0)
    audible = running_mean(log, box.frames).max() - noise_log > _AUDIBLE[narrow]
    beat_s = beat_period(*short_course(cells, box)) if audible else 0.0
    frames = len(log)
    window = min(max(float(box.frames), beat_s / LONG_HOP_S), frames / 2)
    mean = _over_window(log, window)
    sure = spread / np.sqrt(window)
    width = box.bins.stop - box.bins.start
    looks = chance_deviate(
        _POSITIONS * frames / window * cells.over.shape[1] / width, window / OVERLAP * max(1.0, width / BIN_WIDTH)
    )
    colour = _COLOUR if width > NARROW and not box.swept else 0.0
    least = np.expm1(mean - looks * sure - colour) - np.expm1(noise_log)
    anywhere = np.max([mean, *(_over_window(other, window) for other in beside)], axis=0)
    most = np.maximum(np.expm1(anywhere) - np.expm1(noise_log), 0) + sure * np.exp(noise_log)
    # a tone is not weaker because air is let off over it, nor louder because all fades in with it
    noise = np.exp(_over_window(np.log(cells.noise[:, _band(cells, box.bins)].astype(np.float64)), window))
    gap = round((0.5 * beat_s if beat_s else _UNSURE_BEAT_S) / LONG_HOP_S)
    top = int(np.argmax(least * np.minimum(noise, 1.0)))
    rises = _rise_db(least, most, top, gap), _rise_db(least * np.minimum(noise, 1.0), most * noise, top, gap)
    usual = max(float(np.quantile(running_quantile(mean, gap, 1.0), _RESTS)), noise_log)
    blunted = 1.0
    if max(rises) > 0:
        for reach_s, deepest in _KNOCKS.items():
            depth = beating(cells, box, top + round(window / 2), reach_s)[0]
            blunted *= min(1.0, deepest / max(depth, 1e-9)) ** 2
    low, high = (rise * blunted + _KNOCK_DB * (1 - blunted) if rise > _KNOCK_DB else rise for rise in sorted(rises))
    hz = float(cells.hz[box.bins].mean())
    within = slice(top, top + max(1, round(window)))
    deviate = float((mean[top] - colour - usual) / sure - looks)
    return _Course(box, hz, log, noise_log, spread, beat_s, top + round(window / 2), within, deviate, low, high)


def _rise_db(least: Array, most: Array, top: int, gap: int) -> float:
    """The least at the top over the most in the parts of the sweep where it rests, gaps of the beat closed."""
    rest = float(np.quantile(running_quantile(most, gap, 1.0), _RESTS))
    return float(10 * np.log10(max(float(least[top]) / rest, 1e-3)))


def _band(cells: ToneCells, bins: slice) -> int:
    """The band of 2 kHz in which the noise of some bins is known."""
    return min(bins.start * cells.noise.shape[1] // len(cells.hz), cells.noise.shape[1] - 1)


def _over_window(values: Array, frames: float) -> Array:
    """Running means over a window that need not be a whole number of frames."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    last = int(len(values) - frames) + 1
    ends = np.arange(last) + frames
    return np.asarray((np.interp(ends, np.arange(len(total)), total) - total[:last]) / frames)


def _log_course(over: Cells32, box: Box, drift: int) -> tuple[Array, float, float]:
    """The box frame by frame, and the mean and spread of boxes beside it, the quieter half of them believed.

    A clear line is followed within the drift, one that is faint would drown in the noise of so many bins. Cells are
    first smoothed over three frames: the log of a beat of 4 Hz has harmonics up to the frames' rate.
    """
    width = box.bins.stop - box.bins.start
    drift *= width <= NARROW
    span = width + 2 * drift + 4
    lows = [box.bins.start + turn * span for turn in (0, 1, -1, 2, -2, 3, -3)]
    courses = []
    for low in lows:
        if low == box.bins.start or (low >= drift and low + width + drift < over.shape[1]):
            cells = over[:, max(0, low - drift) : low + width + drift]
            if drift:
                cells = 0.5 * (cells[:, 1:] + cells[:, :-1])
            padded = np.pad(cells, ((1, 1), (0, 0)), mode="edge")
            logs = np.log1p(0.125 * (padded[2:] + padded[:-2]) + 0.25 * cells)
            courses.append(logs.max(axis=1) if drift else logs.mean(axis=1))
    log = courses[0].astype(np.float64)
    if len(courses) == 1:
        return log, float(np.median(log)), float(log.std())
    quiet = np.stack(sorted(courses[1:], key=lambda course: float(course.mean()))[: max(1, (len(courses) - 1) // 2)])
    return log, float(quiet.mean()), float(quiet.std()) * _SMOOTHED


def _track(cells: ToneCells, course: _Course) -> ToneTrack:
    bins = course.box.bins
    time, drawn_hz, drawn = _picture(cells.hz, cells.power)
    to_noise, stays = _against_noise(cells, course)
    depth, wander = beating(cells, course.box, course.top, 1.0)
    level = _level_db(cells, course)
    noise = np.quantile(cells.noise[:, _band(cells, bins)], [0.05, 0.5])
    fades = float(10 * np.log10(noise[1] / noise[0]))
    return ToneTrack(
        (LONG_S / 2 + LONG_HOP_S * np.arange(len(level))).astype(np.float64),
        level,
        course.deviate,
        course.rise_db,
        *_where(cells, course, wander),
        to_noise,
        stays,
        1 / course.beat_s if course.beat_s else 0.0,
        depth,
        wander,
        fades,
        _front_db(course),
        course.box.swept,
        _company_hz(cells, course),
        0,
        float("-inf"),
        time,
        drawn_hz,
        drawn,
    )


def _level_db(cells: ToneCells, course: _Course) -> Array:
    """Level over the quiet noise along the sweep, gaps of the beat closed; faint tones are smoothed the more. Where air
    is let off over it and drowns it, it is drawn through."""
    clear = running_mean(course.log, _SMOOTH)[course.within].max() - course.noise_log > _CLEAR
    smooth = _LITTLE if clear else course.box.frames
    noise = cells.noise[:, _band(cells, course.box.bins)].astype(np.float64)
    louder = noise / np.quantile(noise, _RESTS)
    floor = np.expm1(course.noise_log)
    tone = np.maximum(np.expm1(running_mean(course.log, smooth)) - floor, 0) / floor
    # what is smoothed into a puff from beside it was measured against the quieter noise there
    level = 10 * np.log10(1 + tone * running_quantile(louder, smooth + 2, 0.0))
    drowned = (running_mean(louder, smooth) > _DROWNS) & (tone < _DROWNED)
    if drowned.any() and not drowned.all():
        frames = np.arange(len(level))
        level[drowned] = np.interp(frames[drowned], frames[~drowned], level[~drowned])
    gap = round(_gap_s(cells, course) / LONG_HOP_S)
    level = running_quantile(running_quantile(level, gap, 1.0), gap, 0.0)
    return running_mean(level, max(_SMOOTH, gap))


def _gap_s(cells: ToneCells, course: _Course) -> float:
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


def _where(cells: ToneCells, course: _Course, wander_hz: float) -> tuple[float, float]:
    """Middle and width of what it moves in: its box, or the strongest line of a broad one where it keeps to that."""
    bins = course.box.bins
    if not course.box.swept or wander_hz > _KEEPS_TO_HZ:
        return course.hz, float(cells.hz[bins.stop - 1] - cells.hz[bins.start])
    there = cells.over[max(0, course.top - _AROUND) : course.top + _AROUND + 1, bins].mean(axis=0)
    return float(cells.hz[bins.start + int(np.argmax(there))]), float(cells.hz[1] - cells.hz[0])


def _company_hz(cells: ToneCells, course: _Course) -> float:
    """Width of all else that is three times as loud around the tone's top as it usually is within a second."""
    size = 2 * _AROUND
    count = len(cells.over) // size
    usual = np.median(cells.over[: size * count].reshape(count, size, -1).mean(axis=1), axis=0)
    there = cells.over[max(0, course.top - _AROUND) : course.top + _AROUND + 1].mean(axis=0)
    low, high = cells.hz[course.box.bins.start], cells.hz[course.box.bins.stop - 1]
    away = (cells.hz < low - _AWAY_HZ) | (cells.hz > high + _AWAY_HZ)
    risen = (there > _RISEN * np.maximum(usual, 1.0)) & away
    return float((cells.hz[1] - cells.hz[0]) * np.count_nonzero(risen))


def _front_db(course: _Course) -> float:
    """The steepest rise near the top: a probe that passes a gap hears none (at 0.4 m/s and 10 cm: 2 dB)."""
    near = slice(max(0, course.top - _FRONT_NEAR), course.top + _FRONT_NEAR + 1)
    noise = float(np.expm1(course.noise_log))
    level = 10 * np.log10(np.maximum(np.expm1(running_mean(course.log, 3)[near]), 0.5 * noise))
    return float((level[_FRONT:] - level[:-_FRONT]).max()) if len(level) > _FRONT else 0.0


def _against_noise(cells: ToneCells, course: _Course) -> tuple[float, float]:
    """The tone over the noise of a 200 Hz band: where it is strongest, and where all that sounds within 200 Hz of it
    is weakest (an emitter that beats and warbles leaves each of its lines at times, but never all)."""
    hz, power, bins = cells.hz, cells.power, course.box.bins
    step = float(hz[1] - hz[0])
    reach = round(_NOISE_BAND_HZ / step)
    inside = slice(max(0, bins.start - reach), bins.stop + reach)
    near = slice(max(0, inside.start - 64), inside.stop + 64)
    tone = power[:, inside].sum(axis=1, dtype=np.float64) * step
    density = float(np.quantile(power[:, near], 0.4)) / -np.log(1 - 0.4)
    noise = density * step * len(hz[inside])
    strongest = float(running_mean(tone, 17)[course.top]) - noise
    weak = float(np.quantile(running_mean(tone, round(max(1.0, course.beat_s) / LONG_HOP_S)), _RESTS)) - noise
    band = density * _NOISE_BAND_HZ + _TINY
    strong_db, weak_db = (10 * np.log10(max(x, 1e-2 * noise) / band) for x in (strongest, weak))
    return float(strong_db), float(weak_db)


def _picture(hz: Array, power: NDArray[np.float32]) -> tuple[Array, Array, NDArray[np.float32]]:
    """Means over blocks of at most 400 × 200 cells."""
    a, b = (max(1, -(-n // most)) for n, most in zip(power.shape, _PICTURE, strict=True))
    whole = power[: len(power) // a * a, : power.shape[1] // b * b]
    small = whole.reshape(len(whole) // a, a, -1, b).mean(axis=(1, 3))
    time = LONG_S / 2 + LONG_HOP_S * (np.arange(len(small)) * a + (a - 1) / 2)
    return time.astype(np.float64), hz[: whole.shape[1]].reshape(-1, b).mean(axis=1), 10 * np.log10(small)
