"""Single impacts in time: where the envelope jumps out of its own noise, and whether the jumps keep a rhythm."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]

_SMOOTH_S = 1e-3


@dataclass(frozen=True)
class Impulses:
    """Onsets in time order. at_s : (n,), size_db : (n,) height over the envelope's median; seconds : listened."""

    at_s: Array
    size_db: Array
    seconds: float

    @property
    def per_second(self) -> float:
        return len(self.at_s) / self.seconds

    @property
    def steadiness(self) -> float:
        """Share of the recording's eighths that hold at least one impact: 1 where they go on, 1/8 for one knock."""
        eighths = np.minimum((self.at_s / self.seconds * 8).astype(int), 7)
        return len(np.unique(eighths)) / 8


_ALIKE = 0.1  # how far a gap may differ from the one before
_RESTS = 3.0  # times the shortest gap that is told; shorter ones are alike for that alone


def in_step(at_s: Array, rest_s: float = 5e-3) -> float:
    """How far beyond chance gaps between impacts are like the ones before, whatever their rate: blows that keep time,
    also where that changes. In decades (-log10 of the chance).

    Of gaps at random (exponential) the ratio r of two in a row has the distribution r/(1 + r): one in twenty is within
    a tenth of 1.

    Parameters
    ----------
    at_s : (n,) times of impacts [s]
    rest_s : float, shortest gap that is told [s]

    Examples
    --------
    >>> in_step(np.arange(30) * 0.04 + 0.1) > 20
    True
    """
    from scipy.special import betainc

    gaps = np.diff(np.asarray(at_s, dtype=np.float64))
    long = np.minimum(gaps[1:], gaps[:-1]) > _RESTS * rest_s
    ratios = gaps[1:][long] / gaps[:-1][long]
    alike = int((np.abs(ratios - 1) < _ALIKE).sum())
    if alike == 0:
        return 0.0
    chance = (1 + _ALIKE) / (2 + _ALIKE) - (1 - _ALIKE) / (2 - _ALIKE)
    at_least = betainc(alike, len(ratios) - alike + 1, chance)  # the binomial's tail
    return -math.log10(max(float(at_least), 1e-300))


def find_impulses(power: Array, rate_hz: float, degrees: float = 1.0, rest_s: float = 5e-3) -> Impulses:
    """Onsets of impacts in a squared envelope: local peaks that noise alone would show once in a hundred recordings.

    The envelope is averaged over a millisecond; the mean of k exponential samples follows a Gamma law, whose tail
    (Wilson & Hilferty) sets the height from which a peak counts. The noise's level is the median over half seconds.

    Parameters
    ----------
    power : (n,) squared envelope [any power]
    rate_hz : float, samples of it a second [Hz]
    degrees : float, exponential variates of which each sample is the mean in noise [1]
    rest_s : float, shortest time between two onsets [s]
    """
    k = max(1, round(_SMOOTH_S * rate_hz))
    n = len(power) // k
    blocks = power[: n * k].reshape(n, k).mean(axis=1)
    step = k / rate_hz
    piece = max(8, min(n, round(0.5 / step)))
    noise = _median_of_pieces(blocks, piece)
    z = math.sqrt(2 * math.log(100 * max(n, 2)))
    free = max(k * degrees * 0.7, 1.0)
    limit = (1 - 1 / (9 * free) + z * math.sqrt(1 / (9 * free))) ** 3 * 1.05
    ratio = blocks / np.maximum(noise, 1e-30)
    above = np.flatnonzero(ratio > limit)
    kept: list[int] = []
    rest = max(1, round(rest_s / step))
    height = 0.0
    for index, here in zip(above.tolist(), ratio[above].tolist(), strict=True):
        if kept and index - kept[-1] < rest:
            if here > height:
                kept[-1], height = index, here
        else:
            kept.append(index)
            height = here
    at = np.array(kept, dtype=np.intp)
    return Impulses((at * step).astype(np.float32), (10 * np.log10(ratio[at])).astype(np.float32), len(power) / rate_hz)


def _median_of_pieces(values: Array, piece: int) -> Array:
    count = max(1, len(values) // piece)
    parts = np.array_split(values, count)
    medians = [np.partition(part, len(part) // 2)[len(part) // 2] for part in parts]
    return np.repeat(np.array(medians, dtype=np.float32), [len(part) for part in parts])


def train_strength(at_s: Array, rates_hz: Array, harmonics: int = 3) -> Array:
    """How well onsets fall on a train of each rate: sum over harmonics of |Σ exp 2πi·h·f·t|²/n, (rates,).

    For onsets without rhythm each term is exponential with mean 1 (Rayleigh's test; the sum is the Z²ₙ statistic
    of Buccheri et al., A&A 128 (1983) 245, halved); a strict train of n onsets gives n for each.

    Parameters
    ----------
    at_s : (n,) times of onsets [s]
    rates_hz : (r,) rates to try [Hz]
    harmonics : int [1]
    """
    strength = np.zeros(len(rates_hz))
    if len(at_s) == 0:
        return strength
    turns = np.outer(np.asarray(rates_hz, dtype=np.float64), np.asarray(at_s, dtype=np.float64))
    once = np.exp(2j * np.pi * turns)
    several = np.ones_like(once)
    for _ in range(harmonics):
        several *= once
        strength += np.abs(several.sum(axis=1)) ** 2 / len(at_s)
    return strength
