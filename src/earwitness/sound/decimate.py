"""Fewer samples a second where only low frequencies are looked at: all that follows costs so much less."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

_KEPT = 0.21  # of the rate: so far up what is looked at may reach, and nothing folds back onto it
_REACH = 31  # taps to either side: 80 dB from 0.29 of the rate on (Kaiser's formula)
_ROW = 64  # samples filtered at once; one more row holds the taps of the last


def decimated(samples: Samples, rate_hz: float, high_hz: float) -> tuple[Samples, float]:
    """The samples at half the rate, a quarter, an eighth, as long as what lies below high_hz stays as it is; that rate.

    A low-pass before each halving (Crochiere & Rabiner, Multirate Digital Signal Processing, 1983, ch. 5): a sinc
    through Kaiser's window, which keeps each sample's moment. It is applied as a product of matrices, row by row.

    Parameters
    ----------
    samples : (n,) float32 [full scale 1]
    rate_hz : samples a second [Hz]
    high_hz : highest frequency that is looked at [Hz]
    """
    while high_hz <= _KEPT * rate_hz and len(samples) >= _ROW:
        rows = np.zeros((-(-len(samples) // _ROW) + 1, _ROW), np.float32)
        rows.ravel()[_REACH : _REACH + len(samples)] = samples
        own, following = _filter()
        halved = rows[:-1] @ own
        halved += rows[1:] @ following
        samples, rate_hz = halved.ravel()[: -(-len(samples) // 2)], rate_hz / 2
    return samples, rate_hz


@lru_cache(maxsize=1)
def _filter() -> tuple[Samples, Samples]:
    """What each sample of a row, and of the row after it, gives to each of the halved row."""
    taps = np.sinc(np.arange(-_REACH, _REACH + 1) / 2) * np.kaiser(2 * _REACH + 1, 7.9)
    both = np.zeros((2 * _ROW, _ROW // 2), np.float32)
    for column in range(_ROW // 2):
        both[2 * column : 2 * column + len(taps), column] = taps / taps.sum()
    return both[:_ROW], both[_ROW:]
