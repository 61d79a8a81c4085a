"""The survey in half a page: what was listened to, what was found, what it costs, what could not be heard."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from earwitness.report import blocks, wording
from earwitness.report.format import SPACE, counted, joined, unit_for, with_interval
from earwitness.report.model import Figure

Reading = Mapping[str, Any]
NAMED_MOST = 5


def is_listed(reading: Reading, urgent: frozenset[str]) -> bool:
    return reading.get("rank") is not None or str(reading.get("reading")) in urgent


def figures(findings: Mapping[str, Any], urgent: frozenset[str]) -> tuple[Figure, ...]:
    """The numbers to read first."""
    readings = findings.get("readings") or ()
    totals = findings.get("totals") or {}
    listed = [r for r in readings if is_listed(r, urgent)]
    said = [
        Figure("to act on now", str(len(urgent))),
        Figure("points listened to", str(_points([r for r in readings if r.get("status", "read") == "read"]))),
        Figure("things found", str(len(listed))),
    ]
    for label, name in (("wasted", "cost_per_year"), ("of which would come back", "saving_per_year")):
        for quantity in _in_each_currency(totals, name):
            value, _, interval = (
                with_interval(quantity, unit_for(name, quantity)).removeprefix("about ").partition(" (")
            )
            said.append(Figure(label, value, interval.rstrip(")")))
    return tuple(said)


def _in_each_currency(totals: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    """The sum of that name, and those of other currencies beside it (`cost_per_year_USD`)."""
    found = [totals[n] for n in sorted(totals) if n == name or n.startswith(f"{name}_")]
    return [q for q in found if isinstance(q, Mapping) and q.get("value") is not None]


def urgent_lead(count: int) -> str:
    if not count:
        return (
            "Nothing was heard that must be acted on before leaving the spot. That does not show the site to be free "
            "of danger: only what was listened to was judged, under the conditions stated."
        )
    what = "This must" if count == 1 else f"These {count} things must"
    return f"{what} be acted on now, before anything else in this report, and before any ranking."


def half_page(findings: Mapping[str, Any], urgent: frozenset[str]) -> tuple[str, ...]:
    readings = list(findings.get("readings") or ())
    lines = [_listened(readings), _found(readings, urgent), _costs(findings, readings, urgent), _whole(findings)]
    lines += [_undecided(readings), *_not_heard(readings)]
    problems = len(findings.get("problems") or ())
    if problems:
        lines.append(
            f"{counted(problems, 'problem')} in the sheet or the recordings {'is' if problems == 1 else 'are'} listed "
            "near the end, each with its row."
        )
    return tuple(line for line in lines if line)


def _points(readings: list[Reading]) -> int:
    return len({(r.get("area"), r.get("point") or r.get("tag") or r.get("reading")) for r in readings})


def _listened(readings: list[Reading]) -> str:
    taken = [r for r in readings if r.get("status", "read") == "read"]
    kinds = Counter(wording.KINDS.get(str(r.get("kind")), str(r.get("kind"))) for r in taken)
    by_kind = ", ".join(f"{kind} {number}" for kind, number in sorted(kinds.items(), key=lambda k: (-k[1], k[0])))
    line = f"Of {counted(_points(readings), 'point')} in the sheet, {_points(taken)} were listened to, in "
    return line + f"{counted(len(taken), 'reading')}" + (f" ({by_kind})." if by_kind else ".")


def _found(readings: list[Reading], urgent: frozenset[str]) -> str:
    listed = [r for r in readings if is_listed(r, urgent)]
    if not listed:
        return "Nothing wrong was heard where it could be judged."
    groups: dict[str, list[Reading]] = {}
    for reading in listed:
        groups.setdefault(wording.fault(reading), []).append(reading)
    named = [f"{len(g)}{SPACE}{wording.fault(g[0], many=len(g) > 1)}" for g in groups.values()]
    return f"Found: {joined(named)}."


def _costs(findings: Mapping[str, Any], readings: list[Reading], urgent: frozenset[str]) -> str:
    totals = findings.get("totals") or {}
    text = {
        name: joined([with_interval(q, unit_for(name, q)) for q in _in_each_currency(totals, name)])
        for name in ("volume_flow", "cost_per_year", "saving_per_year", "energy_per_year", "carbon_per_year")
    }
    text = {name: value for name, value in text.items() if value}
    if not text:
        return "No cost is stated: the prices or the flows it would need are not known."
    parts = []
    if "volume_flow" in text:
        parts.append(f"What was found lets {text['volume_flow']} escape.")
    if "cost_per_year" in text:
        back = f", of which would come back {text['saving_per_year']}" if "saving_per_year" in text else ""
        parts.append(f"It wastes {text['cost_per_year']}{back}.")
    extra = [text[n] + (" of carbon dioxide" if n.startswith("carbon") else "")
             for n in ("energy_per_year", "carbon_per_year") if n in text]  # fmt: skip
    if extra:
        parts.append(f"That is {joined(extra)}.")
    unpriced = [r for r in readings if is_listed(r, urgent) and "cost_per_year" not in (r.get("quantities") or {})]
    if unpriced:
        parts.append(f"{len(unpriced)} of the things found carry no sum of money here.")
    return " ".join(parts)


def _whole(findings: Mapping[str, Any]) -> str:
    """What was found against what the whole system loses, where that was measured."""
    against = findings.get("reconciliation") or {}
    measured, left = against.get("system_measured"), against.get("not_found")
    if not isinstance(measured, Mapping):
        return ""
    line = f"Measured as a whole, the air system leaks {with_interval(measured, unit_for('flow', measured))}"
    if isinstance(left, Mapping):
        line += f"; of that {with_interval(left, unit_for('flow', left))} was not found"
    return line + "."


def _undecided(readings: list[Reading]) -> str:
    undecided = [r for r in readings if wording.is_undecided(r)]
    if not undecided:
        return ""
    verb, each = ("was", "it") if len(undecided) == 1 else ("were", "each")
    return f"{counted(len(undecided), 'reading')} {verb} not decided; what would settle {each} is said below."


def _not_heard(readings: list[Reading]) -> list[str]:
    lines = []
    for status, phrase in wording.STATUS.items():
        these = [r for r in readings if r.get("status") == status]
        if not these:
            continue
        names = [blocks.where(r) for r in these[:NAMED_MOST]]
        if len(these) > NAMED_MOST:
            names.append(f"{len(these) - NAMED_MOST} more")
        lines.append(f"{wording.capital(phrase)}: {joined(names)}.")
    return lines
