"""A survey: a dated set of readings at one site, with the instrument, air system and prices that hold for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from earwitness.plant.reading import Problem, Reading
from earwitness.sentence import Sentence


@dataclass(frozen=True)
class Instrument:
    receiver: str | None = None
    serial: str | None = None
    sensor: str | None = None
    centre_hz: float | None = None
    last_check: str | None = None
    level_ref: str | None = None  # what the displayed dB refers to; None is said, and no flow comes from a level


@dataclass(frozen=True)
class SiteConditions:
    mains_hz: float | None = None
    temperature_k: float | None = None
    humidity: float | None = None  # fraction
    ambient_pressure_abs: float | None = None  # Pa
    timezone: str | None = None


@dataclass(frozen=True)
class Price:
    """Money for an amount: `value` [currency per `per`], with per one of "kWh", "kg", "m3" (at 20 degC, 101.325 kPa),
    or "J" of heat."""

    value: float
    currency: str
    per: str
    given: str


@dataclass(frozen=True)
class LeakTest:
    """A measured system test as `[air.leak_test]` states it: kind and its raw quantities in SI."""

    kind: str  # load-unload, bleed-down, metered
    values: Mapping[str, float]
    given: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Compressor:
    name: str
    capacity_m3_s: float | None = None  # free air delivered
    rated_power_w: float | None = None
    specific_power_j_m3: float | None = None
    control: str | None = None
    storage_m3: float | None = None
    part_load: tuple[tuple[float, float], ...] = ()  # its own curve: fractions of capacity and of full power


@dataclass(frozen=True)
class AirSystem:
    pressure_abs: float | None = None
    hours_per_year: float | None = None
    average_load: float | None = None  # fraction of capacity
    load_profile: tuple[float, ...] = ()  # of a day in equal spans, fractions of capacity
    specific_power_j_m3: float | None = None
    control: str | None = None
    leak_test: LeakTest | None = None
    compressors: tuple[Compressor, ...] = ()


@dataclass(frozen=True)
class PriceBand:
    """A price that holds from one hour of the day to another (22 to 6 runs over midnight)."""

    from_hour: float
    to_hour: float
    price: Price


@dataclass(frozen=True)
class Energy:
    """`carbon` by the grid's average, `carbon_marginal` by the plants that follow the load; demand charge for the
    highest power of a month [currency/kW]."""

    price: Price | None = None
    carbon_kg_per_kwh: float | None = None
    carbon_marginal_kg_per_kwh: float | None = None
    bands: tuple[PriceBand, ...] = ()
    demand_charge: float | None = None
    horizon_years: int | None = None  # of the present value of the repairs
    discount_rate: float = 0.0  # a year
    reopen_rate: float = 0.0  # part of the repaired leaks that open again in a year


@dataclass(frozen=True)
class KnownLeak:
    """A leak of known flow as it was heard with the site's instrument."""

    day: str
    level_db: float
    distance_m: float
    pressure_abs: float  # Pa
    flow_m3_s: float  # at 20 degC, 101.325 kPa


@dataclass(frozen=True)
class Survey:
    folder: Path
    title: str
    site: str
    date: str
    inspector: str
    qualification: str | None = None
    instrument: Instrument = Instrument()
    conditions: SiteConditions = SiteConditions()
    energy: Energy = Energy()
    air: AirSystem = AirSystem()
    gas_prices: Mapping[str, Price] = field(default_factory=dict)
    gas_compositions: Mapping[str, Mapping[str, float]] = field(default_factory=dict)  # mole fractions, by gas
    from_site: Mapping[str, str] = field(default_factory=dict)  # what the site's settings gave: "[air] pressure": …
    known_leaks: tuple[KnownLeak, ...] = ()  # the site's, used where the folder holds no calibration sheet
    readings: tuple[Reading, ...] = ()
    problems: tuple[Problem, ...] = ()
    notes: tuple[Sentence, ...] = ()
    inputs_sha256: str = ""  # of survey.toml, the sheet and every file they name
