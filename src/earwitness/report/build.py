"""findings.json and its exhibits → the model of the report."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from earwitness.report import blocks, standards, summary, wording
from earwitness.report.counts import each_once
from earwitness.report.exhibit import Exhibit
from earwitness.report.format import SPACE, counted, when
from earwitness.report.model import Block, Other, Report, Trouble
from earwitness.report.record import record

Reading = Mapping[str, Any]
HEARD_NOTES = ("would-have", "smallest", "least-heard")  # codes of notes that say what would have been heard
COMMON_LEAST, COMMON_SHARE = 5, 0.8  # a note on so many readings, and on this share of them, is said once
HEARD_QUANTITIES = ("smallest_heard", "smallest_leak_heard", "would_have_heard")


def build(findings: Mapping[str, Any], exhibits: Mapping[str, Exhibit]) -> Report:
    readings = each_once(findings.get("readings") or ())
    findings = {**findings, "readings": readings}
    named = {str(r.get("reading")): r for r in readings}
    order = [str(name) for name in findings.get("urgent") or () if str(name) in named]
    urgent = frozenset(order)
    ranked = sorted((r for r in readings if r.get("rank") is not None and str(r.get("reading")) not in urgent),
                    key=lambda r: (r["rank"], str(r.get("reading"))))  # fmt: skip
    survey = findings.get("survey") or {}

    def as_block(reading: Reading) -> Block:
        name = str(reading.get("reading"))
        return blocks.block(reading, exhibits.get(name), urgent=name in urgent, common=common)

    common = _common_notes(readings)
    rest = [r for r in readings if not summary.is_listed(r, urgent)]
    quiet = [r for r in rest if r.get("verdict") in wording.QUIET]
    settled = [r for r in rest if r.get("verdict") in wording.FAULTS]
    return Report(
        title=str(survey.get("title") or "Survey by ear"),
        subtitle=" · ".join(when(str(survey[k])) for k in ("site", "date", "inspector") if survey.get(k)),
        figures=summary.figures(findings, urgent),
        urgent_lead=summary.urgent_lead(len(order)),
        urgent=tuple(as_block(named[name]) for name in order),
        summary=summary.half_page(findings, urgent),
        ground_rules=standards.GROUND_RULES,
        listed=tuple(blocks.list_row(r) for r in ranked),
        list_note=_list_note(ranked),
        blocks=tuple(as_block(r) for r in ranked),
        undecided=tuple(as_block(r) for r in rest if wording.is_undecided(r)),
        quiet=tuple(_quiet(r, common) for r in quiet),
        quiet_cautions=tuple(dict.fromkeys(c for r in quiet for c in blocks.texts(r.get("cautions")))),
        unheard=tuple(_unheard(r) for r in rest if r.get("status", "read") != "read"),
        settled=tuple(_settled(r, common) for r in settled),
        settled_cautions=tuple(dict.fromkeys(c for r in settled for c in blocks.texts(r.get("cautions")))),
        programme=tuple(str(line) for line in (findings.get("programme") or {}).get("told") or ()),
        judged=(*_judged(findings), *sorted(common)),
        troubles=_troubles(findings),
        record=record(findings),
        standards=(*standards.used(readings), standards.EDITIONS),
        made=_made(findings),
    )


def _list_note(ranked: list[Reading]) -> str:
    if not ranked:
        return "Nothing is on the list."
    return (
        "In the order of the signal word, then of the loss avoided for each hour of repair; machines and electrical "
        "findings by severity. What must be acted on now stands above and is not ranked. “Would come back” is what "
        "the compressors' controls give back once a leak of air is closed; of another gas, what is no longer bought."
    )


def _common_notes(readings: list[Reading]) -> frozenset[str]:
    """Notes that nearly every reading carries: said once for all."""
    heard = [r for r in readings if r.get("status", "read") == "read"]
    counts = Counter(note for r in heard for note in blocks.texts(r.get("notes")))
    return frozenset(note for note, count in counts.items() if count >= max(COMMON_LEAST, COMMON_SHARE * len(heard)))


def _quiet(reading: Reading, common: frozenset[str]) -> Other:
    """Nothing heard: with the smallest that would have been, where it is known."""
    notes = [n for n in reading.get("notes") or () if isinstance(n, Mapping)]
    would = [str(n.get("text", "")) for n in notes if str(n.get("code", "")).startswith(HEARD_NOTES)]
    for name in HEARD_QUANTITIES:
        value = wording.shown(reading, name)
        if value and not would:
            would.append(f"The smallest that would have been heard: {value}.")
    if not would:
        would = ["How small a thing would have been heard is not known."]
    others = [note for note in blocks.texts(notes) if note not in common]
    said = [*would, *_dangers(reading), *blocks.spoiled_by(reading), *others, *blocks.texts(reading.get("problems"))]
    return blocks.other(reading, wording.headline(reading), [*said, blocks.why(reading), _next(reading)])


def _unheard(reading: Reading) -> Other:
    said = [*blocks.texts(reading.get("notes")), *blocks.texts(reading.get("problems")), _next(reading)]
    status = wording.STATUS.get(str(reading.get("status")), str(reading.get("status")))
    return blocks.other(reading, wording.capital(status), said)


def _settled(reading: Reading, common: frozenset[str]) -> Other:
    """Heard, but not on the list: meant, mended on the spot, not found when opened, or heard twice."""
    why = str((reading.get("counts_in_totals") or {}).get("why") or "")
    notes = [note for note in blocks.texts(reading.get("notes")) if note not in common]
    said = [wording.capital(why).rstrip(".") + "." if why else "", *_dangers(reading), *notes]
    return blocks.other(reading, wording.headline(reading), [*said, blocks.why(reading), _next(reading)])


def _dangers(reading: Reading) -> list[str]:
    return [" ".join((f"{d.word}:", d.text, *d.first)) for d in blocks.dangers(reading)]


def _next(reading: Reading) -> str:
    step = blocks.text(reading.get("next_step"))
    return f"Next: {step}" if step else ""


def _judged(findings: Mapping[str, Any]) -> tuple[str, ...]:
    readings = [r for r in findings.get("readings") or () if r.get("verdict") is not None]
    bases = sorted({str(r["probability_basis"]) for r in readings if r.get("probability_basis")})
    tools = sorted({f"{d.get('name')} (version {d.get('version')})" for r in readings if (d := r.get("detector"))})
    lines = [
        "Each verdict is a sum of weighted evidence that can be added up by hand: weights in nats add to the "
        "logarithm of a stored prior, and give the probabilities. Below the decision threshold the answer is "
        "“not decided”.",
        "A verdict says what was heard, never that a thing is safe or sound.",
        "A level less than 3 dB over the background decides nothing by itself. Only a flow that was measured, or that "
        "follows from a known opening, is more than rough.",
        "Amounts are medians; in brackets stands the interval. Totals add expected values and draws, not medians, so "
        "they need not equal the sum of the lines.",
        "What it wastes is the flow at the cost of making it; what the controls give back is what the compressors "
        "will really draw less once all these leaks are closed, shared out by what each wastes. What another gas costs "
        "is saved whole.",
    ]
    if bases:
        lines.append(f"The probabilities come from: {', '.join(bases)}.")
    if tools:
        lines.append(f"Judged by: {', '.join(tools)}.")
    made = findings.get("made") or {}
    settings = made.get("settings") or {}
    if settings:
        lines.append("Settings: " + ", ".join(f"{k} = {settings[k]}" for k in sorted(settings)) + ".")
    lines += blocks.texts(findings.get("notes"))
    lines += blocks.texts((findings.get("reconciliation") or {}).get("notes"))
    return tuple(dict.fromkeys(lines))


def _troubles(findings: Mapping[str, Any]) -> tuple[Trouble, ...]:
    rows = []
    for problem in findings.get("problems") or ():
        place = []
        if problem.get("row") is not None:
            place.append(f"row{SPACE}{problem['row']}")
        if problem.get("column"):
            place.append(f"column {problem['column']}")
        if problem.get("file"):
            place.append(str(problem["file"]))
        rows.append(Trouble(", ".join(place) or "whole survey", blocks.text(problem)))
    return tuple(rows)


def _made(findings: Mapping[str, Any]) -> str:
    made = findings.get("made") or {}
    parts = [f"Made by Earwitness {made.get('version', '')}".strip()]
    if made.get("at"):
        parts.append(when(str(made["at"])))
    if made.get("seed") is not None:
        parts.append(f"seed {made['seed']}")
    if made.get("inputs_sha256"):
        parts.append(f"inputs {str(made['inputs_sha256'])[:16]}…")
    count = len(findings.get("readings") or ())
    return ", ".join(parts) + f"; {counted(count, 'reading')}."
