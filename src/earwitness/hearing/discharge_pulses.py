"""What beats with the mains, cycle for cycle: the same click again, a smooth swell, or each time another crackle.

A discharge is made of pulses that fall where they like and as strong as they like, so the power of its crest differs
from one cycle to the next at least as much as that of noise does. What switches (a dimmer, a thyristor, a rectifier)
clicks at one phase, and is over within a millisecond; each click is like the last: the power of its crest is that of a
sine in noise, which varies the less the more it stands out (Rice, Bell Syst. Tech. J. 24 (1945) 46-156, sect. 3.10: 2r
+ 1 over (r + 1) squared for a ratio r, of one for noise alone), unless both sides of the receiver's oscillator hear it
alike, so that they add up and cancel. What the mains
shake (laminations, a motor) swells as the square of a flux does: twice a cycle, with little at any other multiple.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.modulation import Modulation

Array = NDArray[np.float32]

_WINDOW = 0.16  # of a cycle, some 3 ms: a frame is a third of it
_LEAST_CYCLES = 30
_EIGHTH = 0.126
_SILENT = 0.05  # of the crest's power: what rustles with a flux never falls silent
_SHALLOW = 0.45  # of the crest's power: where it stands out by less, even what is the same each time differs as noise
_LASTS = 2 / 3  # of its length: what a Hann window counts as
_FRAME_S = 7e-4  # what a frame adds to it


def _of_the_pulses(sound: Modulation, mains_hz: float, turns: NDArray[np.float64], pattern: Array) -> dict[str, float]:
    """How much the crest differs from cycle to cycle, over what noise in its place would; and how much of the swing is
    not a swell twice a cycle.

    `turns` is the phase of the mains at each frame, `pattern` the natural logarithm of the power over one cycle."""
    power = np.exp(pattern - pattern.max())
    lines = np.abs(np.fft.rfft(power))[:7] ** 2
    others = float(lines[1] + lines[3] + lines[4] + lines[6])
    swell = {"not-a-swell": 10 * float(np.log10((others + 1e-9) / (lines[2] + 1e-9)))}
    numbers = swell if power.min() > _SILENT * power.max() else {}
    phases = (np.arange(len(power)) + 0.5) / len(power)
    crest = phases[int(np.argmax([(power * _weight(phases - phase)).sum() for phase in phases]))]
    numbers["crest"] = _width(power, phases - crest) * 1000 / mains_hz
    differs = _differs(sound.bands, turns, crest) if power.min() < _SHALLOW * power.max() else None
    if differs is not None:
        free = 1 + np.diff(sound.edges_hz) * (_LASTS * _WINDOW / mains_hz + _FRAME_S)
        numbers["anew"] = float(np.mean(differs / _of_noise(free)))
    return numbers


def _of_noise(free: Array) -> NDArray[np.float64]:
    """The median difference between two powers of noise in natural logarithms, each the sum of `free` independent ones:
    0.954 times the spread of one, whose square is the trigamma function of `free` (Bartlett & Kendall, Suppl. J. R.
    Stat. Soc. 8 (1946) 128-138)."""
    from scipy.special import polygamma

    return 0.954 * np.sqrt(polygamma(1, free))


def _width(power: Array, from_crest: NDArray[np.float64]) -> float:
    """Of the crest, its area over its height, both above the hollow: in parts of a cycle, from an eighth before to an
    eighth after it."""
    over = power - power.min()
    inside = np.abs(from_crest - np.round(from_crest)) <= _EIGHTH
    return float(over[inside].sum() / (over[inside].max() * len(power)))


def _weight(turns: NDArray[np.float64]) -> NDArray[np.float64]:
    """A Hann window about a whole number of turns."""
    from_middle = np.abs(turns - np.round(turns)) / _WINDOW
    return np.where(from_middle < 0.5, np.cos(np.pi * from_middle) ** 2, 0.0)


def _differs(bands: Array, turns: NDArray[np.float64], phase: float) -> NDArray[np.float64] | None:
    """By what factor (natural logarithm) the power about a phase differs from one cycle to the next: the median, which
    few knocks do not move, in each sub-band."""
    weight = _weight(turns - phase)
    inside = np.flatnonzero(weight)
    starts = np.flatnonzero(np.diff(inside, prepend=-2) > 1)[1:-1]  # whole windows only
    if len(starts) < _LEAST_CYCLES:
        return None
    last = np.flatnonzero(np.diff(inside) > 1)[-1] + 1
    own = weight[inside[:last], None]
    sums = np.add.reduceat(bands[inside[:last]] * own, starts, axis=0)
    level = np.log(sums / np.add.reduceat(own, starts, axis=0) + 1e-9)
    return np.asarray(np.median(np.abs(np.diff(level, axis=0)), axis=0), np.float64)
