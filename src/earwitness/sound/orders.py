"""Families of lines in an envelope spectrum: a fundamental with its harmonics, and sidebands at a known spacing.

Each line brings its surprise (see envelope.surprise), which in noise alone is exponential; the sum over k lines is
then a Gamma(k) variate (Fisher's method of combining probabilities, 1932), and the chance of the best family is
multiplied by the number of looks: candidates in the range × views × counts of harmonics tried.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.envelope import CAP, noise_power, surprise

Array = NDArray[Any]
Mask = NDArray[np.bool_]

HARMONICS = 8
_COUNTS = (1, 2, 3, 4, 6, 8)  # families of so many harmonics are tried
_SIDED = 4  # the same, with sidebands
_SHAFT_STANDS = 16.0  # times the noise; chance 1e-7 a line
_STANDS_OUT = 5.0  # nats from which a line counts as found (1 in 150 by chance)


@dataclass(frozen=True)
class Family:
    """The best family in a range. score : -log10 of its chance in noise, looks accounted for; found_hz : the
    harmonics that stand out; depth : amplitude of its first four lines together, over the mean."""

    hz: float
    score: float
    view: int
    found_hz: tuple[float, ...] = field(default=())
    depth: float = 0.0


@dataclass(frozen=True)
class Lines:
    """Envelope lines seen in several views (bands, preparations), all with the same spacing.

    surprise, amplitude, noise : (views, n), noise being the local mean power of lines; step_hz : their spacing;
    names : one a view
    """

    surprise: Array
    amplitude: Array
    noise: Array
    step_hz: float
    names: tuple[str, ...]

    @classmethod
    def seen_in(cls, views: Sequence[tuple[str, Array]], step_hz: float) -> Lines:
        """From (name, amplitudes of lines) of each view; a view may end early (a narrow band shows slow lines only)."""
        shape = len(views), max(len(amplitude) for _, amplitude in views)
        surprises, amplitudes = (np.zeros(shape, dtype=np.float32) for _ in range(2))
        noise = np.ones(shape, dtype=np.float32)
        for row, (_, amplitude) in enumerate(views):
            n = len(amplitude)
            level = noise_power(amplitude)
            amplitudes[row, :n], noise[row, :n] = amplitude, level
            surprises[row, :n] = surprise(amplitude, level)
        return cls(surprises, amplitudes, noise, step_hz, tuple(name for name, _ in views))

    def one(self, view: int) -> Lines:
        """One view alone. view : its number, from 0 [1]"""
        row = slice(view, view + 1)
        return Lines(self.surprise[row], self.amplitude[row], self.noise[row], self.step_hz, (self.names[view],))

    @cached_property
    def _peaks(self) -> Mask:
        """Which lines are, give or take one, the highest of the thirteen about them, in the view that hears most."""
        loud = (np.square(self.amplitude) / self.noise).max(axis=0)
        padded = np.pad(loud, 6)
        four = np.maximum.reduce([padded[i : len(padded) - 3 + i] for i in range(4)])
        highest = np.maximum.reduce([four[i : i + len(loud)] for i in (0, 4, 8, 9)])
        beside = np.maximum(loud, np.maximum(padded[5:-7], padded[7:-5]))
        return np.asarray(beside >= highest)

    @property
    def top_hz(self) -> float:
        return (self.surprise.shape[1] - 1) * self.step_hz

    def near_multiples(
        self, fundamentals_hz: Sequence[float], at_most: float = math.inf, skirt: float = 0.0, peaked: bool = False
    ) -> Mask:
        """Which lines lie on a multiple of one of `fundamentals_hz`: within two line spacings (six
        where a strong line spills over), or at_most if that is less.

        Parameters
        ----------
        fundamentals_hz : frequencies whose multiples are meant [Hz]
        at_most : float, widest half width [Hz]
        skirt : float, half width of a strong line over its frequency, where the speed wanders [ratio]
        peaked : whether a line counts as strong only where it peaks on the multiple itself, not close beside it
        """
        n = self.surprise.shape[1]
        at = np.arange(n) * self.step_hz
        near = np.zeros(n, dtype=bool)
        strong = self.surprise.max(axis=0) >= 0.9 * CAP
        strong[1:-1] |= strong[:-2] | strong[2:]
        for fundamental in fundamentals_hz:
            multiple = np.maximum(np.round(at / fundamental), 1) * fundamental
            middle = np.minimum(np.rint(multiple / self.step_hz).astype(np.intp), n - 1)
            spills = strong[middle]
            if peaked:
                spills &= self._peaks[middle]
            wide = np.maximum(6.0 * self.step_hz, skirt * multiple)
            reach = np.minimum(np.where(spills, wide, 2.0 * self.step_hz), at_most)
            near |= np.abs(at - multiple) <= reach
        return near

    def best_family(
        self, low_hz: float, high_hz: float, avoid: Mask | None = None, nominal_hz: float | None = None
    ) -> Family:
        """The most surprising family whose fundamental lies in low_hz…high_hz.

        Parameters
        ----------
        low_hz : float [Hz]
        high_hz : float [Hz]
        avoid : lines that say nothing, because something else stands there; they count neither for nor against
        nominal_hz : float or None, expected fundamental: half a decade is taken off at 2 % from it, one at 3 % [Hz]
        """
        step = self.step_hz / 4
        candidates = np.arange(max(low_hz, 1.5 * self.step_hz), min(high_hz, self.top_hz) + step / 2, step)
        if len(candidates) == 0:
            return Family((low_hz + high_hz) / 2, 0.0, 0)
        harmonics = np.arange(1, HARMONICS + 1)
        index = np.rint(candidates[:, None] * harmonics / self.step_hz).astype(np.intp)
        usable = index < self.surprise.shape[1]
        index = np.where(usable, index, 0)
        if avoid is not None:
            usable &= ~avoid[index]
        total = np.zeros((len(self.names), len(candidates)), self.surprise.dtype)
        largest = []  # over the views, of the sums of 1, 2, … lines
        for line, says in zip(index.T, usable.T, strict=True):
            total += self.surprise[:, line] * says
            largest.append(total.max(axis=0))
        tried = np.array(_COUNTS) - 1
        sums, counts = np.stack(largest, axis=1)[:, tried], np.cumsum(usable, axis=1)[:, tried]
        if nominal_hz is None:
            chance = _least_chance(sums, counts)
        else:
            off = np.abs(candidates / nominal_hz - 1)
            chance = log10_chance(sums, counts) + np.clip(50 * (off - 0.01), 0, 1)[:, None]
        at, count = np.unravel_index(int(chance.argmin()), chance.shape)
        own = self.surprise[:, index[at]] * usable[at]
        view = int(np.cumsum(own, axis=1)[:, tried[count]].argmax())
        looks = max(len(candidates) / 4, 1) * len(self.names) * len(_COUNTS)
        score = max(0.0, -float(chance[at, count]) - math.log10(looks))
        stands = own[view] >= _STANDS_OUT
        first = index[at, :4][usable[at, :4]]
        depth = float(np.sqrt(np.sum(self.amplitude[view, first] ** 2)))
        return Family(float(candidates[at]), score, view, tuple((candidates[at] * harmonics[stands]).tolist()), depth)

    def sided_family(self, low_hz: float, high_hz: float, spacing_hz: float, avoid: Mask) -> float:
        """-log10 of the chance, in noise, of the most surprising family of one to four harmonics, each with a sideband
        to either side, looks accounted for: of what turns through its load, many faint lines say together what none
        says alone.

        Parameters
        ----------
        low_hz : float, lowest fundamental [Hz]
        high_hz : float, highest [Hz]
        spacing_hz : float, distance of the sidebands [Hz]
        avoid : lines that say nothing, because something else stands there
        """
        step = self.step_hz / 2
        candidates = np.arange(max(low_hz, 1.5 * self.step_hz), min(high_hz, self.top_hz) + step / 2, step)
        if len(candidates) == 0:
            return 0.0
        total = np.zeros((len(self.names), len(candidates)), self.surprise.dtype)
        count = np.zeros(len(candidates), np.intp)
        least = 0.0
        for harmonic in range(1, _SIDED + 1):
            for side in (-1, 0, 1):
                index = np.rint((harmonic * candidates + side * spacing_hz) / self.step_hz).astype(np.intp)
                usable = (index > 0) & (index < self.surprise.shape[1])
                index = np.where(usable, index, 0)
                usable &= ~avoid[index]
                total += self.surprise[:, index] * usable
                count += usable
            least = min(least, float(log10_chance(total.max(axis=0), count).min()))
        looks = max(len(candidates) / 2, 1) * len(self.names) * _SIDED
        return max(0.0, -least - math.log10(looks))

    def standing_out(self, avoid: Mask, low_hz: float, high_hz: float, times: float = 9.0) -> Array:
        """Energy of the lines above `times` their local noise (1 in 8,000 by chance), (views, n): what a family can
        account for.

        Parameters
        ----------
        avoid : lines that belong to something else
        low_hz : float, lines below say nothing [Hz]
        high_hz : float, lines above say nothing [Hz]
        times : float, how far over the noise a line must stand [ratio]
        """
        energy = np.square(self.amplitude)
        energy -= np.float32(times) * self.noise
        np.maximum(energy, 0, out=energy)
        energy[:, avoid] = 0
        energy[:, : math.ceil(low_hz / self.step_hz)] = 0
        energy[:, math.floor(high_hz / self.step_hz) + 1 :] = 0
        return energy

    def profile(self, energy: Array, shallow: float = 0.07) -> Array:
        """The views' line energies as shares of each view's total, averaged over the views: (n,), sum at most 1.

        Parameters
        ----------
        energy : (views, n) what `standing_out` returned [any power]
        shallow : float, depth of modulation (amplitude over the mean) below which a view hardly counts [ratio]
        """
        total = energy.sum(axis=1, keepdims=True) + np.float32(shallow**2)
        return (energy / total).mean(axis=0)

    def shares(
        self, profile: Array, candidates_hz: Array, spacing_hz: float | Array, pairs: int = 2, harmonics: int = 5
    ) -> Array:
        """Share of the profile that each candidate's family accounts for, (candidates,): its harmonics, and `pairs`
        of sidebands at ± multiples of spacing_hz about each, the k-th pair counting 1 - 0.3 k, so that a family is
        not mistaken for one centred on its sideband.

        Parameters
        ----------
        profile : (n,) what `profile` returned, or (views, n) energies, or `running` totals of either [1]
        candidates_hz : (c,) fundamentals to try [Hz]
        spacing_hz : float, spacing of sidebands, or (c,) one to each candidate [Hz]
        """
        order = np.arange(1, harmonics + 1)[:, None]
        step = np.arange(-pairs, pairs + 1)[None, :]
        worth = np.broadcast_to(1 - 0.3 * np.abs(step), (harmonics, 2 * pairs + 1)).ravel()
        sides = step * np.asarray(spacing_hz)[..., None, None]
        spots = (np.asarray(candidates_hz)[:, None, None] * order + sides).reshape(len(candidates_hz), -1)
        half = np.maximum(2, np.floor(0.0012 * np.abs(spots) / self.step_hz)).astype(np.intp)
        at = np.rint(spots / self.step_hz).astype(np.intp)
        inside = (at > half) & (at + half + 1 < self.surprise.shape[1])
        total = profile if profile.shape[-1] > self.surprise.shape[1] else running(profile)
        caught = total[..., np.where(inside, at + half + 1, 0)] - total[..., np.where(inside, at - half, 0)]
        return np.asarray((caught * worth).sum(axis=-1))

    def turning(self, near_hz: float, tolerance: float = 0.015, orders: Sequence[int] = (1, 2)) -> tuple[float, float]:
        """The turning speed by the peaks at it and its double, to a fraction of a line's spacing, and how much
        the clearest of them stands out (-log10 of chance; 0 where none does).

        Parameters
        ----------
        near_hz : float, speed as given [Hz]
        tolerance : float, how far the true speed may be from it [ratio]
        orders : which multiples are looked at; higher ones may be a race's: 3, 4 and 5 in a bearing of 8 elements [1]
        """
        found: list[tuple[float, float, int]] = []
        looks = 0
        for order in orders:
            low = max(math.floor(order * near_hz * (1 - tolerance) / self.step_hz) - 1, 1)
            stop = math.ceil(order * near_hz * (1 + tolerance) / self.step_hz) + 2
            if stop >= self.amplitude.shape[1]:
                break
            ratio = np.square(self.amplitude[:, low:stop]) / self.noise[:, low:stop]
            looks += ratio.size
            view, at = np.unravel_index(int(ratio.argmax()), ratio.shape)
            if 0 < at < stop - low - 1 and ratio[view, at] > _SHAFT_STANDS:
                peak = peak_between(self.amplitude[view], int(low + at)) * self.step_hz
                found.append((float(ratio[view, at]), peak, order))
        if not found:
            return near_hz, 0.0
        clearest = max(found)
        alike = [f for f in found if abs(f[1] - f[2] * clearest[1] / clearest[2]) <= self.step_hz * f[2] / clearest[2]]
        weight = np.array([min(f[0], 200.0) for f in alike])
        hz, order_of = np.array([f[1] for f in alike]), np.array([f[2] for f in alike])
        speed = float((weight * order_of * hz).sum() / (weight * order_of**2).sum())
        return speed, max(0.0, (clearest[0] - math.log(looks)) / math.log(10))

    def shaft_speed(
        self, near_hz: float, tolerance: float = 0.015, orders: Sequence[int] = range(1, 16)
    ) -> tuple[float, float]:
        """The turning speed nearest near_hz whose multiples stand out most, and how much they do (-log10 of chance).

        Parameters
        ----------
        near_hz : float, speed as given [Hz]
        tolerance : float, how far the true speed may be from it [ratio]
        orders : which multiples are looked at [1]
        """
        step = self.step_hz / 16
        candidates = np.arange(near_hz * (1 - tolerance), near_hz * (1 + tolerance) + step / 2, step)
        index = np.rint(candidates[:, None] * np.array(orders) / self.step_hz).astype(np.intp)
        usable = index < self.surprise.shape[1]
        heard = self.surprise[:, np.minimum(index, self.surprise.shape[1] - 1)] * usable
        chance = log10_chance(heard.sum(axis=2), np.broadcast_to(usable.sum(axis=1), heard.shape[:2]))
        view, at = np.unravel_index(int(chance.argmin()), chance.shape)
        score = max(0.0, -float(chance[view, at]) - math.log10(len(candidates) / 4 * len(self.names)))
        ties = np.flatnonzero(chance[view] <= chance[view, at] + 1e-6)
        return float(candidates[ties].mean()), score


def peak_between(amplitude: Array, at: int) -> float:
    """Where a line peaks between the spacings: by the larger neighbour, as a Hann window spreads it. [lines]

    Parameters
    ----------
    amplitude : (n,) [any]
    at : int, of the line, neither the first nor the last [1]

    Examples
    --------
    >>> peak_between(np.array([0.5, 1.0, 0.5]), 1)
    1.0
    """
    before, here, after = amplitude[at - 1 : at + 2]
    beside = max(before, after) / max(float(here), 1e-20)
    off = max((2 * beside - 1) / (1 + beside), 0.0)
    return float(at + (off if after > before else -off))


def running(lines: Array) -> Array:
    """Running totals along the last axis, from 0 to the sum of all: one longer than `lines`.

    Parameters
    ----------
    lines : (..., n) [any power]

    Examples
    --------
    >>> running(np.array([1.0, 2.0])).tolist()
    [0.0, 1.0, 3.0]
    """
    total = np.zeros((*lines.shape[:-1], lines.shape[-1] + 1))
    np.cumsum(lines, axis=-1, dtype=np.float64, out=total[..., 1:])
    return total


def log10_chance(total: Array, count: NDArray[np.intp]) -> Array:
    """log10 of the chance that `count` exponential surprises sum to `total` or more: the Gamma tail in closed form.

    Parameters
    ----------
    total : (...) sums of surprises [nat]
    count : (...) number of surprises in each sum, 0…40 [1]
    """
    total = np.asarray(total, dtype=np.float64)
    count = np.asarray(count)
    term, series = np.ones_like(total), np.ones_like(total)
    for k in range(1, int(count.max(initial=0))):
        term *= total
        term *= 1 / k
        term[count <= k] = 0
        series += term
    return np.where(count > 0, (np.log(series) - total) / math.log(10), 0.0)


def _least_chance(total: Array, count: NDArray[np.intp]) -> Array:
    """`log10_chance` of those that may be the rarest, no other of so few surprises having a larger sum; else 0."""
    most = range(int(count.max(initial=0)) + 1)
    largest = np.array([total.max(initial=0, where=count <= n) for n in most], total.dtype)
    rare = total >= largest[count]
    chance = np.zeros(total.shape)
    chance[rare] = log10_chance(total[rare], count[rare])
    return chance
