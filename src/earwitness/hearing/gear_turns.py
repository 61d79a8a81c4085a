"""A gear's sound told turn by turn: how loud it is over the wheels' angle instead of over time.

Order tracking and synchronous averaging (McFadden, MSSP 1 (1987) 83-95), in three steps: the sound is levelled over
frequency and squared, whole and in bands, which gives its strength over time; the wheels' clock is read off it
(hearing/gear_clock.py); the strength is read again at even angles, where all that the wheels do falls on whole orders.

The square of the whole sound is taken of its samples, not of its envelope: an oscillator folds both sides of itself
onto each other, and their sum shows strengths that come and go up to twice as fast as the audio is wide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.gear_clock import COMB, Clock, Pair, clock_of
from earwitness.sound.envelope import Whole, hann, medians, whole_spectrum
from earwitness.sound.orders import Lines, log10_chance

Array = NDArray[Any]

MATES = range(8, 251)  # teeth that a mate may have
MESHES = 3  # multiples of the mesh frequency looked at
SKIRT_TURNS = 20.0  # sidebands of a wheel that made fewer lie in the skirts of the mesh, whose speed sways
LONGEST_S = 30.0  # more of a steady machine says no more
_BANDS = 6
_FINE = 4.0  # readings per period of the fastest line
_FASTEST_MATE = 2.0  # of what is guessed: a bearing's blows come more than twice a turn
_MATE_CERTAIN = 4.0  # decades beyond chance


@dataclass(frozen=True)
class Strength:
    """How loud a part of the sound is over time. power : (n,) at rate_hz; low_hz, high_hz : the part; folded : whether
    it is the square of the samples themselves."""

    name: str
    power: Array
    rate_hz: float
    low_hz: float
    high_hz: float
    folded: bool = False

    @property
    def seconds(self) -> float:
        return len(self.power) / self.rate_hz

    @property
    def top_hz(self) -> float:
        """Fastest swelling worth looking for."""
        return min(0.45 * self.rate_hz, 1.6 * self.high_hz if self.folded else 0.8 * (self.high_hz - self.low_hz))

    def shows(self, hz: float) -> float:
        """How much of a swelling `hz` times a second is left: pairs of frequencies `hz` apart (or, folded, `hz` in
        sum) that both lie within the part, over those at rest."""
        width = self.high_hz - self.low_hz
        pairs = 2 * max(width - hz, 0.0)
        if self.folded:
            pairs += max(min(self.high_hz, hz - self.low_hz) - max(self.low_hz, hz - self.high_hz), 0.0)
        return min(pairs / (2 * width), 1.0)


@dataclass(frozen=True)
class Turned:
    """Lines over orders (turns of the named wheel make order 1) of the strength in all views, the first being the
    whole and each beside its logarithm.

    hz : mean speed; locked : whether it is heard; turned : the strengths at even angles over their means, one a view;
    tones : lines of a sensor's own waveform, or None; whole : the spectrum that all of it came from
    """

    lines: Lines
    hz: float
    locked: bool
    strengths: tuple[Strength, ...]
    turned: tuple[Array, ...]
    kurtosis: float
    tones: Lines | None
    whole: Whole

    @classmethod
    def of(cls, samples: Array, rate_hz: float, pair: Pair, waveform: bool) -> Turned:
        """waveform : whether the samples are the sensor's own, so that tones of the mesh may be heard as such."""
        longest = int(LONGEST_S * rate_hz)
        start = max(0, (len(samples) - longest) // 2)
        whole = whole_spectrum(samples[start : start + longest], rate_hz)
        fastest = pair.speed_hz * max(pair.wheels)
        limit_hz = max((MESHES + 0.3) * (pair.teeth or 0) * pair.speed_hz, 1.1 * COMB * fastest)
        strengths, kurtosis = _strengths(whole, limit_hz, max(2 * COMB * fastest, 500.0))
        first = strengths[0]
        clock = clock_of(first.power, first.rate_hz, first.top_hz, pair, _slow(whole, first) if waveform else None)
        lines, turned = _over_angle(strengths, clock, pair)
        if not clock.locked:
            right = _settled(lines, pair)
            if abs(right - 1) * COMB * clock.span > 0.5:  # half a line at the last multiple
                clock = clock.corrected(right)
                lines, turned = _over_angle(strengths, clock, pair)
        top = (MESHES + 0.3) * pair.teeth if waveform and pair.teeth else None
        tones = _tones(whole, clock, first.seconds, top) if top else None
        hz = clock.span / first.seconds
        return cls(lines, hz, clock.locked, tuple(strengths), turned, kurtosis, tones, whole)

    def average(self, view: int, ratio: float) -> Array:
        """Strength over the angle of a wheel, mean over its turns, 4 × COMB points."""
        power = self.turned[view]
        turns = ratio / self.lines.step_hz
        at = (np.arange(len(power)) * (turns * 4 * COMB / len(power))).astype(np.intp) % (4 * COMB)
        return np.bincount(at, power, 4 * COMB) / np.maximum(np.bincount(at, minlength=4 * COMB), 1)

    def likely_mate(self, pair: Pair) -> float | None:
        """Turns of a mate whose teeth are not known to one of the named wheel: the mesh over a whole number of teeth.
        The one whose comb or sidebands stand out most, if that is beyond chance."""
        if pair.teeth is None:
            return None
        fewest, most = pair.teeth / _FASTEST_MATE, pair.teeth / (SKIRT_TURNS * self.lines.step_hz)
        ratios = pair.teeth / np.array([z for z in MATES if z != pair.teeth and fewest <= z <= most])
        if not len(ratios):
            return None
        comb = np.multiply.outer(ratios, np.arange(1, COMB + 1))
        sides = [pair.teeth * m + np.multiply.outer(ratios, [-2, -1, 1, 2]) for m in (1, 2)]
        lines, best, likely = self.lines, _MATE_CERTAIN, None
        for orders in (comb, np.concatenate(sides, axis=1)):
            index = np.rint(orders / lines.step_hz).astype(np.intp)
            own = np.abs(orders - np.rint(orders)) < 3 * lines.step_hz  # the named wheel's
            usable = (index < lines.surprise.shape[1]) & ~own
            said = lines.surprise[:, np.minimum(index, lines.surprise.shape[1] - 1)] * usable
            counts = np.broadcast_to(usable.sum(axis=1), said.shape[:2])
            chance = log10_chance(said.sum(axis=2), counts).min(axis=0)
            beyond = -float(chance.min()) - math.log10(len(ratios) * len(lines.names))
            if beyond > best:
                best, likely = beyond, float(ratios[chance.argmin()])
        return likely


def _slow(whole: Whole, like: Strength) -> Array:
    """The sound itself, as far down as a strength's samples show it."""
    from scipy.fft import irfft

    count = len(like.power)
    bins = whole.bins[: count // 2 + 1]
    return irfft(bins, count, norm="forward").astype(np.float32) if len(bins) > 1 else np.zeros(count, np.float32)


def _over_angle(strengths: list[Strength], clock: Clock, pair: Pair) -> tuple[Lines, tuple[Array, ...]]:
    """Lines over orders of each strength and of its logarithm, which no single knock carries away, over a whole number
    of turns; the strengths at even angles."""
    turns = max(1, int(clock.span))
    hz = clock.span / strengths[0].seconds
    comb = 1.2 * COMB * max(pair.wheels)
    views, turned = [], []
    for alike in (strengths[:1], strengths[1:]):  # the whole; the bands have the same steps
        one, top = alike[0], comb
        if one.folded:
            top = max(comb, (MESHES + 0.3) * (pair.teeth or 0))
        thin = max(1, int(len(one.power) / (_FINE * comb * clock.span)))
        at = _even(clock, len(one.power), one.rate_hz, thin)
        count = min(round(min(top, one.top_hz / hz) * turns), len(at[0]) // 2)
        left = _left(np.arange(count) * (hz / turns / one.rate_hz))
        power = _drawn(np.stack([s.power for s in alike]), at)
        mean = power.mean(axis=1, keepdims=True)
        power /= np.where(mean > 0, mean, 1)
        calm = np.log(_thinned(power, thin) + np.float32(0.05))
        own = _lines(power - 1, count) / left
        logged = _lines(calm - calm.mean(axis=1, keepdims=True), min(count, round(comb * turns)))
        for row, s in enumerate(alike):
            views += [(s.name, own[row]), (f"{s.name}, log", logged[row])]
            turned += [power[row], power[row]]
    return Lines.seen_in(views, 1 / turns), tuple(turned)


def _left(cycles: Array) -> Array:
    """What thinning and drawing straight leave of a swelling of so many cycles a sample."""
    once = np.sinc(cycles).astype(np.float32)
    return once * once * once


def _settled(lines: Lines, pair: Pair) -> float:
    """By how much the clock runs wrong in the mean, by the wheel whose multiples stand out most; 1 if none does."""
    heard = [(*reversed(lines.shaft_speed(wheel, 0.01)), wheel) for wheel in pair.wheels]
    score, order, wheel = max(heard)
    return order / wheel if score > 6 else 1.0


def _strengths(whole: Whole, limit_hz: float, narrowest_hz: float) -> tuple[list[Strength], float]:
    """Strength over time of the whole sound and of bands of it, and the greatest kurtosis among those."""
    from scipy.fft import ifft, irfft, prev_fast_len

    levelled, low, high = _levelled(whole)
    count = 2 * len(whole.bins)
    samples = irfft(levelled.bins, count, norm="forward")
    rate = count / whole.seconds
    factor = max(1, int(rate / (_FINE * limit_hz)))
    power = _thinned(np.square(samples, out=samples), factor)
    strengths = [Strength("whole", power, rate / factor, low, high, folded=True)]
    kurtosis = -1.0
    parts = int(np.clip((high - low) / narrowest_hz, 1, _BANDS))
    first = round(low * whole.seconds)
    width = prev_fast_len((round(high * whole.seconds) - first) // parts)
    width_hz = width / whole.seconds
    factor = max(1, int(width_hz / (_FINE * narrowest_hz / 2)))
    turned = ifft(levelled.bins[first : first + parts * width].reshape(parts, width), norm="forward")
    for k, power in enumerate(np.square(np.abs(turned))):
        edges = low + k * width_hz, low + (k + 1) * width_hz
        name = f"{edges[0] / 1000:.2g} to {edges[1] / 1000:.2g} kHz"
        strengths.append(Strength(name, _thinned(power, factor), width_hz / factor, *edges))
        pieces = power[: len(power) // 8 * 8].reshape(8, -1)
        kurtosis = max(kurtosis, float(np.median((pieces**2).mean(axis=1) / pieces.mean(axis=1) ** 2)) - 2)
    return strengths, kurtosis


def _levelled(whole: Whole, times: float = 2.5) -> tuple[Whole, float, float]:
    """The sound with every 50 Hz as strong as the next, tones cut back, and where it is more than the recorder's
    floor: 30 dB below the strongest."""
    size = whole.size
    block = max(8, round(50 * whole.seconds))
    count = max(1, len(size) // block)
    level = medians(size[: count * block].reshape(count, -1)[:, :: max(1, block // 64)])
    heard = np.flatnonzero(level > 0.03 * level[min(4, count - 1) :].max())
    first, last = (int(heard[0]), int(heard[-1]) + 1) if len(heard) else (0, count)
    inside = slice(first * block, last * block)
    most = times / np.maximum(size[inside].reshape(-1, block), 1e-30)
    np.minimum(1 / np.maximum(level[first:last, None], 1e-30), most, out=most)
    bins = np.zeros(len(whole.bins), whole.bins.dtype)
    np.multiply(whole.bins[inside], most.ravel(), out=bins[inside])
    return Whole(bins, whole.seconds), first * block / whole.seconds, last * block / whole.seconds


def _thinned(power: Array, factor: int) -> Array:
    """Means of `factor` neighbours, as a product: numpy is slow along a short axis."""
    whole = power.shape[-1] // factor * factor
    return power[..., :whole].reshape(*power.shape[:-1], -1, factor) @ np.full(factor, 1 / factor, power.dtype)


def _even(clock: Clock, samples: int, rate_hz: float, thin: int = 1) -> tuple[NDArray[np.intp], Array]:
    """Where even steps over a whole number of turns lie among so many samples: the sample before each, and how far on
    to the next. So many steps that they, and the means of `thin` of them, transform fast."""
    from scipy.fft import next_fast_len

    turns = max(1, int(clock.span))
    count = thin * next_fast_len(-(-round(samples * turns / clock.span) // thin), real=True)
    at = clock.reaches(clock.turns[0] + np.arange(count) * (turns / count)) * rate_hz - 0.5
    np.clip(at, 0, samples - 1, out=at)
    before = np.minimum(at.astype(np.intp), samples - 2)
    return before, (at - before).astype(np.float32)


def _drawn(power: Array, at: tuple[NDArray[np.intp], Array]) -> Array:
    """The strength there, drawn straight from sample to sample."""
    before, part = at
    drawn = power.take(before + 1, axis=-1)
    here = power.take(before, axis=-1)
    drawn -= here
    drawn *= part
    drawn += here
    return drawn


def _lines(x: Array, count: int) -> Array:
    """Peak amplitudes of the first lines of `x`, through a Hann window."""
    from scipy.fft import rfft

    n = x.shape[-1]
    return np.abs(rfft(x * hann(n))[..., : min(count, n // 2)]) * np.float32(4 / n)


def _tones(whole: Whole, clock: Clock, seconds: float, top_order: float) -> Lines | None:
    """Lines of the waveform itself over orders, up to three times the mesh and its sidebands."""
    from scipy.fft import irfft, next_fast_len

    top_hz = min(1.05 * top_order * clock.span / seconds, whole.top_hz)
    low = whole.bins[: int(top_hz * whole.seconds)]
    count = next_fast_len(8 * len(low), real=True)  # four times finer than need be: what lies between is drawn straight
    if count < 64:
        return None
    wave = irfft(low, count, norm="forward")
    even = _drawn(wave, _even(clock, count, count / whole.seconds))
    turns = max(1, int(clock.span))
    return Lines.seen_in([("tones", _lines(even, int(top_order * turns)))], 1 / turns)
