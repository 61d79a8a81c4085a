"""Fourier transforms of long recordings in half the time: in two steps, the longer one a stack of short transforms.

One long transform runs in and out of the processor's cache, one number at a time; short ones lie within it, and SciPy
makes four at once. Cooley & Tukey, Math. Comp. 19 (1965) 297-301, with n = 8 m: transforms of eight and of m, with a
turn of each number between. Single precision, as it comes in.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]

_PARTS = 8
_PAYS = range(1 << 16, 1 << 21)  # numbers; of shorter ones it is slower, of longer ones it takes memory


def rfft(samples: NDArray[np.float32]) -> NDArray[np.complex64]:
    """Bins 0 to n/2 of a real recording, as scipy.fft.rfft gives them.

    Parameters
    ----------
    samples : (n,) float32 [any]
    """
    from scipy import fft

    n = len(samples)
    if n not in _PAYS or n % (2 * _PARTS):
        return fft.rfft(samples)
    m, half = n // _PARTS, n // _PARTS // 2 + 1
    every_eighth = fft.rfft(samples.reshape(m, _PARTS), axis=0)
    every_eighth *= _turns(n, half).T
    bins = _eight() @ every_eighth.T  # (q, k): bin k + q m, k up to m/2; the mirror images of the others
    out = np.empty(n // 2 + 1, bins.dtype)
    rows = out[:-1].reshape(_PARTS // 2, m)
    rows[:, :half] = bins[: _PARTS // 2]
    np.conjugate(bins[: _PARTS // 2 - 1 : -1, m - half : 0 : -1], out=rows[:, half:])
    out[-1] = bins[_PARTS // 2, 0]
    return out


def ifft(bins: NDArray[np.complex64]) -> NDArray[np.complex64]:
    """Each row turned back, not divided by its length, as scipy.fft.ifft does with norm="forward".

    Parameters
    ----------
    bins : (rows, n) complex64 [any]
    """
    from scipy import fft

    rows, n = bins.shape
    if rows >= 4 or n not in _PAYS or n % _PARTS:
        return fft.ifft(bins, norm="forward")
    short = _eight().conj() @ bins.reshape(rows, _PARTS, -1)
    short *= _turns(-n, n // _PARTS)
    return fft.ifft(short, norm="forward", overwrite_x=True).transpose(0, 2, 1).reshape(rows, n)


@lru_cache(maxsize=4)
def _turns(n: int, count: int) -> Array:
    """(8, count) turns by part · k / n, put together of few: one k in 256, and those between; kept, as recordings of
    one survey are often as long as one another."""
    turn = -2j * np.pi / n * np.arange(_PARTS)[:, None]
    fine, coarse = (np.exp(turn * k).astype(np.complex64) for k in (np.arange(256), np.arange(0, count, 256)))
    return (coarse[:, :, None] * fine[:, None, :]).reshape(_PARTS, -1)[:, :count]


@lru_cache(maxsize=1)
def _eight() -> Array:
    """The transform of eight as a matrix."""
    return _turns(_PARTS, _PARTS)
