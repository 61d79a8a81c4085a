"""How the strength of a sound comes and goes: squared envelope spectra of the whole band or of a part of it.

One real FFT of the whole recording serves everything: a band is cut from its bins and turned back short, which
demodulates and decimates in one step (Randall, Antoni & Chobsaard, MSSP 15 (2001) 945-962: the squared envelope's
spectrum shows cyclic impacts; Smith & Randall, MSSP 64-65 (2015) 100-131, for the preparations beside it).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.sound import long_fft

Array = NDArray[Any]

_STEPS = 192  # bins come in multiples of this, so that bands of 1/2, 1/3, 1/4 … and whole decimations come out even
_FLOOR_LINES = 64  # lines over which the local noise of an envelope spectrum is taken
_LEAST_Z = 0.3  # deviations: a smeared line that is less beyond its mean says under ln 2 nats, and that is nothing
CAP = 12.0  # nats that one line can say at most: a lone line convicts nobody


@dataclass(frozen=True)
class Whole:
    """The one-sided spectrum of a whole recording, without its last bin. bins : (m,), seconds : its length."""

    bins: Array
    seconds: float

    @property
    def top_hz(self) -> float:
        return len(self.bins) / self.seconds

    @cached_property
    def size(self) -> Array:
        """Of each bin."""
        return np.abs(self.bins)

    def prewhitened(self) -> Whole:
        """Cepstrum pre-whitening: every bin to size one, its phase kept, so that no tone and no resonance outweighs
        the rest. (Editing the real cepstrum to zero is the same as X/|X|; Borghesani et al., MSSP 36 (2013) 370-384.)
        """
        return self._times(1 / np.maximum(self.size, np.finfo(np.float32).tiny))

    def without_tones(self, times: float = 4.0) -> Whole:
        """Discrete/random separation: bins that stand out of their 20 Hz neighbourhood are cut back to its size.

        Parameters
        ----------
        times : float, how far over the neighbourhood's median size a bin may stand [ratio]
        """
        left = _local_median(self.size, max(16, round(20 * self.seconds)))
        left *= np.float32(times)
        left /= np.maximum(self.size, np.float32(1e-30))
        return self._times(np.minimum(left, 1, out=left))

    def _times(self, gain: Array) -> Whole:
        """Each bin so many times as large: real and imaginary part by themselves, which takes half as long."""
        bins = np.empty_like(self.bins)
        np.multiply(self.bins.real, gain, out=bins.real)
        np.multiply(self.bins.imag, gain, out=bins.imag)
        return Whole(bins, self.seconds)

    def band_power(self, low_hz: float, high_hz: float) -> Array:
        """Squared envelope of the band low_hz…high_hz, at (high - low) samples a second.

        Critical sampling is enough: the squared envelope's spectrum is triangular, so what folds onto the slow lines
        comes from its empty upper end.

        Parameters
        ----------
        low_hz : float [Hz]
        high_hz : float [Hz]
        """
        from scipy.fft import ifft

        if not 0 <= low_hz < high_hz <= self.top_hz * (1 + 1e-9):
            raise InputError("low_hz, high_hz", f"{low_hz:g}…{high_hz:g} Hz", f"a band within 0…{self.top_hz:g} Hz")
        first, last = round(low_hz * self.seconds), round(high_hz * self.seconds)
        return np.square(np.abs(ifft(self.bins[first:last], norm="forward")))


@dataclass(frozen=True)
class EnvelopeSpectrum:
    """Lines of the squared envelope over its mean. freq_hz : (n,), amplitude : (n,), peak amplitude over the mean."""

    freq_hz: Array
    amplitude: Array


def whole_spectrum(samples: Array, rate_hz: float) -> Whole:
    """The spectrum of a recording, its end trimmed by at most a few per cent to a length that transforms fast.

    Parameters
    ----------
    samples : (n,) float32 [full scale 1]
    rate_hz : float, samples a second [Hz]

    Returns
    -------
    Whole : bins scaled so that a sine of amplitude a stands as a.

    Raises
    ------
    InputError : fewer than 384 samples.

    Examples
    --------
    >>> t = np.arange(9600) / 9600
    >>> w = whole_spectrum(np.sin(2 * np.pi * 100 * t).astype(np.float32), 9600)
    >>> round(float(abs(w.bins[100])), 3)
    1.0
    """
    n = _even_length(len(samples))
    bins = long_fft.rfft(np.asarray(samples[:n], dtype=np.float32))[: n // 2]
    bins *= np.float32(2 / n)
    bins[0] = 0  # a constant is no sound
    return Whole(bins, n / rate_hz)


def _even_length(count: int) -> int:
    """The largest multiple of 2 * 192 up to `count` whose factors are all small."""
    blocks = count // (2 * _STEPS)
    if blocks < 1:
        raise InputError("samples", f"{count} samples", f"at least {2 * _STEPS}")
    while not _smooth(blocks):
        blocks -= 1
    return blocks * 2 * _STEPS


def _smooth(n: int) -> bool:
    for p in (2, 3, 5, 7):
        while n % p == 0:
            n //= p
    return n == 1


def medians(rows: Array) -> Array:
    """Median over the last axis, as numpy.median has it; of many short rows in a tenth of the time.

    Parameters
    ----------
    rows : (..., n) [any]

    Examples
    --------
    >>> medians(np.array([[3.0, 1.0, 2.0, 8.0], [1.0, 1.0, 1.0, 1.0]])).tolist()
    [2.5, 1.0]
    """
    n = rows.shape[-1]
    return np.asarray(np.sort(rows, axis=-1)[..., (n - 1) // 2 : n // 2 + 1].mean(axis=-1))


def _local_median(values: Array, block: int) -> Array:
    """Median of each block of `block` neighbours (last axis), spread back over them."""
    n = values.shape[-1]
    count = n // block
    if count < 2:
        return np.broadcast_to(np.median(values, axis=-1, keepdims=True), values.shape).astype(np.float32)
    blocks = values[..., : count * block].reshape(*values.shape[:-1], count, block)
    some = blocks[..., :: max(1, block // 48)]  # some fifty of them tell the median well
    middle = some.shape[-1] // 2
    medians = np.partition(some, middle, axis=-1)[..., middle]
    ramp = ((np.arange(block) + (0.5 if block % 2 == 0 else 0.0)) / block).astype(np.float32)
    spread = np.empty(values.shape, dtype=np.float32)
    start, stop = block // 2, block // 2 + (count - 1) * block
    between = medians[..., :-1, None] + (medians[..., 1:, None] - medians[..., :-1, None]) * ramp
    spread[..., start:stop] = between.reshape(*values.shape[:-1], -1)
    spread[..., :start], spread[..., stop:] = medians[..., :1], medians[..., -1:]
    return spread


def envelope_spectrum(power: Array, rate_hz: float, limit_hz: float) -> EnvelopeSpectrum:
    """Spectrum of a squared envelope over its mean, up to limit_hz.

    (1 + m·cos 2πFt)·cos 2πf0t gives a line 2m/(1 + m²/2) at F and (m²/2)/(1 + m²/2) at 2F.

    Parameters
    ----------
    power : (n,) squared envelope [any power]
    rate_hz : float, samples of it a second [Hz]
    limit_hz : float, highest line wanted [Hz]
    """
    mean = float(power.mean()) or 1.0
    lines = _lines(power / np.float32(mean) - 1, rate_hz, limit_hz, tapered=False)
    return EnvelopeSpectrum((np.arange(len(lines)) * (rate_hz / len(power))).astype(np.float32), lines)


def _lines(x: Array, rate_hz: float, limit_hz: float, tapered: bool = True) -> Array:
    """Peak amplitudes of the lines of `x` up to limit_hz: averaged down first, since only slow lines are wanted."""
    from scipy.fft import rfft

    factor = 1
    for step in (3, 2, 2, 2, 2, 2, 2):
        if x.shape[-1] % (step * factor) == 0 and rate_hz / (step * factor) >= 2.5 * limit_hz:
            factor *= step
    if factor > 1:
        x = x.reshape(*x.shape[:-1], -1, factor) @ np.full(factor, 1 / factor, dtype=x.dtype)
    n = x.shape[-1]
    window = hann(n) if tapered else np.ones(1, dtype=np.float32)
    count = min(n // 2, math.ceil(limit_hz * n * factor / rate_hz) + 1)
    scale = np.float32((4 if tapered else 2) / n)
    lines = np.abs(rfft(x * window)[..., :count]) * scale
    if factor > 1:  # averaging took some off the faster lines
        lines[..., 1:] *= _taken_off(n, factor)[: count - 1]
    return lines


@lru_cache(maxsize=8)
def _taken_off(n: int, factor: int) -> Array:
    """By how much averaging over `factor` samples makes each of n/2 lines too small, but for the one at 0 Hz."""
    turn = np.pi / (n * factor) * np.arange(1, n // 2)
    return (factor * np.sin(turn) / np.sin(factor * turn)).astype(np.float32)


@lru_cache(maxsize=8)
def hann(n: int) -> Array:
    """(n,) Hann's window, periodic [1] (Harris, Proc. IEEE 66 (1978) 51-83); kept, as it costs as much as its use."""
    return (0.5 - 0.5 * np.cos(2 * np.pi / n * np.arange(n, dtype=np.float32))).astype(np.float32)


def envelope_lines(power: Array, rate_hz: float, limit_hz: float) -> tuple[Array, Array]:
    """Lines of the squared envelope over its mean, and of its logarithm, both through a Hann window.

    The square keeps the weight of strong impacts; the logarithm is not carried away by a single clatter
    (Borghesani & Antoni, MSSP 99 (2018) 1-20: the log-envelope spectrum under impulsive noise).

    Parameters
    ----------
    power : (..., n) squared envelope, several of one length at a time [any power]
    rate_hz : float, samples of it a second [Hz]
    limit_hz : float, highest line wanted [Hz]
    """
    mean = power.mean(axis=-1, keepdims=True)
    both = np.empty((2, *power.shape), np.float32)  # four rows and more transform in half of the time
    square, log = both
    np.divide(power, np.where(mean > 0, mean, 1), out=square)
    np.log(square + np.float32(1e-2), out=log)
    square -= 1
    log -= log.mean(axis=-1, keepdims=True)
    squared, logged = _lines(both, rate_hz, limit_hz)
    return squared, logged


def noise_power(amplitude: Array) -> Array:
    """Local mean power of noise lines, from the median of 64 neighbours (an exponential's median is ln 2 its mean).

    Parameters
    ----------
    amplitude : (..., n) lines, evenly spaced from 0 Hz [any]
    """
    return np.maximum(_local_median(np.square(amplitude), _FLOOR_LINES) / np.float32(math.log(2)), 1e-20)


def surprise(amplitude: Array, noise: Array, smear: float = 0.002) -> Array:
    """How surprising each line would be in noise alone: -ln of the chance, in nats, at most 12.

    The power of a noise line is exponential about its local mean; a line smeared by slip is looked for as well, by
    the mean over f·(1 ± smear), whose chance follows Wilson & Hilferty's cube root (PNAS 17 (1931) 684). Two looks
    at each line cost ln 2.

    Parameters
    ----------
    amplitude : (..., n) lines, evenly spaced from 0 Hz [any]
    noise : (..., n) their local noise power, see `noise_power` [any power]
    smear : float, half width of a smeared line over its frequency [ratio]
    """
    ratio = np.square(amplitude) / noise
    n = ratio.shape[-1]
    first, low, high, middle, root, least = _smears(n, smear)
    width = high - low
    for row in ratio.reshape(-1, n):  # row by row: what is at hand in the processor's cache is quick
        total = np.zeros(n + 1)
        np.cumsum(np.minimum(row, 50.0), dtype=np.float64, out=total[1:])
        sums = total.take(high) - total.take(low)
        rare = np.flatnonzero(sums > least)
        z = (np.cbrt(sums[rare] / width[rare]) - middle[rare]) * root[rare]
        row[first + rare] = np.maximum(row[first + rare], z * z / 2 + np.log1p(2.5 * z))
    return np.clip(ratio - math.log(2), 0, CAP).astype(np.float32)


@lru_cache(maxsize=8)
def _smears(n: int, smear: float) -> tuple[int, Array, Array, Array, Array, Array]:
    """Of n lines: the first that a smear reaches beyond itself; from it on where the smears begin and end, middle and
    inverse spread of the cube root of their mean in noise, and the sum that would say ln 2 nats (or hardly less)."""
    half = np.floor(smear * np.arange(n)).astype(np.intp)
    first = int(np.searchsorted(half, 1))
    k = np.arange(first, n)
    low, high = k - half[first:], np.minimum(k + half[first:] + 1, n)
    free = np.maximum((high - low) / 1.5, 1.0)  # neighbours share the Hann window
    middle, root = 1 - 1 / (9 * free), np.sqrt(9 * free)
    return first, low, high, middle, root, np.power(middle + _LEAST_Z / root, 3) * (high - low)
