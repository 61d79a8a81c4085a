"""What stands beside a bearing's lines at ± the cage's rate.

A rolling element passes the load once a turn of the cage, so the lines of a fault on it carry sidebands at ± the cage's
rate (McFadden & Smith, JSV 96 (1984) 69-82; Smith & Randall, MSSP 64-65 (2015) 100-131). The cage turns 0.35 to 0.45
times as fast as the shaft in nearly any bearing, so this holds where nothing is known of the parts. Sidebands at ± the
shaft's rate part the races less well: real outer races carry them too, where the shaft is out of balance.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.orders import Lines

_HARMONICS = np.arange(1, 6)
_LEAST = 0.03  # share of all that stands out below which lines are too few to ask what stands beside them
_NARROW = 0.0012  # half width of a line over its frequency, as in Lines.shares


def cage_sidebands(
    lines: Lines, profile: NDArray[Any], candidates_hz: Sequence[float], cage_hz: tuple[float, float]
) -> float | None:
    """Energy at ± the cage's rate about the lines of the family that accounts for most, over that of its lines; None
    where no family accounts for anything.

    Parameters
    ----------
    lines : Lines
    profile : (n + 1,) running totals of the views' mean energies [1]
    candidates_hz : fundamentals of the families to choose from [Hz]
    cage_hz : least and greatest rate that the cage may have [Hz]

    Returns
    -------
    float : [ratio]
    """
    alone = [float(_caught(lines, profile, hz * _HARMONICS)) for hz in candidates_hz]
    best = int(np.argmax(alone))
    if alone[best] < _LEAST:
        return None
    middles = candidates_hz[best] * _HARMONICS
    spacings = np.arange(cage_hz[0], cage_hz[1] + lines.step_hz / 4, lines.step_hz / 4)[:, None]
    beside = _caught(lines, profile, np.concatenate([middles - spacings, middles + spacings], axis=1))
    return float(beside.max()) / alone[best]


def _caught(lines: Lines, profile: NDArray[Any], spots_hz: NDArray[Any]) -> NDArray[Any]:
    """Energy that stands at these frequencies, summed over the last axis."""
    half = np.maximum(2, np.floor(_NARROW * spots_hz / lines.step_hz)).astype(np.intp)
    at = np.rint(spots_hz / lines.step_hz).astype(np.intp)
    inside = (at > half) & (at + half + 1 < len(profile))
    return np.asarray(
        (profile[np.where(inside, at + half + 1, 0)] - profile[np.where(inside, at - half, 0)]).sum(axis=-1)
    )
