"""How the loudness of a sound goes up and down, and whether all of its spectrum does so together.

A broadband source that is switched by something (the mains, a blade, a valve) is louder and softer in every
sub-band at the same moments. Tones are not: two of them beat where they stand and nowhere else. So the modulation
of a sound is read here in several sub-bands at once, after narrow lines have been taken out, and what most of them
do together counts (the median over the sub-bands).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.sound import long_fft

Array = NDArray[np.float32]

FRAME_HZ = 2090.0  # powers a second: modulation up to 1 kHz; no multiple of the mains, lest its overtones fold onto it
MOST_BANDS = 9  # odd, so that the median is one of them
BLOCK_S = 12.0  # longer recordings are taken in blocks of about this length
_LINE_OVER_FLOOR = 16.0  # exceeded by 1.5e-5 of the bins of noise: exp(-16 ln 2)
_FLOOR_SPAN_HZ = 80.0
_WORTH_TAKING_OUT = 1e-3  # share of the sound; chance marks less
_EDGE_S = 0.06
_AT_ONCE = 1024  # frames: so many fit the cache
_HELD_DB = 45.0  # a bin this far under the strongest one holds the converter's noise, not the sound's


@dataclass(frozen=True)
class Lines:
    """Narrow lines of a spectrum: frequency [Hz], power over that of the whole, and the share of all lines."""

    hz: Array
    share: Array

    @property
    def total(self) -> float:
        return float(self.share.sum())


@dataclass(frozen=True)
class Modulation:
    """Power over time in sub-bands that hold equal parts of the sound.

    bands : (frames, 3 to 9) float32, each over its own mean
    common : (frames,) the natural logarithm of what most sub-bands do together
    frame_hz : frames a second
    edges_hz : (bands + 1,) limits of the sub-bands
    lines : the narrow lines that were taken out before
    """

    bands: Array
    common: Array
    frame_hz: float
    edges_hz: Array
    lines: Lines

    @property
    def seconds(self) -> float:
        return len(self.common) / self.frame_hz


def modulation(samples: Array, rate_hz: float, low_hz: float = 500.0, high_hz: float | None = None) -> Modulation:
    """Sub-band powers of `samples` between `low_hz` and `high_hz`, narrow lines taken out first.

    Valid for recordings of at least 0.1 s; rates of 4 kHz and over.

    Parameters
    ----------
    samples : array, shape (n,) [full scale 1]
    rate_hz : float, samples a second [Hz]
    low_hz, high_hz : float, limits of the band used [Hz]; by default up to 0.47 of the rate
    high_hz : float, upper limit [Hz]

    Raises
    ------
    InputError : fewer than 0.1 s of samples, or limits outside 0 … rate/2

    Notes
    -----
    The squared envelope of a band, as in Randall & Antoni, Mech. Syst. Signal Process. 25 (2011) 485-520, sect. 5,
    by short Hann frames of about 1.3 ms (the closed forms for modulated noise hold for what it returns).
    """
    high = 0.47 * rate_hz if high_hz is None else high_hz
    if not 0 <= low_hz < high <= rate_hz / 2:
        raise InputError("low_hz, high_hz", (low_hz, high), f"0 <= low < high <= {rate_hz / 2} Hz")
    if len(samples) < 0.1 * rate_hz:
        raise InputError("samples", len(samples), f"at least 0.1 s, {round(0.1 * rate_hz)} samples at this rate")
    hop = max(1, round(rate_hz / FRAME_HZ))
    size = _even_size(rate_hz)
    count = max(1, round(len(samples) / rate_hz / BLOCK_S))
    step = -(-len(samples) // count // hop) * hop
    blocks = [samples[i : i + step] for i in range(0, len(samples), step)]
    blocks = [b for b in blocks if len(b) >= size + 2 * hop]
    parts, lines = zip(*(_block(b, rate_hz, size, hop) for b in blocks), strict=True)
    power = np.concatenate(parts) if len(parts) > 1 else parts[0]
    mean = _mean(power)
    edges, owner = _equal_bands(mean, rate_hz / size, low_hz, high)
    inside = (owner[:, None] == np.arange(len(edges) - 1)).astype(np.float32)
    bands = power @ inside
    bands /= mean @ inside + np.float32(1e-30)
    middle = np.partition(bands, bands.shape[1] // 2, axis=1)[:, bands.shape[1] // 2]
    return Modulation(bands, np.log(middle + np.float32(1e-6)), rate_hz / hop, edges, _strongest(lines))


def _even_size(rate_hz: float) -> int:
    """A frame of about 1.3 ms, at least 16 samples, of a length that transforms quickly."""
    return max(16, 2 ** round(np.log2(rate_hz * 1.35e-3)))


def _block(block: Array, rate_hz: float, size: int, hop: int) -> tuple[Array, Lines]:
    from scipy import fft

    clean, lines = _without_lines(np.asarray(block, np.float32), rate_hz)
    frames = np.lib.stride_tricks.sliding_window_view(clean, size)[::hop]
    window = np.hanning(size).astype(np.float32)
    power = np.empty((len(frames), size // 2 + 1), np.float32)
    for at in range(0, len(frames), _AT_ONCE):
        np.square(np.abs(fft.rfft(frames[at : at + _AT_ONCE] * window, axis=1)), out=power[at : at + _AT_ONCE])
    edge = round(_EDGE_S * rate_hz / hop)
    if (
        lines.total > _WORTH_TAKING_OUT and len(power) > 6 * edge
    ):  # what taking out a line leaves of it stands at the ends
        power[:edge] = power[-edge:] = _mean(power[edge:-edge])
    return power, lines


def _mean(rows: Array) -> Array:
    """As a product of matrices: numpy's own mean over so many narrow rows takes five times as long."""
    return np.full(len(rows), 1 / len(rows), np.float32) @ rows


def _without_lines(block: Array, rate_hz: float) -> tuple[Array, Lines]:
    """The block without bins that stand out of their neighbourhood, and what stood in them."""
    from scipy import fft

    n = fft.prev_fast_len(len(block), real=True)
    spectrum = long_fft.rfft(block[:n])
    power = np.square(np.abs(spectrum))
    width = rate_hz / n
    span = max(8, min(round(_FLOOR_SPAN_HZ / width), len(power)))
    whole = len(power) // span * span
    floor = np.partition(power[:whole].reshape(-1, span), span // 2, axis=1)[:, span // 2]
    floor = np.minimum(floor, np.maximum(np.append(floor[1:], floor[-1]), np.append(floor[0], floor[:-1])))
    over = np.repeat(floor, span)
    over = np.append(over, np.full(len(power) - whole, floor[-1], power.dtype))
    marked = np.flatnonzero(power > _LINE_OVER_FLOOR * over + 1e-20)
    marked = marked[marked * width > 20.0]
    total = float(power.sum()) + 1e-30
    starts = np.flatnonzero(np.diff(marked, prepend=-np.inf) > max(2, round(3.0 / width)))  # bins of one line are near
    stands = power[marked].astype(np.float64)
    held = np.add.reduceat(stands, starts) if len(marked) else stands
    middle = np.add.reduceat(marked * stands, starts) / held if len(marked) else held
    lines = Lines((middle * width).astype(np.float32), (held / total).astype(np.float32))
    if lines.total < _WORTH_TAKING_OUT:
        return block, lines
    spectrum[marked] = 0
    return fft.irfft(spectrum, n), lines


def _strongest(lines: tuple[Lines, ...]) -> Lines:
    """The lines of the block that has most of its power in them: a hum or a whine that lasts is in every block."""
    best = max(lines, key=lambda block: block.total)
    keep = np.argsort(best.share)[::-1][:64]
    return Lines(best.hz[keep], best.share[keep])


def _equal_bands(mean: Array, width: float, low: float, high: float) -> tuple[Array, NDArray[np.intp]]:
    """Limits of 3 to 9 sub-bands with equal sums of amplitude, and the band that each bin belongs to (-1: none)."""
    hz = np.arange(len(mean)) * width
    inside = np.flatnonzero((hz >= low - width / 2) & (hz <= high))
    if len(inside) < 3:
        raise InputError("low_hz, high_hz", (low, high), f"a band of at least {3 * width:.0f} Hz")
    held = inside[mean[inside] > mean[inside].max() * 10 ** (-_HELD_DB / 10)]
    if len(held) < 3:  # a very narrow sound: the bins around its peak
        held = np.sort(inside[np.argsort(mean[inside])[-3:]])
    cumulated = np.cumsum(np.sqrt(mean[held]))
    share = np.minimum(cumulated / (cumulated[-1] + 1e-30), 1 - 1e-6)
    bands = min(MOST_BANDS, (len(held) - 1) // 2 * 2 + 1)
    while bands > 3 and len(np.unique((share * bands).astype(np.intp))) < bands:
        bands -= 2  # fewer, lest one has no bin, or half of them nothing but the noise beside a narrow sound
    band = (share * bands).astype(np.intp)
    if len(np.unique(band)) < bands:  # one bin holds more than its part: share the bins out by number
        band = np.arange(len(held)) * bands // len(held)
    owner = np.full(len(mean), -1, np.intp)
    owner[held] = band
    starts = [hz[held[band == i][0]] - width / 2 for i in range(bands)]
    return np.array([*starts, hz[held[-1]] + width / 2], np.float32), owner
