"""From the level at the receiver to a flow: rough, and only where it is known what the level refers to."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.constants import R as GAS_CONSTANT

from earwitness.errors import InputError
from earwitness.gas.absorption import air_absorption
from earwitness.gas.gas_table import Gas
from earwitness.gas.gases import STANDARD_PRESSURE, find_gas, gas_state, reference_density
from earwitness.gas.jet_noise import jet_band_power_level
from earwitness.gas.opening import flow_through_opening
from earwitness.interval import Z_95, Uncertain
from earwitness.sentence import Sentence, say

FACTOR_KNOWN = 4.0  # never narrower without the site's own calibration
FACTOR_UNKNOWN = 10.0
SHARED = "level_method"
SHARED_SIGMA = math.log(FACTOR_KNOWN) / Z_95 / math.sqrt(2)  # half of the method's variance is common to all leaks
DECIDES_DB, WIDENS_DB = 3.0, 6.0  # over background (P)
ASSUMED_DISTANCE = 0.5
CENTRE_HZ, BANDWIDTH_HZ = 40_000.0, 4_000.0
LEVEL_DB = 6.0  # what emission, aim and reading leave open either way at 95 %, if all is known (P)
_LARGEST, _SMALLEST = 0.01, 1e-5  # diameters the model is asked about [m]
_AT_ONE_METRE = 10 * math.log10(4 * math.pi)  # spherical spreading


@dataclass(frozen=True)
class LevelFlow:
    """What a level says of the flow. `mass_flow` is None where it says nothing: then `notes` tells why, and
    `rank_db` [dB], the level less background, still puts leaks of one round in order."""

    mass_flow: Uncertain | None
    volume_flow: Uncertain | None  # m3/s at 20 °C, 101.325 kPa
    rank_db: float | None
    diameter: float | None  # m, of the round sharp hole that would be as loud
    notes: tuple[Sentence, ...]


@dataclass(frozen=True)
class _Path:
    centre_hz: float
    bandwidth_hz: float
    distance: float
    air_temperature: float
    humidity: float
    ambient_abs: float

    @property
    def loss_db(self) -> float:
        absorbed = float(air_absorption(self.centre_hz, self.air_temperature, self.humidity, self.ambient_abs))
        return _AT_ONE_METRE + 20 * math.log10(self.distance) + absorbed * self.distance


def known_level_reference(level_ref: str | None) -> bool:
    """Whether a displayed level refers to sound pressure: only then can it become a flow.

    Parameters
    ----------
    level_ref : str or None
        As the survey states it: "dB re 20 µPa" is known, "dB µV" or "0 dB = threshold of the receiver" is not.

    Examples
    --------
    >>> known_level_reference("dB SPL re 20 uPa"), known_level_reference("dBuV"), known_level_reference(None)
    (True, False, False)
    """
    return bool(level_ref and re.search(r"\b20\s*(µ|μ|u|micro)\s*-?\s*pa|\bspl\b|sound pressure", level_ref.lower()))


def flow_from_level(
    gas: Gas | str,
    level_db: float,
    pressure_abs: float,
    *,
    reference_known: bool,
    attachment_known: bool = False,
    on_axis: bool = False,
    distance: float | None = None,
    background_db: float | None = None,
    temperature: float | None = 293.15,
    downstream_abs: float = STANDARD_PRESSURE,
    centre_hz: float = CENTRE_HZ,
    bandwidth_hz: float = BANDWIDTH_HZ,
    air_temperature: float = 293.15,
    humidity: float = 0.5,
    ambient_abs: float = STANDARD_PRESSURE,
) -> LevelFlow:
    """The flow of the round sharp hole that jet noise would make as loud as the level at the receiver.

    Parameters
    ----------
    gas : Gas or str
    level_db : float, displayed level in the receiver's band, gain taken off [dB re 20 µPa]
    pressure_abs : float, in the pipe [Pa absolute]; of the vacuum for "vacuum"
    reference_known : bool
        The level refers to 20 µPa (see `known_level_reference`); if not, no flow comes out, only a rank.
    attachment_known, on_axis : bool
        What the sensor wore is known and allowed for in the level; it was aimed straight at the leak.
    distance : float or None, receiver to leak [m], above 0; None: half a metre is assumed, and said
    background_db : float or None, at the same place without the leak [dB re 20 µPa]
    temperature : float or None, of the gas [K]
    downstream_abs : float, outside the leak [Pa absolute]
    centre_hz : float, middle of the receiver's band [Hz]
    bandwidth_hz : float, its width [Hz]
    air_temperature : float, of the air between [K]
    humidity : float, relative, as a fraction [1]
    ambient_abs : float, of the air between [Pa absolute]

    Returns
    -------
    LevelFlow
        Known within ×/÷ 4 (95 %) where reference, attachment, distance and aim are known, ×/÷ 10 where one is not.

    References
    ----------
    Jet noise, see `jet_band_power_level`; absorption ISO 9613-1:1993; the factors are common practice.
    """
    found = find_gas(gas) if isinstance(gas, str) else gas
    if distance is not None and not distance > 0:
        raise InputError("distance", f"{distance:g} m", "above 0 m")
    over = None if background_db is None or math.isnan(background_db) else level_db - background_db
    if math.isnan(level_db):
        return LevelFlow(None, None, None, None, (say("no-level", "No level was read, so no flow comes from it."),))
    if not reference_known:
        return LevelFlow(None, None, over if over is not None else level_db, None, (_no_reference(),))
    if over is not None and over < DECIDES_DB:
        return LevelFlow(None, None, over, None, (_not_over_background(over, level_db - over),))
    leak_db = level_db if over is None else 10 * math.log10(10 ** (level_db / 10) - 10 ** ((level_db - over) / 10))
    path = _Path(centre_hz, bandwidth_hz, distance or ASSUMED_DISTANCE, air_temperature, humidity, ambient_abs)
    diameter, flow, slope, notes = _as_loud(found, leak_db, pressure_abs, downstream_abs, temperature, path)
    if flow is None:
        return LevelFlow(None, None, over, None, notes)
    unknown = [
        word
        for word, known in (
            ("attachment", attachment_known),
            ("distance", distance is not None),
            ("aim on the axis", on_axis),
            ("share of the sound that comes out against the stream of a vacuum", not found.inwards),
        )
        if not known
    ]
    if over is None:
        notes += (say("no-background", "No background level was noted, so nothing was taken off the level."),)
    own = _own_sigma(bool(unknown), over, slope)
    mass = Uncertain(flow, own, {SHARED: SHARED_SIGMA})
    notes = (_rough(math.exp(Z_95 * mass.sigma), unknown), *notes)
    return LevelFlow(mass, mass * (1 / reference_density(found)), over, diameter, notes)


def smallest_heard(
    gas: Gas | str,
    background_db: float,
    distance: float,
    pressure_abs: float,
    *,
    reference_known: bool,
    attachment_known: bool = False,
    on_axis: bool = False,
    temperature: float | None = 293.15,
    downstream_abs: float = STANDARD_PRESSURE,
    centre_hz: float = CENTRE_HZ,
    bandwidth_hz: float = BANDWIDTH_HZ,
    air_temperature: float = 293.15,
    humidity: float = 0.5,
    ambient_abs: float = STANDARD_PRESSURE,
) -> LevelFlow:
    """The smallest leak that would have stood 3 dB over this background at this distance: what silence rules out.

    Parameters
    ----------
    gas : Gas or str
    background_db : float, level with nothing heard [dB re 20 µPa]
    distance : float, receiver to where a leak would be [m], above 0
    pressure_abs : float, in the pipe [Pa absolute]
    reference_known, attachment_known, on_axis : bool
        As in `flow_from_level`.
    temperature : float or None, of the gas [K]
    downstream_abs : float [Pa absolute]
    centre_hz : float [Hz]
    bandwidth_hz : float [Hz]
    air_temperature : float [K]
    humidity : float, as a fraction [1]
    ambient_abs : float [Pa absolute]

    Returns
    -------
    LevelFlow
        Its interval is that of the method: only a leak above the upper end would surely have been heard.
    """
    heard = flow_from_level(
        gas,
        background_db + DECIDES_DB,
        pressure_abs,
        reference_known=reference_known,
        attachment_known=attachment_known,
        on_axis=on_axis,
        distance=distance,
        background_db=background_db,
        temperature=temperature,
        downstream_abs=downstream_abs,
        centre_hz=centre_hz,
        bandwidth_hz=bandwidth_hz,
        air_temperature=air_temperature,
        humidity=humidity,
        ambient_abs=ambient_abs,
    )
    if heard.volume_flow is None:
        return heard
    interval = heard.volume_flow.interval()
    note = say(
        "would-have-been-heard",
        "Over this background a leak of about {middle} l/min at {distance:.2g} m would have been heard; "
        "only one above {surely} l/min almost surely.",
        middle=_two_digits(interval.value * 60_000),
        surely=_two_digits(interval.high * 60_000),
        distance=distance,
    )
    return LevelFlow(heard.mass_flow, heard.volume_flow, heard.rank_db, heard.diameter, (note, *heard.notes))


# -- below: the parts -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Jet:
    """A jet from a hole of 1 mm, to which those of other sizes are similar."""

    flow: float
    speed: float
    regime: str
    notes: tuple[Sentence, ...]


_MILLIMETRE = 0.001


@lru_cache(maxsize=1024)
def _jet(gas: Gas, pressure_abs: float, downstream_abs: float, temperature: float | None) -> _Jet:
    one = flow_through_opening(
        gas, pressure_abs, diameter=_MILLIMETRE, downstream_abs=downstream_abs, temperature=temperature
    )
    regime = str(one.regime)
    speed = _jet_speed(gas, pressure_abs, downstream_abs, temperature) if regime in ("choked", "subsonic") else 0.0
    return _Jet(float(one.mass_flow), speed, regime, one.notes)


def _as_loud(
    gas: Gas, leak_db: float, pressure_abs: float, downstream_abs: float, temperature: float | None, path: _Path
) -> tuple[float | None, float | None, float, tuple[Sentence, ...]]:
    """Diameter and flow of the hole that is this loud, and how many dB a decade of flow makes there."""
    jet = _jet(gas, pressure_abs, downstream_abs, temperature)
    if jet.regime in ("liquid", "flashing"):
        return None, None, math.nan, (*jet.notes, _no_liquid_noise(gas))
    if jet.regime == "none":
        return None, None, math.nan, jet.notes
    diameters, levels, slopes = _loudness(jet.flow, jet.speed, path.centre_hz, path.bandwidth_hz)
    wanted, notes = leak_db + path.loss_db, jet.notes
    if not levels[0] <= wanted <= levels[-1]:
        notes += (_outside(leak_db, float(levels[0]) - path.loss_db, float(levels[-1]) - path.loss_db),)
    diameter = float(np.exp(np.interp(wanted, levels, np.log(diameters))))
    slope = float(np.interp(diameter, diameters, slopes))
    return diameter, jet.flow * (diameter / _MILLIMETRE) ** 2, slope, notes


@lru_cache(maxsize=1024)
def _loudness(
    flow: float, speed: float, centre_hz: float, bandwidth_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Power level by diameter, which rises steadily, and its slope [dB a decade of flow], to be looked up."""
    diameters = np.geomspace(_SMALLEST, _LARGEST, 400)
    flows = flow * (diameters / _MILLIMETRE) ** 2
    levels = np.asarray(jet_band_power_level(diameters, flows, speed, centre_hz=centre_hz, bandwidth_hz=bandwidth_hz))
    return diameters, levels, np.gradient(levels, np.log10(flows))


def _jet_speed(gas: Gas, pressure_abs: float, downstream_abs: float, temperature: float | None) -> float:
    """Speed where the jet leaves: of sound in the throat, or less where the flow is subsonic."""
    upstream, outlet = (downstream_abs, pressure_abs) if gas.inwards else (pressure_abs, downstream_abs)
    state = gas_state(gas, upstream, temperature)
    n = state.exponent if abs(state.exponent - 1) > 1e-6 else 1 + 1e-6
    jet = max(outlet / upstream, (2 / (n + 1)) ** (n / (n - 1)))
    specific = state.compressibility * GAS_CONSTANT * state.temperature / state.molar_mass
    return math.sqrt(2 * n / (n - 1) * specific * (1 - jet ** ((n - 1) / n)))


def _own_sigma(something_unknown: bool, over: float | None, slope: float) -> float:
    """The method's own part. Where the level hardly grows with the flow (large holes), a few dB are a large factor."""
    factor = max(FACTOR_UNKNOWN if something_unknown else FACTOR_KNOWN, 10 ** (LEVEL_DB / slope))
    total = math.log(factor) / Z_95
    own = math.sqrt(total**2 - SHARED_SIGMA**2)
    if over is not None and over < WIDENS_DB:
        own *= 1 + 0.5 * (WIDENS_DB - over) / (WIDENS_DB - DECIDES_DB)
    return own


def _two_digits(value: float) -> str:
    return f"{float(f'{value:.2g}'):g}"


def _rough(factor: float, unknown: list[str]) -> Sentence:
    if not unknown:
        return say(
            "flow-from-level",
            "Rough: a level gives a flow only within a factor of {factor:.0f} either way, until the site calibrates "
            "on leaks of known size.",
            factor=factor,
        )
    return say(
        "flow-from-level-unknowns",
        "Very rough: a factor of {factor:.0f} either way, because it is not known what the {missing} was; note it next "
        "time.",
        factor=factor,
        missing=" and the ".join(unknown),
    )


def _no_reference() -> Sentence:
    return say(
        "level-reference-unknown",
        "It is not known what the displayed level refers to, so no flow or cost comes from it, only an order among "
        "readings of one round; state level_ref (dB re 20 µPa), measure the flow or the opening, or calibrate.",
    )


def _not_over_background(over: float, background_db: float) -> Sentence:
    return say(
        "level-not-over-background",
        "The level is {over:.1f} dB over a background of {background:.0f} dB; below 3 dB it decides nothing and gives "
        "no flow. Get closer, screen the probe, or come when it is quieter.",
        over=over,
        background=background_db,
    )


def _no_liquid_noise(gas: Gas) -> Sentence:
    return say(
        "liquid-no-level-flow",
        "{gas} escapes as a liquid here; its noise says nothing of how much. Find the opening's size.",
        gas=gas.shown,
    )


def _outside(level: float, lowest: float, highest: float) -> Sentence:
    return say(
        "level-outside-model",
        "A level of {level:.0f} dB lies outside what holes of 0.01 to 10 mm would make here ({lowest:.0f} to "
        "{highest:.0f} dB); the flow is a limit, not an estimate.",
        level=level,
        lowest=lowest,
        highest=highest,
    )
