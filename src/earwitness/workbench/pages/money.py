"""Money: what the leaks cost, what would come back, what if, and what was saved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from earwitness import units
from earwitness.energy.part_load import CONTROLS
from earwitness.errors import EarwitnessError
from earwitness.interval import Interval
from earwitness.ledger import findings
from earwitness.plant.survey import Survey
from earwitness.report.format import Unit, amounts, counted, digits_of, joined, money, with_interval
from earwitness.sentence import Sentence, say
from earwitness.server import Ask, Page
from earwitness.server.ask import SiteHere
from earwitness.units import UnitError
from earwitness.units.show import from_si
from earwitness.work import desk_money, savings, system_history
from earwitness.work.desk_settings import NotTakenError, site_with, survey_of
from earwitness.work.programme import thinned
from earwitness.work.what_if import answers
from earwitness.workbench.line_chart import Curve, MarkAt, Scale, line_chart
from earwitness.workbench.savings_chart import savings_chart

page = Page("money", title="Money", order=50)
MOST = 400  # moments of the course of savings
SUMS = {
    "promised": "promised by the repairs made",
    "verified": "verified by a later reading",
    "estimated": "found, and not yet mended and verified",
    "lost_again": "saved once and lost again",
}


@dataclass(frozen=True)
class Figure:
    label: str
    text: str


@dataclass(frozen=True)
class Said:
    """One answer to a what-if."""

    name: str
    text: str
    before_kw: float
    after_kw: float
    told: str
    saved_kwh: float
    saved_money: float | None
    currency: str
    notes: Sequence[Sentence]


@dataclass(frozen=True)
class Asked:
    """What if: the pressure lowered ("6 bar(g)"), the controls changed, the net shut some hours a day. `leakage` is
    what leaks ("3 m3/min"); what is open counts where it is not stated."""

    pressure: str = ""
    control: str = ""
    shut_hours: str = ""
    leakage: str = ""


@dataclass(frozen=True)
class SavedAt:
    """Sums from this moment on, in one currency; none is added to another."""

    at: datetime
    currency: str
    estimated: float
    verified: float
    lost_again: float


@dataclass(frozen=True)
class Saved:
    """The course of one currency: the last sums, in words with their intervals, and the chart."""

    currency: str
    last: SavedAt
    sums: Sequence[Figure]
    course: Sequence[SavedAt]
    chart: str


@dataclass(frozen=True)
class Money:
    """What the open leaks cost by the site's settings, what would come back, and what was saved."""

    heading: str
    rests_on: str
    figures: Sequence[Figure]
    money: desk_money.LeakMoney
    tests: Sequence[Mapping[str, Any]]
    tests_told: Sequence[str]
    savings: Sequence[SavedAt]
    asked: Asked
    answers: Sequence[Said]
    refused: str
    refused_field: str
    controls: Sequence[str]
    curve_lines: Mapping[str, Any]
    saved: Sequence[Saved]


@page.view("/site/{site}/money")
def show(ask: Ask) -> Money:
    """What the leaks cost, what would come back, and what was saved."""
    return _money(ask, Asked())


@page.deed("/site/{site}/money/what-if", role="look", template="money.html.j2")
def what_if(ask: Ask, given: Asked) -> Money:
    """Ask what a lower pressure, other controls or a shut net would save; nothing is changed."""
    return _money(ask, given)


def _money(ask: Ask, asked: Asked) -> Money:
    with ask.ledger.reading() as connection:
        site = site_with(connection, ask.site.id)
        found = desk_money.leak_money(connection, site)
        settings = survey_of(connection, site)
        tests = system_history.history(connection, site)
        course = thinned(findings.savings(connection, site.id), MOST)
        sums = savings.sums(connection, site.id)
    it = Money(
        _heading(found), _rests_on(found), _figures(found), found, [t.as_json() for t in tests],
        system_history.told(tests), [_saved_at(s) for s in course],
        asked, (), "", "", CONTROLS, _curve_lines(found), _saved(course, sums, ask.site),
    )  # fmt: skip
    if not (asked.pressure.strip() or asked.control or asked.shut_hours.strip()):
        return it
    try:
        return replace(it, answers=[_said(a) for a in _answers(settings, found, asked)])
    except EarwitnessError as error:
        return replace(it, refused=str(error), refused_field=_field_of(error))


def _answers(settings: Survey, found: desk_money.LeakMoney, asked: Asked) -> Sequence[Any]:
    leakage = asked.leakage.strip() or None
    if leakage is None and found.flow is not None:
        leakage = f"{from_si(found.flow.value, 'm3/min'):.4g} m3/min"
    if leakage is None:
        raise NotTakenError("leakage", "No open leak has a flow; say here what leaks, such as 3 m3/min.")
    if asked.pressure.strip() and settings.air.pressure_abs is None:
        raise NotTakenError("pressure", "The present pressure of the net is not stated; the settings take it.")
    hours = units.number(asked.shut_hours, where="shut_hours") if asked.shut_hours.strip() else None
    if hours is not None and not 0 <= hours <= 24:
        raise NotTakenError("shut_hours", f"'{asked.shut_hours.strip()}' cannot be; 0 to 24 hours a day would do.")
    return answers(
        settings, pressure=asked.pressure.strip() or None, control=asked.control or None, shut_hours=hours,
        zone_leakage=leakage, leakage=leakage,
    )  # fmt: skip


def _field_of(error: EarwitnessError) -> str:
    where = error.sentence.args.get("where", "") if isinstance(error, UnitError) else getattr(error, "argument", "")
    return {"zone-leakage": "leakage"}.get(str(where), str(where))


def _said(a: Any) -> Said:
    saved = None if a.price_kwh is None else a.saved_kwh * a.price_kwh
    worth = money({"kWh": abs(a.saved_kwh)} if saved is None else {a.currency: abs(saved)})
    text = f"would save about {worth} a year" if a.saved_kwh >= 0 else f"would cost about {worth} more a year"
    return Said(
        a.name, text, a.found.before_w / 1000, a.found.after_w / 1000,
        f"{_kw(a.found.before_w)} now, {_kw(a.found.after_w)} then", a.saved_kwh, saved,
        a.currency, a.notes,
    )  # fmt: skip


def _kw(power_w: float) -> str:
    return f"{digits_of(power_w / 1000, 3)}\u00a0kW"


def _told(interval: Interval | None, unit: Unit) -> str:
    if interval is None:
        return ""
    return with_interval({"value": interval.value, "low": interval.low, "high": interval.high}, unit)


def _heading(m: desk_money.LeakMoney) -> str:
    if not m.leaks and not m.others:
        return "No leak is open: nothing is being lost that is known"
    if not m.leaks:
        return f"Leaks of other gases cost {_of_others(m)}"
    if m.cost is None:
        return "The open leaks have no cost yet: a price or the compressors are not stated"
    cost = _told(m.cost, Unit(f"{m.currency} a\u00a0year")).removeprefix("about ")
    back = _told(m.saving, Unit(f"{m.currency} a\u00a0year")).removeprefix("about ")
    return f"The air leaks cost {cost}" + (f"; {back} of it would come back" if back else "")


def _rests_on(m: desk_money.LeakMoney) -> str:
    if not m.leaks:
        parts = "Air leaks are told here once a survey hears one"
    else:
        text = "{leaks} of air, open now, by the site's present settings"
        parts = say("money-rests-on", text, leaks=counted(m.leaks, "leak")).text
    if m.unsized:
        parts += f"; {m.unsized} of them without a flow, not in the sums"
    if m.others and m.leaks:
        parts += f"; other gases cost {_of_others(m)} beside that"
    return parts + "."


def _of_others(m: desk_money.LeakMoney) -> str:
    return joined([_told(v, Unit(f"{c} a\u00a0year")) for c, v in m.others.items()])


def _figures(m: desk_money.LeakMoney) -> list[Figure]:
    money = Unit(f"{m.currency} a\u00a0year")
    every = [
        Figure("escapes", _told(m.flow, Unit("m³/min", "m3/min"))),
        Figure("energy", _told(m.energy, Unit("kWh a\u00a0year"))),
        Figure("wastes", _told(m.cost, money)),
        Figure("the controls would give back", _told(m.saving, money)),
        Figure("carbon dioxide", _told(m.carbon, Unit("kg a\u00a0year"))),
    ]
    return [f for f in every if f.text]


def _curve_lines(m: desk_money.LeakMoney) -> dict[str, Any]:
    """The curve as a chart, with the demand now and with the open leaks mended."""
    if not m.curve:
        return {}
    flows, powers = [p.flow_m3_s * 60 for p in m.curve], [p.power_w / 1000 for p in m.curve]
    now = [MarkAt(m.before.flow_m3_s * 60, "now")] if m.before else []
    mended = [MarkAt(m.after.flow_m3_s * 60, "mended")] if m.after and m.leaks else []
    title = "Plant power over demand, with the demand now and with the open leaks mended"
    across, up = Scale(0.0, flows[-1] or 1.0, "demand", "m³/min"), Scale(0.0, 1.1 * max(powers) or 1.0, "power", "kW")
    chart = line_chart("part-load", title, flows, across, up, [Curve("power", powers, "kW")], [*now, *mended])
    return {
        "chart": str(chart), "now": _kw(m.before.power_w) if m.before else "",
        "then": _kw(m.after.power_w) if m.after and m.leaks else "",
    }  # fmt: skip


def _saved_at(s: findings.Savings) -> SavedAt:
    return SavedAt(s.at, s.currency, s.estimated, s.verified, s.lost_again)


def _saved(course: Sequence[findings.Savings], sums: savings.Sums, site: SiteHere) -> list[Saved]:
    """Each currency by itself, the most frequent first."""
    by: dict[str, list[findings.Savings]] = {}
    for s in course:
        if s.currency:
            by.setdefault(s.currency, []).append(s)
    return [
        Saved(
            c, _saved_at(own[-1]), _sums_told(c, sums.get(c, {})), [_saved_at(s) for s in own],
            str(savings_chart(own, site.now(), site.zone)),
        )
        for c, own in sorted(by.items(), key=lambda item: -len(item[1]))
    ]  # fmt: skip


def _sums_told(currency: str, sums: Mapping[str, Interval]) -> list[Figure]:
    unit = f"{currency} a\u00a0year"
    return [Figure(label, amounts({unit: sums.get(name, savings.NOTHING)})) for name, label in SUMS.items()]
