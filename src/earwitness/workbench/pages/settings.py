"""Settings: what the program assumes at this site, why, and from where; each of it may be changed with a reason."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import insert, select
from starlette.responses import Response

from earwitness import units
from earwitness.ledger import schema, system_tests
from earwitness.plant.site import SensitivityCheck
from earwitness.report.format import when
from earwitness.report.sheets import Sheet, as_csv
from earwitness.server import Ask, Page, Refusal, Went
from earwitness.server.page import ROLES, Role
from earwitness.server.users import add_user, remove_user, users
from earwitness.units.show import from_si
from earwitness.work.desk_settings import (
    CHANGES,
    DEFAULTS,
    OWN_ALONE,
    Changed,
    NotTakenError,
    change_default,
    settings_of,
    site_with,
)
from earwitness.work.sensor_checks import record_check

page = Page("settings", title="Settings", order=80)
SUBJECTS = (("energy", "Energy"), ("air", "Compressed air"), ("site", "The site's air and mains"), ("alarms", "Alarms"),
            ("workbench", "The workbench on the phone"))  # fmt: skip


@dataclass(frozen=True)
class Default:
    """One assumption: what holds now and whence, what would hold otherwise, why it matters, where to find it."""

    table: str
    key: str
    label: str
    value: str
    whence: str
    otherwise: str
    why: str
    source: str
    own: bool


@dataclass(frozen=True)
class Subject:
    name: str
    defaults: Sequence[Default]


@dataclass(frozen=True)
class CheckLine:
    day: date
    level_db: float
    expected_db: float
    passed: bool


@dataclass(frozen=True)
class InstrumentLine:
    words: str
    serial: str
    checks: Sequence[CheckLine]


@dataclass(frozen=True)
class LeakLine:
    day: date
    level_db: float
    pressure_bar_abs: float
    distance_m: float
    flow_l_min: float


@dataclass(frozen=True)
class UserLine:
    id: uuid.UUID
    name: str
    roles: str


@dataclass(frozen=True)
class Settings:
    """Everything that is assumed at a site, with its reason and source."""

    heading: str
    subjects: Sequence[Subject]
    gases: Sequence[Default]
    leaks: Sequence[LeakLine]
    instruments: Sequence[InstrumentLine]
    users: Sequence[UserLine]
    may_users: bool
    roles: Sequence[str]
    changes: Sequence[Changed]
    reference: str


@dataclass(frozen=True)
class Change:
    """A default and its new value; an empty value takes the change back. `why` is the reason or the source."""

    table: str
    key: str
    value: str
    why: str


@dataclass(frozen=True)
class Check:
    """One minute on a fixed source: level shown and level when new [dB]."""

    level_db: float
    expected_db: float
    day: date
    serial: str = ""
    tolerance_db: float = 3.0


@dataclass(frozen=True)
class KnownLeak:
    """A leak of known flow as it was heard: level [dB], pressure and flow with their units, distance [m]."""

    level_db: float
    pressure: str
    distance_m: float
    flow: str
    day: date


@dataclass(frozen=True)
class NewUser:
    name: str
    password: str
    role: Role


@dataclass(frozen=True)
class Gone:
    id: uuid.UUID


@page.view("/site/{site}/settings", role="administer")
def show(ask: Ask) -> Settings:
    """What is assumed here, why, and whence."""
    with ask.ledger.reading() as connection:
        site = site_with(connection, ask.site.id)
        _, tables, source = settings_of(connection, site)
        instruments = system_tests.instruments(connection, site.id)
        checks = system_tests.checks(connection, [i.id for i in instruments])
        k = schema.calibration_leak
        leaks = connection.execute(select(k).where(k.c.site_id == site.id).order_by(k.c.day, k.c.id)).all()
    said = f"survey.toml of {source}" if source else ""
    subjects = [
        Subject(title, [_default(site.settings, tables, t, k, said) for t, k in DEFAULTS if t == table])
        for table, title in SUBJECTS
    ]
    own_gas = site.settings.get("gas") or {}
    gases = [
        Default("gas", str(g.get("name")), str(g.get("name")), str(g.get("price") or ""),
                "changed here" if g.get("name") in own_gas else said, "none: this gas has no cost",
                "What an escaped unit of it costs; saved whole once the leak is closed.", "the supplier's bill",
                g.get("name") in own_gas)
        for g in tables.get("gas") or () if isinstance(g, dict)
    ]  # fmt: skip
    stated = sum(bool(d.value) for s in subjects for d in s.defaults)
    log = [Changed(**c) for c in reversed(site.settings.get(CHANGES, ()))]
    may = ask.who.may("administer", None)
    return Settings(
        f"{stated} of {sum(len(s.defaults) for s in subjects)} defaults are stated for this site"
        + (f", {len(log)} changes made here" if log else ""),
        subjects, gases, [_leak(r) for r in leaks],
        [InstrumentLine(" ".join(w for w in (i.receiver, i.sensor) if w) or "no words", i.serial or "",
                        [CheckLine(c.day, c.level_db, c.expected_db, c.passed) for c in checks[i.id]])
         for i in instruments],
        [UserLine(u.id, u.name, u.where({s.id: s.name for s in ask.sites})) for u in users(ask.ledger)
         if may or ask.site.id in u.roles or None in u.roles],
        may, ROLES, log,
        "Volumes of air and gas are told at 20 °C and 101.325 kPa.",
    )  # fmt: skip


def _default(settings: Any, tables: Any, table: str, key: str, said: str) -> Default:
    label, otherwise, why, source = DEFAULTS[table, key]
    own = key in (settings.get(table) or {})
    held = settings if table in OWN_ALONE else tables
    value = (held.get(table) or {}).get(key)
    whence = "changed here" if own else said if value is not None else "not stated"
    return Default(table, key, label, "" if value is None else str(value), whence, otherwise, why, source, own)


def _leak(r: Any) -> LeakLine:
    return LeakLine(r.day, r.level_db, r.pressure_abs / 1e5, r.distance_m, from_si(r.flow_m3_s, "l/min"))


@page.deed("/site/{site}/settings/default", role="administer")
def changed(ask: Ask, given: Change) -> Went:
    """Change one default, with the reason; what is shown from it changes at once."""
    change_default(
        ask.ledger, ask.site.id, given.table, given.key, given.value, who=ask.who.name, why=given.why,
        at=datetime.now(UTC),
    )  # fmt: skip
    return Went(f"{ask.site.path}/settings#{given.table}-{given.key.replace(' ', '-')}", text="It is changed.")


def _past(ask: Ask, day: date) -> None:
    if day > ask.site.now().date():
        raise NotTakenError("day", f"{when(day.isoformat())} is still to come; state the day on which it was done.")


@page.deed("/site/{site}/settings/check", role="administer")
def check(ask: Ask, given: Check) -> Went:
    """Keep a check of an instrument on a fixed source."""
    _past(ask, given.day)
    done = SensitivityCheck(given.day, given.level_db, given.expected_db, given.tolerance_db)
    record_check(ask.ledger, ask.site.name, given.serial or None, done)
    return Went(f"{ask.site.path}/settings#instruments", text="The check is kept.")


@page.deed("/site/{site}/settings/leak", role="administer")
def leak(ask: Ask, given: KnownLeak) -> Went:
    """Keep a calibration leak."""
    _past(ask, given.day)
    pressure = units.quantity(given.pressure, "pressure", where="pressure")
    flow = units.quantity(given.flow, "volume flow", where="flow")
    if flow <= 0 or given.distance_m <= 0:
        raise Refusal(422, "leak-wrong", "A calibration leak has a flow and a distance above 0.")
    row = {
        "id": uuid.uuid4(), "site_id": ask.site.id, "day": given.day, "level_db": given.level_db,
        "pressure_abs": pressure, "distance_m": given.distance_m, "flow_m3_s": flow,
    }  # fmt: skip
    with ask.ledger.writing() as connection:
        connection.execute(insert(schema.calibration_leak).values(**row))
    return Went(f"{ask.site.path}/settings#leaks", str(row["id"]), "The leak is kept.")


@page.raw("/site/{site}/settings/calibration.csv", role="administer")
def calibration(ask: Ask) -> Response:
    """The calibration leaks as the sheet that a survey folder takes."""
    k = schema.calibration_leak
    with ask.ledger.reading() as connection:
        rows = connection.execute(select(k).where(k.c.site_id == ask.site.id).order_by(k.c.day, k.c.id)).all()
    lines = tuple(
        (f"K-{n:02d}", r.level_db, r.distance_m, f"{r.pressure_abs / 1e5:.5g} bar(a)",
         f"{from_si(r.flow_m3_s, 'l/min'):.5g} l/min")
        for n, r in enumerate(rows, 1)
    )  # fmt: skip
    data = as_csv(Sheet(("reading", "level_db", "distance_m", "pressure", "flow"), lines))
    headers = {"Content-Disposition": 'attachment; filename="calibration.csv"'}
    return Response(data, media_type="text/csv; charset=utf-8", headers=headers)


@page.deed("/site/{site}/settings/user", role="administer")
def new_user(ask: Ask, given: NewUser) -> Went:
    """Let somebody in at this site, with a role."""
    made = add_user(ask.ledger, given.name, given.password, {ask.site.id: given.role})
    return Went(f"{ask.site.path}/settings#users", str(made), f"{given.name.strip()} is let in.")


@page.deed("/site/{site}/settings/user/remove", role="administer")
def gone(ask: Ask, given: Gone) -> Went:
    """Let somebody in no more; who administers every site may."""
    if not ask.who.may("administer", None):
        raise Refusal(403, "role-missing", "This needs the role “administer” at every site.")
    remove_user(ask.ledger, given.id)
    return Went(f"{ask.site.path}/settings#users", text="This user is let in no more.")
