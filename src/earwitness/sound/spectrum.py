"""Power over frequency, and over time and frequency: in blocks, single precision, one core.

Densities are one-sided mean-square full scale per hertz, so that their integral is the mean square of the samples
(Welch, IEEE Trans. Audio Electroacoust. 15 (1967) 70–73; Hann window).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft

from earwitness.errors import InputError

Samples = NDArray[np.float32]
_BLOCK_CELLS = 1 << 19  # samples transformed at once: fits the cache


@dataclass(frozen=True)
class Spectrogram:
    """times_s : (frames,) middle of each frame; freqs_hz : (bins,); density : (frames, bins) float32, per Hz"""

    times_s: NDArray[np.float64]
    freqs_hz: NDArray[np.float64]
    density: NDArray[np.float32]


@dataclass(frozen=True)
class Spectrum:
    """freqs_hz : (bins,); density : (bins,), mean-square full scale per Hz; averages : frames that it is the mean of"""

    freqs_hz: NDArray[np.float64]
    density: NDArray[np.float64]
    averages: int


def spectrogram(samples: Samples, rate_hz: float, *, window_s: float = 0.02, overlap: float = 0.5) -> Spectrogram:
    """Short-time power density of one channel.

    Parameters
    ----------
    samples : (n,) float32, full scale 1, at least one window long [-]
    rate_hz : samples a second [Hz]
    window_s : length of a frame; the resolution is 1.5 over it [s]
    overlap : share of a frame that the next one repeats, 0 to 0.9 [-]
    """
    size, hop = _frame(len(samples), rate_hz, window_s, overlap)
    parts = list(_powers(samples, rate_hz, size, hop))
    density = np.concatenate(parts)
    times = np.arange(len(density), dtype=np.float64) * (hop / rate_hz) + size / 2 / rate_hz
    return Spectrogram(times, fft.rfftfreq(size, 1 / rate_hz), density)


def averaged_spectrum(samples: Samples, rate_hz: float, *, resolution_hz: float = 20.0) -> Spectrum:
    """Welch's average of one channel, half-overlapping Hann frames of about 1.5/resolution_hz seconds.

    Parameters
    ----------
    samples : (n,) float32, full scale 1 [-]
    rate_hz : samples a second [Hz]
    resolution_hz : width of a bin's effective noise band, about [Hz]
    """
    if not resolution_hz > 0:
        raise InputError("resolution_hz", resolution_hz, "more than 0")
    window_s = min(1.5 / resolution_hz, len(samples) / rate_hz)
    size, hop = _frame(len(samples), rate_hz, window_s, 0.5)
    total, count = np.zeros(size // 2 + 1), 0
    for part in _powers(samples, rate_hz, size, hop):
        total += part.sum(axis=0, dtype=np.float64)
        count += len(part)
    return Spectrum(fft.rfftfreq(size, 1 / rate_hz), total / count, count)


def noise_floor(density: NDArray[np.floating], *, width: int = 65) -> NDArray[np.float64]:
    """The level beneath the lines: the median of stretches of `width` bins, joined by straight lines.

    Lines that fill fewer than half the bins of a stretch leave no trace.

    Parameters
    ----------
    density : (bins,) a spectrum of power [any]
    width : bins of a stretch, 3 or more
    """
    if width < 3:
        raise InputError("width", width, "3 or more bins")
    values = np.asarray(density, np.float64)
    if len(values) < 2 * width:
        return np.full(len(values), np.median(values) if len(values) else np.nan)
    stretches = len(values) // width
    medians = np.median(values[: stretches * width].reshape(stretches, width), axis=1)
    middles = (np.arange(stretches) + 0.5) * width - 0.5
    return np.interp(np.arange(len(values)), middles, medians)


def _frame(count: int, rate_hz: float, window_s: float, overlap: float) -> tuple[int, int]:
    if not 0 <= overlap <= 0.9:
        raise InputError("overlap", overlap, "0 to 0.9")
    size = 2 * max(8, round(window_s * rate_hz / 2))
    if fft.next_fast_len(size, real=True) <= count:
        size = fft.next_fast_len(size, real=True)
    if size > count:
        raise InputError("samples", f"{count} samples", f"at least one window of {size}")
    return size, max(1, round(size * (1 - overlap)))


def _powers(samples: Samples, rate_hz: float, size: int, hop: int) -> Iterator[NDArray[np.float32]]:
    window = np.hanning(size + 1)[:-1].astype(np.float32)
    frames = sliding_window_view(np.asarray(samples, np.float32), size)[::hop]
    scale = np.float32(2 / (rate_hz * float(np.sum(np.square(window, dtype=np.float64)))))
    step = max(1, _BLOCK_CELLS // size)
    for at in range(0, len(frames), step):
        cells = fft.rfft(frames[at : at + step] * window, axis=1)
        power = np.square(cells.real)
        power += np.square(cells.imag)
        power *= scale
        power[:, 0] *= 0.5
        if size % 2 == 0:
            power[:, -1] *= 0.5
        yield power
