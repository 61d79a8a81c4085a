"""How deep the loudness of a sound beats: turbulence has no rhythm of its own, insects, blades and choppers have.

The squared sound is averaged over a millisecond, its slow course taken out, and its spectrum looked at for a line.
Noise whose power goes as 1 + m·cos(2πft) has a line of the depth m there; plain noise of bandwidth B heard for T
seconds leaves 2/sqrt(B·T). Single knocks are held down: they bring all lines at once.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Samples = NDArray[np.float32]

_LOUDNESS_HZ = 1000.0
_SLOWEST_HZ, _FASTEST_HZ = 30.0, 400.0
_COURSE_S = 0.25
_MOST = 6.0  # times what is usual within a quarter of a second
_WANDERS_HZ = 1.5  # to either side: what beats on its own does not keep time like a clock
_LEAST_S = 0.5
_KEEPS_TIME_HZ, _NEAR_HZ, _TOLD_S = 0.3, 5.0, 4.0  # blades and choppers do, for as long as one listens; lips do not


def loudness_beat(samples: Samples, rate_hz: float, *, steepness: int = 1) -> float:
    """Depth of the deepest beat of the loudness, 0 to about 2: amplitude of its line over the mean power [1].

    Parameters
    ----------
    samples : (n,) at least 0.5 s, else 0 is returned [full scale 1].
    rate_hz : sampling rate, at least 4,000 [Hz].
    steepness : how often the sound is differenced first, so that hum and rumble count less: 6 dB an octave each.
    """
    hz, lines = _lines(samples, rate_hz, steepness)
    if len(hz) < 2:
        return 0.0
    within = np.convolve(lines, np.ones(2 * round(_WANDERS_HZ / hz[1]) + 1), "same")
    return float(np.sqrt(within.max()))


def beat_wandering(samples: Samples, rate_hz: float, *, steepness: int = 1) -> float:
    """How much of the deepest beat does not keep time: part of its power within 5 Hz that lies more than 0.3 Hz from
    its line [1]. What turns keeps time; what flutters by itself seldom does.

    Parameters
    ----------
    samples : (n,) at least 4 s, else 0 is returned [full scale 1].
    rate_hz : sampling rate, at least 4,000 [Hz].
    steepness : as of `loudness_beat`.
    """
    hz, lines = _lines(samples, rate_hz, steepness)
    if len(samples) < _TOLD_S * rate_hz or not lines.any():
        return 0.0
    away = np.abs(hz - hz[int(lines.argmax())])
    return float(1 - lines[away <= _KEEPS_TIME_HZ].sum() / lines[away <= _NEAR_HZ].sum())


def _lines(samples: Samples, rate_hz: float, steepness: int) -> tuple[Array, Array]:
    """Frequencies, and the power of the lines of the loudness there over its mean, less that of noise."""
    hop = round(rate_hz / _LOUDNESS_HZ)
    sound = np.diff(samples, steepness)
    count = len(sound) // hop
    if count < _LEAST_S * _LOUDNESS_HZ:
        return np.zeros(0), np.zeros(0)
    loudness = np.square(sound[: count * hop]).reshape(count, hop).mean(axis=1, dtype=np.float64)
    block = round(_COURSE_S * _LOUDNESS_HZ)
    usual = np.median(loudness[: count // block * block].reshape(-1, block), axis=1)
    if usual.min() <= 0:
        return np.zeros(0), np.zeros(0)
    loudness /= np.interp(np.arange(count), block * (np.arange(len(usual)) + 0.5), usual)
    np.minimum(loudness, _MOST, out=loudness)
    lines = np.abs(np.fft.rfft(loudness / loudness.mean() - 1)) ** 2 * (2 / count) ** 2
    hz = np.fft.rfftfreq(count, hop / rate_hz)
    heard = (hz > _SLOWEST_HZ) & (hz < _FASTEST_HZ)
    lines = np.maximum(lines - np.median(lines[heard]) / np.log(2), 0)
    lines[~heard] = 0
    return np.asarray(hz, dtype=np.float64), np.asarray(lines, dtype=np.float64)
