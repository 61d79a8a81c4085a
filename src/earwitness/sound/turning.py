"""How fast a shaft turns, by the tones of its own vibration: what is out of balance, out of line or loose shakes the
machine at the multiples of its speed, and an accelerometer hears that below everything else.

The speed on a motor's plate is up to 5 % from the true one (slip of an induction motor under load), which is more than
what parts the lines of a bearing.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.envelope import Whole
from earwitness.sound.mains import nominal_mains
from earwitness.sound.orders import Lines, log10_chance, peak_between
from earwitness.sound.run_up import Course

Array = NDArray[Any]

_MULTIPLES = np.arange(1, 16)
# Any line and its multiples may be a part's, whose rate is three times the shaft's speed or more: they alone tell none.
_OF_A_PART = np.array([_MULTIPLES % order == 0 for order in range(3, 16)])
_PEAK = 8.0  # times the noise
_STANDS = 6.0  # decades of what is left
_CLEAREST = 12.0  # nats that one tone can say at most
_OFF_LINES, _WANDER = 0.4, 0.0015  # how far a tone may be off: of the lines' spacing, and of its frequency
_MAINS_HZ, _MAINS_LINES, _MAINS_WANDER = 1.0, 0.3, 8e-4  # the same of a tone of the mains, at most so many Hz
_USUAL, _DEARER = 0.01, 6.0  # how far a speed is usually off, and what one farther off costs [nat]


def tones(whole: Whole, limit_hz: float, course: Course | None = None) -> Lines:
    """The sound's own spectrum up to a frequency, as one view of lines, through a Hann window; over the shaft's turns
    where its course is given.

    Parameters
    ----------
    whole : Whole
    limit_hz : float [Hz]
    course : Course or None
    """
    from scipy.fft import irfft, next_fast_len, rfft

    stop = min(math.ceil(limit_hz * whole.seconds) + 2, len(whole.bins))
    bins = whole.bins[:stop]
    if course is not None:
        bins = rfft(course.over_turns(irfft(bins, next_fast_len(2 * stop, real=True))))[:stop]
    amplitude = np.zeros(stop - 1, np.float32)
    amplitude[1:] = np.abs(bins[1:-1] - (bins[:-2] + bins[2:]) / 2)  # Hann's window, by its three lines
    return Lines.seen_in([("tones", amplitude)], 1 / whole.seconds)


def turning_by_tones(heard: Lines, near_hz: float, within: float, mains_hz: float | None) -> tuple[float, float]:
    """The speed whose first fifteen multiples fall on the clearest tones, and how clear they are (-log10 of chance, all
    speeds tried counted; 0 where there are none).

    Parameters
    ----------
    heard : Lines, of one view, see `tones`
    near_hz : float, speed as given [Hz]
    within : float, how far the true speed may be from it [ratio]
    mains_hz : float or None, whose multiples are no shaft's; where unknown 50 and 60 [Hz]

    Returns
    -------
    tuple of speed [Hz] and decades [1]
    """
    at_hz, says = _peaks(heard, nominal_mains(mains_hz))
    if len(at_hz) < 2:
        return near_hz, 0.0
    step = heard.step_hz
    speeds = np.arange(near_hz * (1 - within), near_hz * (1 + within) + step / 40, step / 20)
    multiples = speeds[:, None] * _MULTIPLES
    after = np.clip(np.searchsorted(at_hz, multiples), 1, len(at_hz) - 1)
    nearest = np.where(multiples - at_hz[after - 1] < at_hz[after] - multiples, after - 1, after)
    off = (at_hz[nearest] - multiples) / (_OFF_LINES * step + _WANDER * multiples)
    fits = says[nearest] * np.maximum(0.0, 1 - off * off)
    apart = fits.sum(axis=1) - (fits @ _OF_A_PART.T).max(axis=1)
    best = int((apart - _DEARER * np.log1p(((speeds / near_hz - 1) / _USUAL) ** 2)).argmax())
    weight = fits[best]
    if not weight.any():
        return near_hz, 0.0
    speed = float((weight * _MULTIPLES * at_hz[nearest[best]]).sum() / (weight * _MULTIPLES**2).sum())
    return speed, max(0.0, _decades(heard, speed, mains_hz) - math.log10(max(len(speeds) / 5, 1)))


def _peaks(heard: Lines, mains_hz: tuple[float, ...]) -> tuple[Array, Array]:
    """Tones that stand out and are not the mains', between the lines, and what each says. [Hz], [nat]"""
    power = np.square(heard.amplitude[0]) / heard.noise[0]
    middle = power[1:-1]
    at = np.flatnonzero((middle >= power[:-2]) & (middle > power[2:]) & (middle > _PEAK)) + 1
    at_hz = np.array([peak_between(heard.amplitude[0], int(i)) * heard.step_hz for i in at])
    own = np.ones(len(at), dtype=bool)
    for mains in mains_hz:
        of_mains = np.maximum(np.round(at_hz / mains), 1) * mains
        reach = np.minimum(_MAINS_HZ, _MAINS_WANDER * at_hz + _MAINS_LINES * heard.step_hz)
        own &= np.abs(at_hz - of_mains) > reach
    return at_hz[own], np.minimum(np.log(power[at[own]]), _CLEAREST)


def _decades(heard: Lines, speed_hz: float, mains_hz: float | None) -> float:
    """-log10 of the chance of the lines at a speed's multiples in noise alone, where they stand out without those that
    may be a part's too; else of what is left without them."""
    avoid = heard.near_multiples(nominal_mains(mains_hz), at_most=1.0)
    at = np.rint(speed_hz * _MULTIPLES / heard.step_hz).astype(np.intp)
    inside = at < len(avoid)
    at = np.where(inside, at, 0)
    kept = np.concatenate([np.ones((1, len(at)), dtype=bool), ~_OF_A_PART])
    usable = inside & ~avoid[at] & kept
    said = np.where(usable, heard.surprise[0, at], 0.0).sum(axis=1)
    every, *left = -log10_chance(said, usable.sum(axis=1))
    return float(every if min(left) > _STANDS else min(left))
