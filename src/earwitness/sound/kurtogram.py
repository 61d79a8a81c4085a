"""In which band the impacts stand clearest: kurtosis of the envelope over a tree of bands.

Antoni, MSSP 21 (2007) 108-124 (fast kurtogram, bands of 1/2, 1/3, 1/4, 1/6 …). Kurtosis of a complex envelope is
⟨|X|⁴⟩/⟨|X|²⟩² - 2: tone -1, Gaussian noise 0, on/off tone of duty d 1/d - 2.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.envelope import Whole

Array = NDArray[Any]

_PARTS = (1, 2, 3, 4, 6, 8, 12)
_SEGMENTS = 8


@dataclass(frozen=True)
class Band:
    """One band of the kurtogram, its kurtosis, and its squared envelope at (high - low) samples a second."""

    low_hz: float
    high_hz: float
    kurtosis: float
    power: Array


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


def envelope_kurtosis(power: Array) -> float:
    """Kurtosis of the complex envelope with this squared size: 0 for Gaussian noise, large for impacts.

    Parameters
    ----------
    power : (n,) squared envelope [any power]

    Examples
    --------
    >>> envelope_kurtosis(np.ones(100, dtype=np.float32))
    -1.0
    """
    mean = float(power.mean())
    return float((power.astype(np.float64) ** 2).mean() / mean**2 - 2) if mean > 0 else float("nan")


def kurtogram(whole: Whole, ceiling_hz: float, narrowest_hz: float) -> Kurtogram:
    """All bands of the tree below ceiling_hz that are at least narrowest_hz wide, one tuple a level.

    The kurtosis kept is the median over eighths of the recording: impacts that come again and again count, a
    single knock does not.

    Parameters
    ----------
    whole : Whole
    ceiling_hz : float, upper end of what is worth looking at, at most the recording's [Hz]
    narrowest_hz : float, least width of a band; at most the highest line that is wanted of it [Hz]
    """
    from scipy.fft import ifft

    count = max(192, int(min(ceiling_hz, whole.top_hz) * whole.seconds) // 192 * 192)
    levels = []
    for parts in _PARTS:
        width = count // parts
        width_hz = width / whole.seconds
        if parts > 1 and width_hz < narrowest_hz:
            break
        turned = ifft(whole.bins[: width * parts].reshape(parts, width), axis=1, norm="forward")
        power = turned.real**2 + turned.imag**2
        pieces = power[:, : width // _SEGMENTS * _SEGMENTS].reshape(parts, _SEGMENTS, -1)
        mean = pieces.mean(axis=2)
        fourth = np.einsum("psk,psk->ps", pieces, pieces) / pieces.shape[2]
        kurtosis = np.median(fourth / np.maximum(mean, 1e-18) ** 2, axis=1) - 2
        levels.append(tuple(Band(i * width_hz, (i + 1) * width_hz, float(kurtosis[i]), power[i]) for i in range(parts)))
    return Kurtogram(tuple(levels))
