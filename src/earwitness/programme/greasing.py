"""Grease by measure: how much, how often, and when to stop while listening.

Sealed or shielded bearings get none. Never reach past a guard, never mix greases; the maker's word comes first.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from earwitness.errors import InputError
from earwitness.sentence import Sentence, say

SEALED = re.compile(r"(2RS|2RZ|2Z|ZZ|DDU|LLU|LLB|VV|RSH|-?RS\d?|-?Z)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Dose:
    """Grams for one regreasing, or None with the reason."""

    grams: float | None
    sentence: Sentence


@dataclass(frozen=True)
class Stop:
    """Whether to stop adding grease now, and why."""

    stop: bool
    sentence: Sentence


def is_sealed(designation: str) -> bool:
    """Whether a designation's suffix says sealed or shielded on both sides or one (2RS, ZZ, and the like)."""
    suffix = re.sub(r"^[A-Z]*\d+", "", designation.strip().upper())
    return bool(SEALED.search(suffix))


def grease_amount(outside_m: float, width_m: float, designation: str = "") -> Dose:
    """Grease for one regreasing from the side: G [g] = 0.005·D·B with D and B in mm.

    Parameters
    ----------
    outside_m : float, outside diameter D [m]
    width_m : float, width B [m]
    designation : text on the bearing; a sealed or shielded one gets no amount
    """
    if outside_m <= 0 or width_m <= 0:
        raise InputError("outside_m, width_m", (outside_m, width_m), "greater than 0")
    if is_sealed(designation):
        text = "{designation} is sealed or shielded: add no grease; follow the maker."
        return Dose(None, say("grease-sealed", text, designation=designation))
    grams = 0.005 * (outside_m * 1e3) * (width_m * 1e3)
    text = "{grams:.1f} g at most for one regreasing (0.005·D·B), the machine's own grease, added slowly."
    return Dose(grams, say("grease-amount", text, grams=grams))


def grease_interval(
    bore_m: float, speed_hz: float, *, temperature_k: float = 343.15, vertical: bool = False, factor: float = 10.0
) -> float:
    """Regreasing interval [h] of a deep-groove ball bearing: k·(14e6/(n·√d) − 4·d), n in rpm and d in mm.

    Parameters
    ----------
    bore_m : float, bore d [m]
    speed_hz : float, shaft speed n [Hz]
    temperature_k : float, of the outer ring; to 343.15 K the formula holds, each 15 K more halves it [K]
    vertical : a vertical shaft halves the interval
    factor : float, k: 10 for deep-groove ball bearings [1]

    Raises InputError where the formula no longer holds (n above 3.5e6/d^1.5, where it turns negative).
    """
    d, n = bore_m * 1e3, speed_hz * 60
    if d <= 0 or n <= 0:
        raise InputError("bore_m, speed_hz", (bore_m, speed_hz), "greater than 0")
    hours = factor * (14e6 / (n * math.sqrt(d)) - 4 * d)
    if hours <= 0:
        raise InputError("speed_hz", f"{n:.0f} rpm", f"below {3.5e6 / d**1.5:.0f} rpm for a bore of {d:.0f} mm")
    if temperature_k > 343.15:
        hours /= 2 ** ((temperature_k - 343.15) / 15)
    return hours / 2 if vertical else hours


def stop_greasing(levels_db: list[float], baseline_db: float, grams_in: float, grams_most: float | None) -> Stop:
    """Greasing by ear (common practice): stop when the level is back at baseline, when it begins to rise again after
    a fall, or when the calculated amount is in.

    Parameters
    ----------
    levels_db : level after each stroke, in order [dB]
    baseline_db : float, level when good [dB]
    grams_in : float, added so far [g]
    grams_most : float or None, the calculated amount [g]
    """
    if grams_most is not None and round(grams_in, 1) >= round(grams_most, 1):  # as both are shown
        return Stop(True, say("grease-amount-in", "Stop: the calculated amount is in ({grams:.1f} g).", grams=grams_in))
    if len(levels_db) >= 2 and levels_db[-1] >= min(levels_db) + 1.0:
        text = "Stop: the level rises again ({level:.0f} dB); too much grease kills a bearing."
        return Stop(True, say("grease-rising", text, level=levels_db[-1]))
    if levels_db and levels_db[-1] <= baseline_db + 1.0:
        text = "Stop: the level is back at its baseline of {baseline:.0f} dB."
        return Stop(True, say("grease-baseline", text, baseline=baseline_db))
    return Stop(False, say("grease-go-on", "Go on slowly: one stroke, then wait until the level has settled."))
