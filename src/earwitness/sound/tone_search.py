"""Where in a sweep a tone may come and go: boxes of time and frequency that are louder than at other times.

The mean of log(1 + cell/4) over a box is held against what the same frequencies have at other times, with the number of
looks taken off (Cramer 1946, 28.6): the logarithm lets few loud cells count little.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from earwitness.sound.tone_cells import NOISE_LOG, SOFT, Cells32

NOISE_SPREAD, NOISE_SKEWNESS = 0.1763, 1.29  # of log(1 + x/4) for x exponential of mean 1; by quadrature
LEAST_SPREAD = 1e-3  # nats: where an open input has no noise
_BLOCK = 8  # frames taken together
BIN_WIDTH = 1.5  # of Hann's window
OVERLAP = 1.92  # so many of Hann's frames that overlap by three quarters tell as much as one (Welch 1967)
NARROW = 5  # bins: up to here a steady line, which may drift (a probe led at 0.4 m/s hears 40 kHz moved by 47 Hz)
_BOX_BLOCKS = (2, 4, 8)  # 0.5 to 2 s; each is twice the one before
_BOX_BINS = (2, 5, 21)  # a steady line, one that drifts, one that warbles
# a place is louder than its frequency is in half of the time, or, where a box may fall between two beats, in three
# quarters, below which noise lies by 0.67 spreads
_USUAL = {False: (0.75, np.float32(0.67)), True: (0.5, np.float32(0.0))}
_WHOLE_BEAT = 4  # blocks
_CANDIDATES = 8
_SKIRT_BINS, _LOUDER = 8, 0.7  # a line 64 Hz away, so many nats louder: 3 dB
_TRIES = 48
_ONE_SOUND = 0.9  # correlation of two courses
_TINY = 1e-20


@dataclass(frozen=True)
class Box:
    """A box in which frequencies are louder than at other times: standard normal deviate with the looks taken off,
    its middle frame, its bins, its frames; whether a line is followed through it, and one that runs through it all."""

    deviate: float
    frame: int
    bins: slice
    frames: int
    swept: bool = False
    steep: bool = False

    @property
    def width(self) -> int:
        """Bins."""
        return self.bins.stop - self.bins.start

    @property
    def line(self) -> bool:
        """A line alone, which keeps to its frequency or drifts from it."""
        return self.width <= NARROW and not self.swept

    @property
    def wide(self) -> bool:
        """Neither a line nor followed along one: clatter and hiss may fill it."""
        return not self.line and not self.swept


def strongest_boxes(over: Cells32) -> list[Box]:
    """The boxes that surely rise the most over what is left of them at other times, no two at one frequency.

    Parameters
    ----------
    over : (frames, bins) cells over their noise, with mean 1 in noise alone [1].
    """
    found: list[tuple[float, Box, Cells32]] = []
    count, bins = len(over) // _BLOCK, over.shape[1]
    logs = over[: count * _BLOCK] / np.float32(SOFT)
    logs = np.log1p(logs, out=logs).reshape(count, _BLOCK, bins)
    blocks = np.matmul(np.full((1, _BLOCK), 1 / _BLOCK, np.float32), logs)[:, 0]  # their means
    for width in (w for w in _BOX_BINS if w <= bins // 4):
        step = max(1, width // 4)
        last = bins - width + 1
        narrow = reduce(np.add, (blocks[:, i : last + i : step] for i in range(width))) / np.float32(width)
        courses = narrow - narrow.mean(axis=0)
        courses /= np.linalg.norm(courses, axis=0) + np.float32(_TINY)
        sums = narrow
        for long in (n for n in _BOX_BLOCKS if n <= count // 2):
            sums = sums[: -long // 2] + sums[long // 2 :]
            means = sums / np.float32(long)
            share, below = _USUAL[long > _WHOLE_BEAT]
            usual = round(share * (len(means) - 1))
            frames = _BLOCK * long / OVERLAP
            degrees = frames * max(1.0, width / BIN_WIDTH)
            spread = np.float32(NOISE_SPREAD / np.sqrt(degrees))
            ranked = np.sort(means, axis=0)
            rest, top = np.maximum(ranked[usual] - below * spread, NOISE_LOG), ranked[-1]
            looks = chance_deviate(means.size * step / width * 2 / long, degrees)
            assured = _assured(top - np.float32(looks) * spread, rest, spread)
            alike = np.zeros(assured.size, bool)
            wanted = _CANDIDATES // 2
            for _ in range(_TRIES):
                column = int(np.argmax(assured))
                if assured[column] == -np.inf:
                    break
                first = int(np.argmax(means[:, column]))
                low, clear = column * step, (2 * width + 8) // step
                if _skirt(blocks[first : first + long], low, width):
                    assured[column] = -np.inf
                    continue
                frame = round((first + long / 2) * _BLOCK)
                deviate = float((top[column] - rest[column]) / spread) - looks
                box = Box(deviate, frame, slice(low, low + width), long * _BLOCK)
                found.append((float(assured[column]), box, courses[:, column]))
                wanted -= 1
                if not wanted:
                    break
                same = found[-1][2] @ courses > _ONE_SOUND
                assured[same & alike] = -np.inf  # two of one sound are enough
                alike |= same
                assured[max(0, column - clear) : column + clear + 1] = -np.inf
    found.sort(key=lambda one: -one[0])
    return _apart(found)


def _skirt(blocks: Cells32, low: int, width: int) -> bool:
    """Whether a line close beside a box is louder than all within: what switches on and off has flanks."""
    first = max(0, low - _SKIRT_BINS)
    there = blocks[:, first : low + width + _SKIRT_BINS].sum(axis=0)
    return bool(there.max() > there[low - first : low - first + width].max() + _LOUDER * len(blocks))


def _apart(found: Sequence[tuple[float, Box, Cells32]]) -> list[Box]:
    """The first of them, no two at one frequency, and few of those that keep time with one another: the lines of a
    beeper are one sound."""
    courses = np.array([course for _, _, course in found])
    together = courses @ courses.T > _ONE_SOUND
    kept: list[Box] = []
    numbers: list[int] = []
    for number, (_, box, _) in enumerate(found):
        low, high = box.bins.start - 4, box.bins.stop + 4
        near = [n for n, k in enumerate(kept) if high >= k.bins.start and low <= k.bins.stop]
        if near and box.deviate > kept[near[0]].deviate:  # the same tone, better seen
            kept[near[0]] = box
        elif not near and len(kept) < _CANDIDATES and together[number, numbers].sum() < 2:
            kept.append(box)
            numbers.append(number)
    return kept


def _assured(least: Cells32, rest: Cells32, spread: np.float32) -> Cells32:
    """What surely stands over the noise, over the most of it that may be left at other times: a loud beeper differs
    from time to time by many deviates, but not by much in power."""
    noise = np.expm1(NOISE_LOG)
    return np.asarray((np.expm1(least) - noise) / (np.expm1(rest) - noise + spread), np.float32)


def chance_deviate(looks: float, degrees: float) -> float:
    """The largest deviate to expect of noise alone in so many looks, each the mean of so many logs of cells.

    sqrt(2 ln M), and what the skewness of the logs adds (Cornish & Fisher 1938, first term).

    Parameters
    ----------
    looks : independent looks, over 1 [1].
    degrees : independent cells in each [1].
    """
    normal = float(np.sqrt(2 * np.log(looks)))
    return normal + NOISE_SKEWNESS / 6 * (normal**2 - 1) / float(np.sqrt(degrees))
