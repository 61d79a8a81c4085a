"""In which band the impacts stand clearest: kurtosis of the envelope over a tree of bands.

Antoni, MSSP 21 (2007) 108-124 (fast kurtogram, bands of 1/2, 1/3, 1/4, 1/6 …). Kurtosis of a complex envelope is
⟨|X|⁴⟩/⟨|X|²⟩² - 2: tone -1, Gaussian noise 0, on/off tone of duty d 1/d - 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sound import long_fft
from earwitness.sound.envelope import Whole

Array = NDArray[Any]

_PARTS = (2, 3, 4, 6, 12)
_SEGMENTS = 8


@dataclass(frozen=True)
class Band:
    """One band of the kurtogram, its kurtosis, and its squared envelope, which in noise is a mean of `degrees`
    exponential variates (1 where the band was turned back in one piece)."""

    low_hz: float
    high_hz: float
    kurtosis: float
    power: Array
    degrees: float = 1.0


@dataclass(frozen=True)
class Kurtogram:
    """All bands of the tree, one tuple a level: whole, halves, thirds, quarters, sixths …"""

    levels: tuple[tuple[Band, ...], ...]

    def clearest(self, count: int) -> list[Band]:
        """The `count` bands of highest kurtosis that do not lie within one another."""
        chosen: list[Band] = []
        for band in sorted((b for level in self.levels for b in level), key=lambda b: -b.kurtosis):
            if all(_overlap(band, other) < 0.5 for other in chosen):
                chosen.append(band)
            if len(chosen) == count:
                break
        return chosen


def _overlap(band: Band, other: Band) -> float:
    shared = min(band.high_hz, other.high_hz) - max(band.low_hz, other.low_hz)
    return shared / min(band.high_hz - band.low_hz, other.high_hz - other.low_hz)


def in_pieces(whole: Whole, stop: int, pieces: int) -> tuple[Array, float]:
    """Squared envelope of the bins below `stop`, as the sum over equal pieces of the band, and its degrees of freedom.

    Only slow lines are wanted of it: pairs of bins that lie close together are within one piece, so the sum shows the
    same lines at a fraction of the samples.

    Parameters
    ----------
    whole : Whole
    stop : int, a multiple of `pieces` [1]
    pieces : int [1]
    """
    return _together(_turned_back(whole, stop, pieces))


def _together(powers: Array) -> tuple[Array, float]:
    mean = powers.mean(axis=1)
    return powers.sum(axis=0), float(mean.sum() ** 2 / max(float(mean @ mean), 1e-30))


def _turned_back(whole: Whole, stop: int, parts: int) -> Array:
    size = np.abs(long_fft.ifft(whole.bins[:stop].reshape(parts, stop // parts)))
    return np.square(size, out=size)


def _median_kurtosis(power: Array, degrees: float = 1.0) -> Array:
    """Kurtosis of each row, median over eighths of the recording; the mean of several variates jumps less in noise."""
    pieces = power[:, : power.shape[1] // _SEGMENTS * _SEGMENTS].reshape(len(power), _SEGMENTS, -1)
    mean = pieces.mean(axis=2)
    ratio = np.einsum("psk,psk->ps", pieces, pieces) / pieces.shape[2] / np.maximum(mean, 1e-18) ** 2
    middle = np.sort(ratio, axis=1)[:, _SEGMENTS // 2 - 1 : _SEGMENTS // 2 + 1].mean(axis=1)
    return 2 * middle / (1 + 1 / degrees) - 2


def occupied_bins(whole: Whole, ceiling_hz: float) -> int:
    """How many bins lie below ceiling_hz, such that every level of the tree comes out even.

    Parameters
    ----------
    whole : Whole
    ceiling_hz : float [Hz]
    """
    return max(192, int(min(ceiling_hz, whole.top_hz) * whole.seconds) // 192 * 192)


def kurtogram(whole: Whole, ceiling_hz: float, narrowest_hz: float, pieces: int = 1) -> Kurtogram:
    """All bands of the tree below ceiling_hz that are at least narrowest_hz wide, one tuple a level.

    The kurtosis kept is the median over eighths of the recording: impacts that come again and again count, a
    single knock does not.

    Parameters
    ----------
    whole : Whole
    ceiling_hz : float, upper end of what is worth looking at, at most the recording's [Hz]
    narrowest_hz : float, least width of a band; at most the highest line that is wanted of it [Hz]
    pieces : int, in which the whole band is turned back, see `in_pieces` [1]
    """
    count = occupied_bins(whole, ceiling_hz)
    in_these = _turned_back(whole, count, pieces)
    power, degrees = _together(in_these)
    top = Band(0.0, count / whole.seconds, float(_median_kurtosis(power[None], degrees)[0]), power, degrees)
    levels: list[tuple[Band, ...]] = [(top,)]
    for parts in _PARTS:
        width_hz = count // parts / whole.seconds
        if width_hz < narrowest_hz:
            break
        powers = in_these if parts == pieces else _turned_back(whole, count, parts)
        kurtosis = _median_kurtosis(powers)
        levels.append(
            tuple(Band(i * width_hz, (i + 1) * width_hz, float(kurtosis[i]), powers[i]) for i in range(parts))
        )
    return Kurtogram(tuple(levels))
