"""What holds for the whole survey, from survey.toml: each wrong or missing part is named with its line and what was
expected, and leaves out only what depends on it."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from earwitness import units
from earwitness.intake.choices import choice
from earwitness.intake.dates import moment
from earwitness.intake.tariff import composition_of, curve_of, profile_of, tariff_of
from earwitness.intake.toml_lines import Parts
from earwitness.plant.reading import Problem
from earwitness.plant.survey import AirSystem, Compressor, Energy, Instrument, LeakTest, Price, SiteConditions
from earwitness.sentence import Sentence, say
from earwitness.units import UnitError

FIVE_LINES = '[survey]; title = "Air leaks, hall 3"; site = "Example works"; date = "2026-11-20"; inspector = "A. Name"'
_LEAK_TEST_WORDS: Mapping[str, str] = {
    "loaded": "on_load", "load_time": "on_load", "time_on_load": "on_load", "unloaded": "off_load",
    "unload_time": "off_load", "time_off_load": "off_load", "volume": "volume", "receiver": "volume",
    "storage": "volume", "pressure_start": "pressure_from", "start_pressure": "pressure_from",
    "pressure_end": "pressure_to", "end_pressure": "pressure_to", "time": "duration",
}  # fmt: skip
_LEAK_TEST: Mapping[str, tuple[str, str]] = {  # key: its name in SI, its dimension
    "on_load": ("on_load_s", "duration"), "off_load": ("off_load_s", "duration"),
    "capacity": ("capacity_m3_s", "volume flow"), "power": ("power_w", "power"), "volume": ("volume_m3", "volume"),
    "pressure_from": ("pressure_from_abs", "pressure"), "pressure_to": ("pressure_to_abs", "pressure"),
    "duration": ("duration_s", "duration"), "flow": ("flow_m3_s", "volume flow"),
}  # fmt: skip
_LEAK_TEST_NEEDS: Mapping[str, tuple[str, ...]] = {
    "load-unload": ("on_load", "off_load"),
    "bleed-down": ("volume", "pressure_from", "pressure_to", "duration"),
    "metered": ("flow",),
}


@dataclass
class Settings:
    """What survey.toml says, without its readings."""

    title: str = ""
    site: str = ""
    date: str = ""
    day: dt.date | None = None
    inspector: str = ""
    qualification: str | None = None
    instrument: Instrument = field(default_factory=Instrument)
    conditions: SiteConditions = field(default_factory=SiteConditions)
    zone: ZoneInfo | None = None
    energy: Energy = field(default_factory=Energy)
    air: AirSystem = field(default_factory=AirSystem)
    gas_prices: dict[str, Price] = field(default_factory=dict)
    gas_compositions: dict[str, dict[str, float]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    notes: list[Sentence] = field(default_factory=list)


class _Table:
    """One table of the file while it is read; what is left at the end is a key that nobody asked for."""

    def __init__(self, parts: Parts, name: str, values: Any, into: Settings) -> None:
        self.parts, self.name, self.into = parts, name, into
        self.values: dict[str, Any] = dict(values) if isinstance(values, dict) else {}
        self.known: set[str] = set()
        if values is not None and not isinstance(values, dict):
            self.problem("", say("not-a-table", "{where}: a table was expected, [{name}] on a line of its own.",
                                 where=parts.place(name), name=name))  # fmt: skip

    def problem(self, key: str, sentence: Sentence) -> None:
        column = f"[{self.name.split(' ')[0]}]" + (f" {key}" if key else "")
        self.into.problems.append(Problem(None, column, sentence, self.parts.file))

    def take(self, key: str) -> Any:
        self.known.add(key)
        return self.values.pop(key, None)

    def text(self, key: str, *, needed: str = "") -> str | None:
        value = self.take(key)
        if isinstance(value, dt.date | dt.time):
            value = value.isoformat()
        if isinstance(value, int | float) and not isinstance(value, bool):
            value = f"{value:g}" if isinstance(value, float) else str(value)
        if isinstance(value, str) and value.strip():
            return value.strip()
        if value is not None and not isinstance(value, str):
            self.wrong(key, value, "a text in quotes")
        elif needed:
            self.problem(key, say("part-missing", "{where} is missing; {expected} would do.",
                                  where=self.parts.place(self.name, key), expected=needed))  # fmt: skip
        return None

    def wrong(self, key: str, value: Any, expected: str) -> None:
        where = self.parts.place(self.name, key)
        self.problem(key, say("part-wrong", "{where}: '{given}' was found where {expected} was expected.",
                              where=where, given=str(value)[:60], expected=expected))  # fmt: skip

    def amount(self, key: str, dimension: str, *, unit: str | None = None, ambient: float = units.ATMOSPHERE,
               low: float = float("-inf"), high: float = float("inf")) -> float | None:  # fmt: skip
        """A quantity in SI; `unit` is the one that the key's name carries. A key with another unit at its end
        ("pressure_bar") serves as well."""
        value = self.take(key)
        if value is None:
            base = key.rpartition("_")[0] if unit and "_" in key else key
            for other in [name for name in self.values if name.startswith(base + "_")]:
                if units.fits(dimension, other[len(base) + 1 :]):
                    key, unit, value = other, other[len(base) + 1 :], self.take(other)
                    break
        if value is None or (isinstance(value, str) and not value.strip()):
            return None
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            self.wrong(key, value, f"a quantity such as {units.DIMENSIONS[dimension].examples}")
            return None
        where = self.parts.place(self.name, key)
        try:
            read = units.read(str(value), dimension, where=where, unit=unit, ambient_abs=ambient, decimal=".")
        except UnitError as error:
            self.problem(key, error.sentence)
            return None
        if not low <= read.value <= high:
            self.problem(key, say("out-of-range", "{where}: '{given}' is outside {low:g} to {high:g} {unit}.",
                                  where=where, given=str(value)[:60], low=low, high=high,
                                  unit="as a fraction" if read.unit == "1" else read.unit))  # fmt: skip
            return None
        self.into.notes.extend(read.notes)
        return read.value

    def chosen(self, key: str) -> str | None:
        value = self.text(key)
        if value is None:
            return None
        try:
            return choice(key, value, where=self.parts.place(self.name, key))
        except UnitError as error:
            self.problem(key, error.sentence)
            return None

    def price(self, key: str, *, heat: bool, per: str | None = None) -> Price | None:
        value = self.take(key)
        if value is None:
            return None
        text = f"{value}/{per}" if per and "/" not in str(value) else str(value)
        try:
            read = units.price(text, where=self.parts.place(self.name, key), heat=heat, decimal=".")
        except UnitError as error:
            self.problem(key, error.sentence)
            return None
        self.into.notes.extend(read.notes)
        return Price(read.value, read.currency, read.per, read.given)

    def done(self) -> None:
        """What is left was not asked for: noted, or a problem where it is nearly a known name."""
        for key in self.values:
            near = difflib.get_close_matches(key, [k for k in self.known if k not in self.values], 1, 0.8)
            where = self.parts.place(self.name, key)
            if near:
                self.problem(key, say("part-unknown-near", "{where} is not a known name and is not used; did you mean "
                                      "'{near}'?", where=where, near=near[0]))  # fmt: skip
            else:
                self.into.notes.append(say("part-unknown", "{where} is not a known name and is not used.", where=where))


def read_settings(parts: Parts, fallback_title: str) -> Settings:
    """Everything of survey.toml; a part that is missing or wrong is a problem, never a stop."""
    into = Settings(problems=list(parts.problems))
    tables = dict(parts.tables)
    _survey(parts, tables.pop("survey", None), into, fallback_title)
    _instrument(_Table(parts, "instrument", tables.pop("instrument", None), into))
    _site(_Table(parts, "site", tables.pop("site", None), into))
    ambient = into.conditions.ambient_pressure_abs or units.ATMOSPHERE
    energy = _Table(parts, "energy", tables.pop("energy", None), into)
    into.energy = tariff_of(energy)
    energy.done()
    compressors = [_compressor(table) for table in _tables(parts, "compressor", tables.pop("compressor", None), into)]
    _air(_Table(parts, "air", tables.pop("air", None), into), tuple(c for c in compressors if c), ambient)
    for table in _tables(parts, "gas", tables.pop("gas", None), into):
        _gas(table)
    rest = _Table(parts, "", tables, into)
    rest.known |= {"survey", "instrument", "site", "energy", "air", "compressor", "gas"}
    rest.done()
    return into


def _tables(parts: Parts, name: str, values: Any, into: Settings) -> list[_Table]:
    if values is None:
        return []
    if isinstance(values, dict):  # [gas] for [[gas]]
        values = [values]
        parts.lines.setdefault((f"{name} 1", ""), parts.line(name) or 0)
    if not isinstance(values, list):
        values = [values]
    return [_Table(parts, f"{name} {number}", value, into) for number, value in enumerate(values, start=1)]


def _survey(parts: Parts, values: Any, into: Settings, fallback_title: str) -> None:
    if values is None:
        into.problems.append(
            Problem(None, "[survey]", say("survey-missing", "{file}: [survey] is missing; these five lines would do: "
                                          "{lines}", file=parts.file, lines=FIVE_LINES), parts.file)
        )  # fmt: skip
        into.title = fallback_title
        return
    table = _Table(parts, "survey", values, into)
    into.title = table.text("title", needed='title = "Air leaks, hall 3"') or fallback_title
    into.site = table.text("site", needed='site = "Example works"') or ""
    into.inspector = table.text("inspector", needed='inspector = "A. Name"') or ""
    into.qualification = table.text("qualification")
    given = table.text("date", needed='date = "2026-11-20"') or ""
    into.date = given
    if given:
        try:
            when, timed = moment(given, where=parts.place("survey", "date"))
            into.day = when.date()
            into.date = when.isoformat() if timed else when.date().isoformat()
        except UnitError as error:
            table.problem("date", error.sentence)
    table.done()


def _instrument(table: _Table) -> None:
    table.into.instrument = Instrument(
        receiver=table.text("receiver"),
        serial=table.text("serial"),
        sensor=table.text("sensor"),
        centre_hz=table.amount("centre_khz", "frequency", unit="kHz", low=1, high=1e7),
        last_check=table.text("last_check"),
        level_ref=_known(table.text("level_ref")),
    )
    table.done()


def _known(text: str | None) -> str | None:
    return None if text is None or text.casefold() in ("unknown", "not known", "?", "-", "none", "n/a") else text


def _site(table: _Table) -> None:
    zone, into = table.text("timezone"), table.into
    if zone:
        try:
            into.zone = ZoneInfo(zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            table.wrong("timezone", zone, "an IANA name such as Europe/Berlin")
            zone = None
    into.conditions = SiteConditions(
        mains_hz=table.amount("mains_hz", "frequency", unit="Hz", low=10, high=1000),
        temperature_k=table.amount("temperature", "temperature", low=150, high=400),
        humidity=table.amount("humidity", "fraction", low=0, high=1),
        ambient_pressure_abs=table.amount("ambient_pressure", "absolute pressure", low=3e4, high=2e5),
        timezone=zone,
    )
    table.done()


def _air(table: _Table, compressors: tuple[Compressor, ...], ambient: float) -> None:
    test = table.take("leak_test")
    table.into.air = AirSystem(
        pressure_abs=table.amount("pressure", "pressure", ambient=ambient, low=0, high=1e9),
        hours_per_year=table.amount("hours_per_year", "hours", unit="h", low=0, high=8784),
        average_load=table.amount("average_load", "fraction", low=0, high=1),
        load_profile=profile_of(table),
        specific_power_j_m3=table.amount("specific_power", "specific power", low=1e4, high=1e7),
        control=table.chosen("control"),
        leak_test=_leak_test(_Table(table.parts, "air.leak_test", test, table.into), ambient) if test else None,
        compressors=compressors,
    )
    table.done()


def _compressor(table: _Table) -> Compressor | None:
    if not table.values:
        return None
    number = table.name.rpartition(" ")[2]
    compressor = Compressor(
        name=table.text("name") or f"compressor {number}",
        capacity_m3_s=table.amount("capacity", "volume flow", low=1e-6, high=1e3),
        rated_power_w=table.amount("rated_power", "power", low=1, high=1e8),
        specific_power_j_m3=table.amount("specific_power", "specific power", low=1e4, high=1e7),
        control=table.chosen("control"),
        storage_m3=table.amount("storage", "volume", low=0, high=1e6),
        part_load=curve_of(table),
    )
    table.done()
    return compressor


def _gas(table: _Table) -> None:
    name = table.text("name", needed='name = "nitrogen"')
    per = table.text("per") or table.text("per_unit") or table.text("unit")
    price = table.price("price", heat=True, per=per)
    parts = composition_of(table)
    if name and parts:
        table.into.gas_compositions[name] = parts
    if name and price:
        if name in table.into.gas_prices:
            table.wrong("name", name, "a gas that has no price yet")
        table.into.gas_prices.setdefault(name, price)
    table.done()


def _leak_test(table: _Table, ambient: float) -> LeakTest | None:
    for word, key in _LEAK_TEST_WORDS.items():
        if word in table.values and key not in table.values:
            table.values[key] = table.values.pop(word)
            line = table.parts.line(table.name, word)
            if line:
                table.parts.lines[(table.name, key)] = line
    kind = table.text("kind") or table.text("method")
    given = {key: str(table.values[key]) for key in _LEAK_TEST if key in table.values}
    values = {}
    for key, (name, dimension) in _LEAK_TEST.items():
        if (value := table.amount(key, dimension, ambient=ambient, low=0, high=1e9)) is not None:
            values[name] = value
    table.done()
    word = (kind or "").casefold().replace(" ", "-").replace("/", "-")
    kinds = [word] if word in _LEAK_TEST_NEEDS else list(_LEAK_TEST_NEEDS)
    if kind and word not in _LEAK_TEST_NEEDS:
        table.wrong("kind", kind, "one of " + ", ".join(_LEAK_TEST_NEEDS))
    for candidate in kinds:
        if all(_LEAK_TEST[key][0] in values for key in _LEAK_TEST_NEEDS[candidate]):
            return LeakTest(candidate, values, given)
    needs = "; ".join(f"{name}: {', '.join(_LEAK_TEST_NEEDS[name])}" for name in kinds)
    table.problem("", say("leak-test-incomplete", "{where} is not complete; needed are {needs}.",
                          where=table.parts.place(table.name), needs=needs))  # fmt: skip
    return None
