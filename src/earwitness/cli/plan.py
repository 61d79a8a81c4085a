"""earwitness plan: the repairs of the coming weeks."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option

if TYPE_CHECKING:
    from earwitness.work.plan import Offer, Plan

EPILOG = """\b
Examples:
  earwitness plan --ledger plant.db --weeks 12 --hours fitter=40 --budget "5000 EUR" --shutdown 6
  earwitness plan --ledger plant.db --weeks 4 --hours fitter=16 --hours electrician=8 --parts "6205=3" \\
      --worth bearing="900 EUR" --json
"""

HINTS = {
    "plan-no-hours": " State --hours CRAFT=HOURS.",
    "plan-no-money": " State --worth KIND=AMOUNT to say otherwise.",
    "plan-no-money-at-all": " State --worth KIND=AMOUNT to say otherwise.",
}


@click.command("plan", epilog=EPILOG)
@ledger_options
@site_option
@click.option("--weeks", type=click.IntRange(1, 104), default=12, show_default=True, help="Weeks to plan.")
@click.option("--hours", "hours", multiple=True, required=True, help="Hours a week of a craft, fitter=40; repeat.")
@click.option("--budget", help='Money for parts and help in all, "5000 EUR".')
@click.option("--shutdown", "shutdowns", type=click.IntRange(1), multiple=True, help="A shutdown week; repeat.")
@click.option("--parts", "parts", multiple=True, help='Weeks until a part is there, "bearing 6205=3"; repeat.')
@click.option("--worth", "worth", multiple=True, help='What a finding of a kind costs a year, bearing="900 EUR".')
@click.option("--set-up", "set_ups", multiple=True, help="Hours that an isolation, access or parts take, isolation=1.")
@click.option("--round-cost", help='Of one round of one area, "250 EUR": says when to survey which area again.')
@click.option("--schedule", "by", help="Name of who schedules: the planned findings become scheduled.")
@click.option("--json", "as_json", is_flag=True, help="Print the plan as JSON.")
def command(
    ledger: str, recordings: Path | None, site: str | None, weeks: int, hours: Sequence[str], budget: str | None,
    shutdowns: Sequence[int], parts: Sequence[str], worth: Sequence[str], set_ups: Sequence[str],
    round_cost: str | None, by: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Choose and order the repairs of the coming weeks: the greatest expected loss avoided within hours, budget, parts
    and shutdowns, with the bound that no plan exceeds. Dangers stand before the plan."""
    from datetime import UTC, datetime

    from earwitness.ledger import sites
    from earwitness.work import plan as deed
    from earwitness.work.programme import currency_of
    from earwitness.work.returns import returns

    with opened(ledger, recordings) as book:
        with book.reading() as c:
            home = sites.site_of(c, site)
            offer = _offer(weeks, hours, budget, shutdowns, parts, worth, set_ups, currency_of(c, home.id))
            cost = _money(round_cost, "round-cost", offer.currency)[0] if round_cost else None
            made = deed.plan(c, home, offer, returns(c, home.id, cost, offer.currency))
        if by is not None:
            deed.take_over(book, made, who=by, at=datetime.now(UTC))
    if as_json:
        click.echo(json.dumps(made.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    for line in told(made):
        click.echo(line)


def _offer(
    weeks: int, hours: Sequence[str], budget: str | None, shutdowns: Sequence[int], parts: Sequence[str],
    worth: Sequence[str], set_ups: Sequence[str], currency: str,
) -> Offer:  # fmt: skip
    from earwitness.errors import InputError
    from earwitness.work.plan import SET_UP_HOURS, Offer

    late = [w for w in shutdowns if w > weeks]
    if late:
        raise InputError("shutdown", late[0], f"one of the weeks 1 to {weeks}")
    sums = {"hours": _pairs(hours, "hours"), "set-up": _pairs(set_ups, "set-up"), "parts": _pairs(parts, "parts")}
    numbers = {name: {k: _number(v, name) for k, v in pairs.items()} for name, pairs in sums.items()}
    unknown = sorted(set(numbers["set-up"]) - set(SET_UP_HOURS))
    if unknown:
        raise InputError("set-up", unknown[0], "one of " + ", ".join(SET_UP_HOURS))
    money, currency = _money(budget, "budget", currency) if budget else (float("inf"), currency)
    return Offer(
        weeks=weeks,
        hours=numbers["hours"],
        shutdowns=frozenset(shutdowns),
        budget=money,
        currency=currency,
        set_up_hours={**SET_UP_HOURS, **numbers["set-up"]},
        parts_weeks={k: int(v) for k, v in numbers["parts"].items()},
        worth={k: _money(v, "worth", currency)[0] for k, v in _pairs(worth, "worth").items()},
    )


def _pairs(texts: Sequence[str], where: str) -> dict[str, str]:
    from earwitness.errors import InputError

    out = {}
    for text in texts:
        name, equals, value = text.rpartition("=")
        if not equals or not name.strip():
            raise InputError(where, f"'{text}'", "a name and a value, NAME=VALUE")
        out[name.strip()] = value.strip()
    return out


def _number(text: str, where: str) -> float:
    from earwitness import units
    from earwitness.errors import InputError

    value = units.number(text, where=where)
    if value < 0:
        raise InputError(where, text, "0 or more")
    return value


def _money(text: str, where: str, currency: str) -> tuple[float, str]:
    """An amount; refused where it is in another currency than the findings' own."""
    from earwitness import units
    from earwitness.errors import InputError

    value, given = units.money(text, where=where, currency=currency or None)
    if currency and given != currency:
        raise InputError(where, text, f"an amount in {currency}, as the findings have it")
    return value, given


def told(made: Plan) -> list[str]:
    """The plan in plain lines: dangers first, then the weeks."""
    from earwitness.report.format import amounts, money

    lines = []
    for x, record in made.dangers:
        who = f"told: {record[-1]['who']}" if record else "NOBODY IS RECORDED AS TOLD (earwitness told)"
        tag = f" ({x.tag})" if x.tag else ""
        lines.append(f"BEFORE ANY PLAN: {x.finding.verdict} at {x.point}{tag}, {who}")
    for week in range(1, made.offer.weeks + 1):
        jobs = made.in_week(week)
        if not jobs:
            continue
        used = ", ".join(f"{c} {u:g} of {made.offer.hours[c]:g} h" for c, u in made.used(week).items())
        lines.append(f"Week {week}{' (shutdown)' if week in made.offer.shutdowns else ''}: {used}")
        for j in jobs:
            x = j.listed
            place = ", ".join(p for p in (x.point, x.location, x.area) if p)
            shared = f" [{'; '.join(j.task.bundles)}]" if j.task.bundles else ""
            counts = money({j.currency: j.value_per_year})
            worth = amounts({j.currency: j.avoids.over(1.0)}) if j.has_money else f"counts as {counts}"
            worth = f", {worth} a year" if made.told_in_money else ""
            who = f"{j.task.craft} {j.task.hours:g} h"
            lines.append(f"  {x.tag or '':<9} {x.finding.verdict}: {place}; {who}{worth}{shared}")
    f = made.found
    avoided = f"; {sums} avoided within these weeks" if (sums := amounts(made.avoided())) else ""
    lines.append(
        f"{len(f.week)} of {len(made.jobs)} repairs planned{avoided}, at most {100 * f.gap:.1f} % below the best that "
        "any plan could do."
    )
    for name, why in made.left.items():
        x = made.jobs[name].listed
        tag = f" ({x.tag})" if x.tag else ""
        lines.append(f"Left: {x.finding.verdict} at {x.point}{tag}. {why.text}")
    lines += [f"Again: {r.area}. {r.sentence.text}" for r in made.returns]
    return lines + [f"Note: {n.text}{HINTS.get(n.code, '')}" for n in made.notes]
