"""The limits that every file of this room states: one place, one wording."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError

Floats = float | NDArray[np.float64]


def _positive(name: str, value: Floats, unit: str) -> NDArray[np.float64]:
    array = np.asarray(value, dtype=np.float64)
    if np.any(array <= 0) or np.any(np.isinf(array)):
        raise InputError(name, value, f"above 0 {unit}".rstrip())
    return array


def _not_negative(name: str, value: Floats, unit: str) -> NDArray[np.float64]:
    array = np.asarray(value, dtype=np.float64)
    if np.any(array < 0) or np.any(np.isinf(array)):
        raise InputError(name, value, f"0 {unit} or more".replace("  ", " "))
    return array


def _fraction(name: str, value: Floats) -> NDArray[np.float64]:
    array = np.asarray(value, dtype=np.float64)
    if np.any((array < 0) | (array > 1)):
        raise InputError(name, value, "a fraction from 0 to 1")
    return array
