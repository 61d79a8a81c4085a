"""Fewer samples a second where only low frequencies are looked at: all that follows costs so much less."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

_KEPT = 0.21  # of the rate: so far up what is looked at may reach, and nothing folds back onto it
_REACH = 31  # taps to either side: 80 dB from 0.29 of the rate on (Kaiser's formula)
_BEFORE = (_REACH + 1) // 2  # odd samples before each even one
_ROW = 32  # samples filtered at once; one more row holds the taps of the last


def decimated(samples: Samples, rate_hz: float, high_hz: float) -> tuple[Samples, float]:
    """The samples at half the rate, a quarter, an eighth, as long as what lies below high_hz stays as it is; that rate.

    A low-pass before each halving (Crochiere & Rabiner, Multirate Digital Signal Processing, 1983, ch. 5): a sinc
    through Kaiser's window, which keeps each sample's moment. Every other of its taps is nought but the middle one, so
    that the odd samples are filtered and the even ones are added; a product of matrices filters them row by row.

    Parameters
    ----------
    samples : (n,) float32 [full scale 1]
    rate_hz : samples a second [Hz]
    high_hz : highest frequency that is looked at [Hz]
    """
    while high_hz <= _KEPT * rate_hz and len(samples) >= 2 * _ROW:
        even, odd = samples[::2], samples[1::2]
        rows = np.zeros((-(-len(even) // _ROW) + 1, _ROW), np.float32)
        rows.ravel()[_BEFORE : _BEFORE + len(odd)] = odd
        own, following, middle = _filter()
        filtered = rows[:-1] @ own
        filtered += rows[1:] @ following
        samples, rate_hz = filtered.ravel()[: len(even)], rate_hz / 2
        samples += middle * even
    return samples, rate_hz


@lru_cache(maxsize=1)
def _filter() -> tuple[Samples, Samples, np.float32]:
    """What each odd sample of a row, and of the row after it, gives to each that is kept; what the even one gives."""
    taps = np.sinc(np.arange(-_REACH, _REACH + 1) / 2) * np.kaiser(2 * _REACH + 1, 7.9)
    taps /= taps.sum()
    both = np.zeros((2 * _ROW, _ROW), np.float32)
    for column in range(_ROW):
        both[column : column + _REACH + 1, column] = taps[::2]
    return both[:_ROW], both[_ROW:], np.float32(taps[_REACH])
