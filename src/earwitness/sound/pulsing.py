"""How a level goes over time: bursts with a sharp front, their rhythm, and the smooth rises of a sweep.

A probe led past a source hears 1/(1 + (vt/d)²): even at 1 m/s and 10 cm the level needs 170 ms for its last 6 dB.
What rises by 6 dB within 60 ms was switched: an exhaust, a valve, a blow (spherical spreading; ISO 9613-2, 7.1).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d, rank_filter, uniform_filter1d

Array = NDArray[np.float64]

_FRONT_S = 0.06  # a front faster than this was switched, not swept
_FRONT_DB = 4.0
_LEFT_DB = 2.0  # a burst is over when the level is back to this much over what it was before
_GROWN_DB = 3.0
_MOST = 0.5
_AROUND = 5  # frames to either side, of 20 ms each
_WIDTH_DB = 6.0
_FLANK_DB = 3.0
_LONGEST_S = 6.0  # what stays longer than this is a new state, not a burst


@dataclass(frozen=True)
class Bursts:
    """Sharp-fronted bursts: where they are, when each began, how long they last and how even their rhythm is.

    mask : (frames,) True inside a burst
    onsets_s : when each began
    length_s : median length
    period_s : median time from onset to onset; None for fewer than three
    unevenness : spread of those times over their median (0 a clock, about 1 by chance); None for fewer than four
    dying : whether most of them die away; what is cut off is over at once
    """

    mask: NDArray[np.bool_]
    onsets_s: Array
    length_s: float
    period_s: float | None
    unevenness: float | None
    dying: bool

    @property
    def rhythmic(self) -> bool:
        """A machine at work: four and more, as even as a clock to within a quarter."""
        return self.unevenness is not None and self.unevenness < 0.25

    @property
    def maybe_rhythmic(self) -> bool:
        """The same, or three, whose rhythm cannot be told."""
        return self.period_s is not None and (self.unevenness is None or self.rhythmic)


@dataclass(frozen=True)
class Peak:
    """A rise and fall of a level: index of its top, height over the dip beside it, width 6 dB below the top, or
    at half the height if that is less."""

    index: int
    prominence_db: float
    width: float  # frames
    left: int  # frames from where the width begins to the top
    right: int  # frames from the top to where it ends
    open_ended: bool  # the level begins or ends within 3 dB of the top: one flank was not seen


def find_bursts(level_db: Array, hop_s: float) -> Bursts:
    """Bursts that begin or end within 60 ms. One that has fallen when another front comes is followed by a new one.
    Where two and more are found, a recording that begins louder dies away from one that nobody heard begin.

    Parameters
    ----------
    level_db : (frames,) short-time level [dB].
    hop_s : time from frame to frame, at most 0.03 [s].

    Examples
    --------
    >>> level = np.where(np.arange(500) % 100 < 20, 12.0, 0.0)
    >>> bursts = find_bursts(level, 0.02)
    >>> bursts.period_s, len(bursts.onsets_s)
    (2.0, 4)
    """
    level = np.asarray(level_db, dtype=float)
    reach = max(1, round(_FRONT_S / hop_s))
    longest = round(_LONGEST_S / hop_s)
    ends = len(level) - 1 - fronts(level[::-1], reach, _FRONT_DB)[::-1]
    found = _begun_sharply(level, fronts(level, reach, _FRONT_DB), ends, reach, longest)
    known = _inside(found, len(level))
    backward = _begun_sharply(level[::-1], len(level) - 1 - ends[::-1], np.zeros(0, np.intp), reach, longest)
    for last, first, _ in backward:  # one whose front was not so sharp, but whose end is
        start, end = len(level) - 1 - first, len(level) - 1 - last
        if not known[start + 1 : end].any():
            found.append((start, end, [start]))
    found.sort()
    mask = _inside(found, len(level))
    onsets = [front + 1 for _, _, within in found for front in within if front > 0]
    lengths = [b - a - 1 for _, end, within in found for a, b in pairwise([*within, end])]
    if len(onsets) > 1:
        begun = _begun_within(level, onsets[0])
        mask[: begun if begun <= max(lengths) else 0] = True  # none lasts longer than those heard
    times = np.asarray(onsets, dtype=float) * hop_s
    gaps = np.diff(times)
    period = float(np.median(gaps)) if len(gaps) >= 2 else None
    uneven = float(np.std(gaps) / np.median(gaps)) if len(gaps) >= 3 else None
    cut_off = [bool(np.any(np.abs(ends - end) <= 2 * reach)) for _, end, _ in found]
    dying = bool(cut_off) and float(np.mean(cut_off)) < 0.5
    return Bursts(mask, times, float(np.median(lengths) * hop_s) if lengths else 0.0, period, uneven, dying)


def fronts(level_db: Array, reach: int, least_db: float, most: float = _MOST) -> NDArray[np.intp]:
    """Frames before a front: much of a rise comes at once, while a source that is passed comes evenly.

    Parameters
    ----------
    level_db : (n,) level of short frames [dB].
    reach : how many frames a front takes [frames].
    least_db : how much it rises at the least [dB].
    most : part of the rise from the 0.2 s before to the 0.2 s after that it is more than [1].
    """
    if len(level_db) <= reach:
        return np.zeros(0, np.intp)
    rise = level_db[reach:] - level_db[:-reach]
    lowest = running_quantile(level_db, 2 * _AROUND + 1, 0)
    highest = running_quantile(level_db, 2 * _AROUND + 1, 1)
    # the window of 2·around + 1 frames that ends at i, and the one that begins at i + reach
    count = len(rise)
    low = lowest[np.maximum(np.arange(count) - _AROUND, 0)]
    high = highest[np.minimum(np.arange(count) + reach + _AROUND, len(level_db) - 1)]
    steepest = running_quantile(rise, 2 * reach + 1, 1)
    return np.flatnonzero((rise > least_db) & (rise == steepest) & (rise > most * (high - low)))


def _begun_sharply(
    level: Array, starts: NDArray[np.intp], ends: NDArray[np.intp], reach: int, longest: int
) -> list[tuple[int, int, list[int]]]:
    """Bursts from their front until the level is back: first and last frame outside, and the fronts within."""
    found, at = [], 0
    for start in map(int, starts):
        if start < at:
            continue
        over = level[start + reach :] > level[start] + _LEFT_DB
        end = start + reach + (int(np.argmin(over)) if not over.all() else len(over))
        if end - start > longest:  # it came to stay
            continue
        within = starts[(starts >= start) & (starts < end)]
        sharply = ends[np.abs(ends - end) <= 2 * reach]
        half = (level[start] + level[start:end].max()) / 2
        if not np.any(level[sharply - reach] > half):
            end = _grown_from(level, within, end, reach)
        found.append((start, end, _anew(level, within[within < end])))
        at = max(end, start + 1)
    return found


def _inside(found: list[tuple[int, int, list[int]]], count: int) -> NDArray[np.bool_]:
    mask = np.zeros(count, dtype=bool)
    for start, end, _ in found:
        mask[start + 1 : end] = True
    return mask


def _begun_within(level: Array, front: int) -> int:
    """Where a burst is over that a recording began in, or 0."""
    before = level[front - 1]
    return int(np.argmax(level[:front] <= before + _LEFT_DB)) if level[0] > before + _FRONT_DB else 0


def _grown_from(level: Array, within: NDArray[np.intp], end: int, reach: int) -> int:
    """Where a burst ends: at `end`, or before where the level grows smoothly over what its fronts reached (a source
    that the probe comes to)."""
    start = int(within[0])
    reached = np.full(end - start, -np.inf)
    for front in within - start:
        near = slice(max(0, front - reach), front + 3 * reach + 1)
        reached[near] = level[start:end][near]
    higher = np.flatnonzero(level[start:end] > np.maximum.accumulate(reached) + _GROWN_DB)
    return start + reach + int(np.argmin(level[start + reach : start + higher[0]])) if len(higher) else end


def _anew(level: Array, within: NDArray[np.intp]) -> list[int]:
    """The first front, and those that come after a fall by as much as a front."""
    kept = [int(within[0])]
    for at in within[1:]:
        if level[kept[-1] : at + 1].max() - level[at] > _FRONT_DB:
            kept.append(int(at))
    return kept


def find_peaks(level_db: Array, prominence_db: float) -> tuple[Peak, ...]:
    """Peaks that stand at least `prominence_db` over the higher of the dips that part them from a higher one.

    Parameters
    ----------
    level_db : (frames,) level [dB].
    prominence_db : least prominence, above 0 [dB].

    Notes
    -----
    The ends count as dips: a sweep that begins on a leak has a peak there.
    """
    level = np.asarray(level_db, dtype=float)
    if not len(level):
        return ()
    base = float(level.min())
    padded = [base, *level.tolist(), base]  # read one by one
    peaks = []
    for left, top, right in _turning_points(padded, prominence_db):
        height = float(padded[top] - max(padded[left], padded[right]))
        half = padded[top] - min(height / 2, _WIDTH_DB)
        first, last = top, top
        while first > left and padded[first - 1] > half:
            first -= 1
        while last < right and padded[last + 1] > half:
            last += 1
        cut = (first == 1 and padded[top] - padded[1] < _FLANK_DB) or (
            last == len(level) and padded[top] - padded[-2] < _FLANK_DB
        )
        peaks.append(Peak(top - 1, height, float(last - first + 1), top - first, last - top, cut))
    return tuple(peaks)


def _turning_points(level: list[float], least: float) -> list[tuple[int, int, int]]:
    """(dip, top, dip) of each swing of at least `least`, in order: one pass with a memory of the last extremes."""
    found: list[tuple[int, int, int]] = []
    dip, top, rising = 0, 0, False
    before = 0
    for i in range(1, len(level)):
        if rising:
            if level[i] > level[top]:
                top = i
            elif level[i] <= level[top] - least:
                rising, before, dip = False, dip, i
                found.append((before, top, i))
        else:
            if level[i] < level[dip]:
                dip = i
                if found:
                    found[-1] = (found[-1][0], found[-1][1], i)
            elif level[i] >= level[dip] + least:
                rising, top = True, i
    return found


def quantile(values: NDArray[Any], share: float) -> NDArray[Any]:
    """Along the first axis, as `np.quantile`, which takes several times as long over a few hundred values.

    Parameters
    ----------
    values : (n, …) n over 0 [any].
    share : 0 (minimum) to 1 (maximum) [1].
    """
    ranked = np.sort(values, axis=0)
    rank, part = divmod(share * (len(ranked) - 1), 1)
    low, high = ranked[int(rank)], ranked[min(int(rank) + 1, len(ranked) - 1)]
    return low + ranked.dtype.type(part) * (high - low)


def running_quantile(level: Array, frames: int, quantile: float) -> Array:
    """A quantile in a window around each frame; the ends are repeated outward.

    Parameters
    ----------
    level : (frames,) any level or power [any].
    frames : window, made odd.
    quantile : 0 (minimum) to 1 (maximum) [1].
    """
    values = np.asarray(level, dtype=float)
    half = frames // 2
    if half == 0 or not len(values):
        return values.copy()
    if quantile in (0, 1):  # quicker
        return (maximum_filter1d if quantile else minimum_filter1d)(values, 2 * half + 1, mode="nearest")
    # between two ranks in proportion, as quantiles are (Hyndman & Fan 1996, definition 7)
    rank, part = divmod(2 * half * quantile, 1)
    low = rank_filter(values, int(rank), 2 * half + 1, mode="nearest")
    return low + part * (rank_filter(values, int(rank) + 1, 2 * half + 1, mode="nearest") - low) if part else low


def running_mean(level: NDArray[np.floating], frames: int) -> Array:
    """The mean in a window around each frame along the first axis; the ends are repeated outward.

    Parameters
    ----------
    level : (frames, …) any level or power [any].
    frames : window, made odd.
    """
    return np.asarray(uniform_filter1d(np.asarray(level, dtype=float), frames // 2 * 2 + 1, axis=0, mode="nearest"))
