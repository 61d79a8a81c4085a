"""At what voltage air can discharge at all: the reason why corona is not to be expected below 1 kV."""

from __future__ import annotations

import math

from earwitness.errors import InputError

PASCHEN_MINIMUM_V = 327.0  # peak, air: no spark across any gap at any pressure below it (Paschen 1889; value as quoted)
CORONA_FROM_V = 1000.0  # rms, phase to phase, sinusoidal


def peek_onset_voltage(
    radius_m: float,
    spacing_m: float,
    pressure_abs: float = 101_325.0,
    temperature_k: float = 298.15,
    roughness: float = 1.0,
) -> float:
    """Peak voltage to neutral at which the air about one of two parallel round wires begins to glow [V].

    Parameters
    ----------
    radius_m : float, of the wire [m]
    spacing_m : float, between the wires' centres [m]
    pressure_abs : float, of the air [Pa absolute]
    temperature_k : float, of the air [K]
    roughness : float, Peek's m, 1 for polished wire, 0.93 to 0.98 for weathered [1]

    Raises
    ------
    InputError : a length, pressure or temperature not positive, wires that touch, or roughness outside 0 … 1

    Notes
    -----
    e = m·g·r·ln(S/r) kV, g = 30·δ·(1 + 0.301/√(δ·r)) kV/cm, lengths in cm, δ = 3.92·b/(273 + t) with b in cm of
    mercury and t in °C. F. W. Peek, Dielectric Phenomena in High Voltage Engineering, 1915. Measured on wires of about
    0.5 mm and over; sharper edges begin at less, and none that a plant has at under 1 kV.

    Examples
    --------
    >>> round(peek_onset_voltage(0.0005, 0.020) / 1000, 1)
    13.0
    """
    for name, value in (("radius_m", radius_m), ("pressure_abs", pressure_abs), ("temperature_k", temperature_k)):
        if value <= 0:
            raise InputError(name, value, "over 0")
    if spacing_m <= 2 * radius_m:
        raise InputError("spacing_m", spacing_m, f"more than twice the radius, {2 * radius_m} m")
    if not 0 < roughness <= 1:
        raise InputError("roughness", roughness, "over 0, at most 1")
    radius_cm, spacing_cm = 100 * radius_m, 100 * spacing_m
    density = 3.92 * (pressure_abs / 1333.22) / temperature_k
    gradient = 30.0 * density * (1 + 0.301 / math.sqrt(density * radius_cm))
    return 1000.0 * roughness * gradient * radius_cm * math.log(spacing_cm / radius_cm)


def corona_expected(voltage_v: float | None, supply: str | None) -> bool:
    """Whether corona is a word that fits the supply: not on a sinusoidal one known to be under 1 kV.

    Parameters
    ----------
    voltage_v : float or None, nominal, rms phase to phase [V]
    supply : "sinusoidal", "inverter" (its surges can exceed the nominal voltage), or None

    Raises
    ------
    InputError : a negative voltage

    Notes
    -----
    By Peek's law a wire of 0.05 mm at 10 mm, sharper than most edges, needs 4.2 kV peak; by Paschen's nothing sparks
    in air below 327 V peak, which is 400 V phase to phase.

    Examples
    --------
    >>> corona_expected(400.0, "sinusoidal"), corona_expected(11_000.0, "sinusoidal"), corona_expected(None, None)
    (False, True, True)
    """
    if voltage_v is not None and voltage_v < 0:
        raise InputError("voltage_v", voltage_v, "0 V or more")
    return voltage_v is None or voltage_v >= CORONA_FROM_V or supply == "inverter"
