"""Money: what the leaks cost, what would come back, what if, and what was saved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from earwitness.energy.part_load import CONTROLS
from earwitness.errors import EarwitnessError
from earwitness.interval import Interval
from earwitness.ledger import findings
from earwitness.report.format import Unit, with_interval
from earwitness.sentence import Sentence, say
from earwitness.server import Ask, Page
from earwitness.units.show import from_si
from earwitness.work import desk_money, system_history
from earwitness.work.desk_settings import site_with, survey_of
from earwitness.work.what_if import answers

page = Page("money", title="Money", order=50)
MOST = 400  # moments of the course of savings


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
    shut_hours: float | None = None
    leakage: str = ""


@dataclass(frozen=True)
class SavedAt:
    at: datetime
    estimated: float
    verified: float
    lost_again: float


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
    controls: Sequence[str]
    curve_lines: Mapping[str, Any]
    savings_lines: Mapping[str, Any]


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
        course = findings.savings(connection, site.id)
    it = Money(
        _heading(found), _rests_on(found), _figures(found), found, [t.as_json() for t in tests],
        system_history.told(tests), [SavedAt(s.at, s.estimated, s.verified, s.lost_again) for s in _thin(course)],
        asked, (), "", CONTROLS, _curve_lines(found), _savings_lines(_thin(course)),
    )  # fmt: skip
    if not (asked.pressure.strip() or asked.control or asked.shut_hours is not None):
        return it
    leakage = asked.leakage.strip() or None
    if leakage is None and found.flow is not None:
        leakage = f"{from_si(found.flow.value, 'm3/min'):.4g} m3/min"
    try:
        given = answers(
            settings, pressure=asked.pressure.strip() or None, control=asked.control or None,
            shut_hours=asked.shut_hours, zone_leakage=leakage, leakage=leakage,
        )  # fmt: skip
    except EarwitnessError as error:
        return replace(it, refused=str(error))
    return replace(it, answers=[_said(a) for a in given])


def _said(a: Any) -> Said:
    money = None if a.price_kwh is None else a.saved_kwh * a.price_kwh
    worth = f"{a.saved_kwh:,.0f} kWh" if money is None else f"{money:,.0f} {a.currency}"
    text = f"would save about {worth} a year" if a.saved_kwh >= 0 else f"would cost {worth.lstrip('-')} more a year"
    return Said(
        a.name, text.replace(",", "\u00a0"), a.found.before_w / 1000, a.found.after_w / 1000, a.saved_kwh, money,
        a.currency, a.notes,
    )  # fmt: skip


def _told(interval: Interval | None, unit: Unit) -> str:
    if interval is None:
        return ""
    return with_interval({"value": interval.value, "low": interval.low, "high": interval.high}, unit)


def _heading(m: desk_money.LeakMoney) -> str:
    if not m.leaks and not m.other_cost:
        return "No leak is open: nothing is being lost that is known"
    if m.cost is None:
        return "The open leaks have no cost yet: a price or the compressors are not stated"
    cost = _told(m.cost, Unit(f"{m.currency} a\u00a0year")).removeprefix("about ")
    back = _told(m.saving, Unit(f"{m.currency} a\u00a0year")).removeprefix("about ")
    return f"The air leaks cost {cost}" + (f"; {back} of it would come back" if back else "")


def _rests_on(m: desk_money.LeakMoney) -> str:
    text = "{n} open leaks of air by the site's present settings"
    parts = say("money-rests-on", text, n=m.leaks).text
    if m.unsized:
        parts += f"; {m.unsized} of them without a flow, which are not in the sums"
    if m.other_cost:
        parts += f"; other gases cost {m.other_cost:,.0f} {m.currency} a year beside that".replace(",", "\u00a0")
    return parts + "."


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


def _thin(course: Sequence[Any]) -> list[Any]:
    step = max(1, -(-len(course) // MOST))
    return [*course[:-1:step], course[-1]] if course else []


def _curve_lines(m: desk_money.LeakMoney) -> dict[str, Any]:
    """The curve as places in a picture of 600 by 300."""
    if not m.curve:
        return {}
    top, wide = max(p.power_w for p in m.curve) or 1.0, m.curve[-1].flow_m3_s or 1.0

    def place(p: desk_money.CurvePoint) -> tuple[float, float]:
        return round(60 + 500 * p.flow_m3_s / wide, 1), round(250 - 220 * p.power_w / top, 1)

    line = " ".join(f"{x},{y}" for x, y in map(place, m.curve))
    return {
        "line": line, "before": place(m.before) if m.before else None, "after": place(m.after) if m.after else None,
        "top_kw": top / 1000, "wide_m3_min": from_si(wide, "m3/min"),
    }  # fmt: skip


def _savings_lines(course: Sequence[Any]) -> dict[str, Any]:
    """Steps of the three sums over time in the same picture."""
    if len(course) < 2:
        return {}
    first, last = course[0].at.timestamp(), course[-1].at.timestamp()
    span = max(last - first, 1.0)
    top = max(max(s.estimated, s.verified, s.lost_again) for s in course) or 1.0
    out: dict[str, Any] = {"top": top, "from": course[0].at.date().isoformat(), "to": course[-1].at.date().isoformat()}
    for name in ("estimated", "verified", "lost_again"):
        path, before = "", None
        for s in course:
            x, y = 60 + 500 * (s.at.timestamp() - first) / span, 250 - 220 * getattr(s, name) / top
            path += f"M{x:.1f} {y:.1f}" if before is None else f"H{x:.1f}V{y:.1f}"
            before = y
        out[name] = path
    return out
