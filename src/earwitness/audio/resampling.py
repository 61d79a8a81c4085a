"""Change the sampling rate without aliases (soxr; its images lie 140 dB down)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError


def resample(samples: NDArray[np.float32], from_hz: float, to_hz: float) -> NDArray[np.float32]:
    """The same sound, (n,) or (n, channels), at `to_hz` samples a second."""
    if not (from_hz > 0 and to_hz > 0):
        raise InputError("to_hz", to_hz, "a positive rate in samples a second")
    if from_hz == to_hz or len(samples) == 0:
        return samples.astype(np.float32, copy=False)
    import soxr

    return np.asarray(soxr.resample(samples.astype(np.float32, copy=False), from_hz, to_hz), dtype=np.float32)
