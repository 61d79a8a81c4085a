"""What holds at a site: the latest survey's settings, and over them what somebody has changed at the desk.

A change is kept in the site's settings in the words of survey.toml, with who, when and why; it is read by the same code
that reads survey.toml, so that nothing is taken here that would not be taken there.
"""

from __future__ import annotations

import re
import tomllib
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from earwitness.errors import InputError
from earwitness.intake.settings import Settings, read_settings
from earwitness.intake.toml_lines import Parts, read_parts
from earwitness.ledger import Ledger, schema
from earwitness.ledger.rows import change, line_up
from earwitness.plant.site import Site
from earwitness.plant.survey import Survey
from earwitness.report.format import when

CHANGES = "changes"  # in the site's settings: what was changed, the latest last
SEED = 0
OWN_ALONE = ("alarms", "workbench")  # tables that no survey.toml has
ADDRESS = re.compile(r"https?://[A-Za-z0-9.\[\]:-]{1,250}")


class NotTakenError(InputError):
    """What a form gave and cannot be: the field, and a sentence for whoever filled it in."""

    def __init__(self, argument: str, text: str) -> None:
        super().__init__(argument, "", text)
        self.args = (text,)


@dataclass(frozen=True)
class Changed:
    """One change of a default."""

    part: str
    before: str
    after: str
    who: str
    at: str
    why: str


def _tables(connection: Connection, site: Site) -> tuple[dict[str, Any], str]:
    """The tables of the latest survey's survey.toml with the site's own over them, and which survey that was."""
    s = schema.survey.c
    asked = select(s.settings_toml, s.title, s.day).where(s.site_id == site.id).order_by(s.day.desc(), s.title)
    row = connection.execute(asked.limit(1)).first()
    tables = dict(read_parts("survey.toml", row.settings_toml).tables) if row else {}
    for name in ("energy", "air", "site"):
        own = site.settings.get(name)
        if own:
            tables[name] = {**(tables.get(name) or {}), **own}
    prices = site.settings.get("gas") or {}
    if prices:
        given = tables.get("gas") or []
        stated = {str(g.get("name", "")): g for g in given if isinstance(g, dict)}
        tables["gas"] = [*({**g, "price": prices[n]} if n in prices else g for n, g in stated.items()),
                         *({"name": n, "price": p} for n, p in prices.items() if n not in stated)]  # fmt: skip
    return tables, f"{row.title}, {when(row.day.isoformat())}" if row else ""


def settings_of(connection: Connection, site: Site) -> tuple[Settings, dict[str, Any], str]:
    """As read, as written, and from which survey."""
    tables, source = _tables(connection, site)
    return read_settings(Parts("the site's settings", tables), site.name), tables, source


def survey_of(connection: Connection, site: Site) -> Survey:
    """The site's settings in the shape of a survey without readings: what `economy_of` and what-if ask for."""
    s, _, _ = settings_of(connection, site)
    return Survey(
        Path(), s.title, site.name, s.date, s.inspector, instrument=s.instrument, conditions=s.conditions,
        energy=s.energy, air=s.air, gas_prices=s.gas_prices,
    )  # fmt: skip


def site_with(connection: Connection, site_id: uuid.UUID) -> Site:
    r = connection.execute(select(schema.site).where(schema.site.c.id == site_id)).one()
    return Site(r.id, r.name, r.timezone, r.settings)


def phone_address(connection: Connection, site_id: uuid.UUID) -> str:
    """Under which a phone reaches the workbench; empty where it is not stated."""
    return str((site_with(connection, site_id).settings.get("workbench") or {}).get("address") or "")


def keep(ledger: Ledger, site_id: uuid.UUID, name: str, value: Any) -> None:
    """Put one part of the site's settings in place of what was there."""
    with ledger.writing() as connection:
        line_up(connection, site_id)
        now = site_with(connection, site_id)
        change(connection, schema.site, site_id, settings={**now.settings, name: value})


def change_default(
    ledger: Ledger, site_id: uuid.UUID, table: str, key: str, text: str, *, who: str, why: str, at: datetime
) -> None:
    """Change one default; an empty text takes the change back, and what the survey says holds again.

    Raises
    ------
    InputError : no such default, a value that survey.toml would not take either, or no reason
    """
    if (table, key) not in DEFAULTS and table != "gas":
        raise InputError("setting", f"[{table}] {key}", "one of those that the page shows")
    if not why.strip():
        raise NotTakenError("why", "Why, or from where? Others will judge it by that later.")
    with ledger.writing() as connection:
        line_up(connection, site_id)
        site = site_with(connection, site_id)
        _, before, _ = settings_of(connection, site)
        own = dict(site.settings.get(table) or {})
        own.pop(key, None)
        if text.strip():
            own[key] = text.strip().rstrip("/") if table == "workbench" else _as_toml(text.strip())
        after = replace(site, settings={**site.settings, table: own})
        _check(connection, after, table, key)
        _, tables, _ = settings_of(connection, after)
        if table in OWN_ALONE:
            before, tables = dict(site.settings), dict(after.settings)
        said = Changed(f"[{table}] {key}", _stated(before, table, key), _stated(tables, table, key),
                       who, at.isoformat(timespec="seconds"), why.strip())  # fmt: skip
        log = [*site.settings.get(CHANGES, ()), vars(said)][-500:]
        change(connection, schema.site, site_id, settings={**after.settings, CHANGES: log})


def _as_toml(text: str) -> Any:
    """A number or a list as TOML has it, else the text itself."""
    try:
        return tomllib.loads(f"x = {text}")["x"]
    except tomllib.TOMLDecodeError:
        return text


def _check(connection: Connection, after: Site, table: str, key: str) -> None:
    value = (after.settings.get(table) or {}).get(key)
    if table == "alarms":
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 100):
            raise NotTakenError("value", f"'{value}' is no such level; a number above 0 and below 100 would do.")
        return
    if table == "workbench":
        if value is not None and not ADDRESS.fullmatch(str(value)):
            raise NotTakenError(
                "value", f"'{value}' is no address; https://ears.example.plant:8765 would do, without a path."
            )
        return
    read, _, _ = settings_of(connection, after)
    wanted = f"[{table}]" + ("" if table == "gas" else f" {key}")
    for problem in read.problems:
        if problem.column and problem.column.startswith(wanted):
            text = problem.sentence.text.removeprefix(f"the site's settings, {wanted}: ")
            raise NotTakenError("value", text[:1].upper() + text[1:])


def _stated(tables: Mapping[str, Any], table: str, key: str) -> str:
    found = tables.get(table) or {}
    if isinstance(found, list):
        value = next((g.get("price") for g in found if g.get("name") == key), None)
    else:
        value = found.get(key)
    return "" if value is None else str(value)


# (table, key): label, what holds where nothing is stated, why, source
DEFAULTS: Mapping[tuple[str, str], tuple[str, str, str, str]] = {
    ("energy", "price"): (
        "Price of electricity", "none: nothing has a cost",
        "Turns energy into money. Take it from the bill, without parts that do not follow consumption.",
        "the plant's bill"),
    ("energy", "carbon"): (
        "Carbon of a kilowatt-hour", "none: no carbon is told",
        "The grid's average over a year; known within about 20 % (common practice).", "the supplier's declaration"),
    ("energy", "demand_charge"): (
        "Charge for the month's highest power", "none",
        "A leak that blows at the peak also costs power, not energy alone.", "the plant's bill"),
    ("air", "pressure"): (
        "Pressure of the net", "none: no what-if of pressure",
        "What the compressors hold, at the header, on its gauge (bar(g)).", "read on the spot"),
    ("air", "hours_per_year"): (
        "Hours a year under pressure", "8760 for savings; none for costs",
        "A leak costs as long as there is pressure, also when nothing is produced.", "the compressors' hour meters"),
    ("air", "average_load"): (
        "Average load of the compressors, as a fraction", "none: no saving is told",
        "Fraction of what all compressors can deliver; decides how much the controls give back.",
        "flow meter, or loaded time over running time"),
    ("air", "specific_power"): (
        "Power for a flow of free air", "the machines' own, else rating plates, else the legal minimum",
        "What a cubic metre costs to compress at full load.", "ISO 1217 test sheet of the machine"),
    ("site", "mains_hz"): (
        "Mains frequency [Hz]", "decided from the recording", "Electrical faults beat with it.", "IEC 60038"),
    ("site", "temperature"): (
        "Usual temperature", "20 °C", "Air absorbs ultrasound more or less with it.", "ISO 9613-1"),
    ("site", "humidity"): (
        "Usual relative humidity, as a fraction", "0.5",
        "Decides how much ultrasound the air swallows over the distance.", "ISO 9613-1"),
    ("site", "ambient_pressure"): (
        "Pressure of the air outside", "1013.25 hPa", "Gauges read over it.", "ISO 2533, standard atmosphere"),
    ("workbench", "address"): (
        "Address under which a phone reaches this workbench",
        "the address by which this page was opened; where that is this computer's own localhost, the codes hold "
        "the tag alone",
        "Stands in the QR codes of tags and cards, so that a scanned tag opens its finding on the fitter's phone.",
        "the name of this computer in the plant's network, with the port, as the server tells at its start"),
    ("alarms", "watch_over_db"): (
        "Watch level, dB over baseline", "from the inspector's measured repeatability",
        "State both or neither; then these hold for every point without its own.", "common practice"),
    ("alarms", "act_over_db"): (
        "Act level, dB over baseline", "from the inspector's measured repeatability",
        "State both or neither; then these hold for every point without its own.", "common practice"),
}  # fmt: skip
