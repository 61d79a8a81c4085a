"""One reading of findings.json → its block: headline, place, dangers, next step, evidence, amounts, pictures, sound."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from earwitness.hearing.evidence import DECISION
from earwitness.report import wording
from earwitness.report.evidence import SILENT, measures
from earwitness.report.exhibit import Exhibit, images_of, sound_of
from earwitness.report.format import SPACE, counted, percent, plain_number, unit_for, when, with_interval
from earwitness.report.model import Amount, Block, Danger, Evidence, ListRow, Other, Said

Reading = Mapping[str, Any]
EVIDENCE_MOST = 8  # pieces of evidence that get a line of their own
WEAK = 0.3  # nats; below it a piece changes the odds by less than a third
WHY_MOST = 3
_MOVED = 0.005  # of a probability: less is told alike
WORDS = ("DANGER", "WARNING", "CAUTION", "NOTICE")


def texts(sentences: Any) -> tuple[str, ...]:
    """The English of a list of sentences, in order, each once."""
    found = []
    for sentence in sentences or ():
        text = sentence.get("text") if isinstance(sentence, Mapping) else sentence
        if text:
            found.append(str(text))
    return tuple(dict.fromkeys(found))


def text(sentence: Any) -> str:
    return next(iter(texts([sentence])), "") if sentence else ""


def anchor(reading: Reading) -> str:
    """An identifier for links, from the reading's name: letters and digits, the rest spelled by its code."""
    name = str(reading.get("reading", ""))
    return "r-" + re.sub(r"[^A-Za-z0-9-]", lambda m: f"_{ord(m.group()):x}", name)


def where(reading: Reading) -> str:
    """The spot in words: area, point, tag."""
    parts = [str(reading[k]) for k in ("area", "point") if reading.get(k)]
    if reading.get("tag"):
        parts.append(f"tag {reading['tag']}")
    return ", ".join(parts) or "no point stated"


def word(reading: Reading) -> str:
    """The strongest signal word among the hazards."""
    words = {h.get("signal_word") for h in reading.get("hazards") or ()} | {reading.get("signal_word")}
    return next((w for w in WORDS if w in words), "")


def block(
    reading: Reading, exhibit: Exhibit | None, *, urgent: bool = False, common: frozenset[str] = frozenset()
) -> Block:
    """The block of a reading; notes that are `common` to the survey are said elsewhere, once."""
    name = str(reading.get("reading", ""))
    sound, no_sound = sound_of(reading, exhibit)
    images, no_picture = images_of(reading, exhibit)
    evidence, weaker = evidence_split(reading)
    said_already = common | {text(reading.get("next_step")), *texts((reading.get("fitness") or {}).get("problems"))}
    notes = [*texts(reading.get("notes")), *_problems(reading), *no_sound, *no_picture]
    return Block(
        anchor=anchor(reading),
        reading=name,
        rank="" if reading.get("rank") is None else str(reading["rank"]),
        word=word(reading),
        urgent=urgent,
        where=where(reading),
        what=_short(reading),
        headline=wording.headline(reading),
        place=_place(reading),
        dangers=dangers(reading),
        next_step=text(reading.get("next_step")),
        cautions=texts(reading.get("cautions")),
        severity=severity(reading),
        evidence=evidence,
        weaker=weaker,
        probabilities=_probabilities(reading),
        amounts=_amounts(reading),
        places=_places(reading),
        spoiled=spoiled_by(reading),
        notes=tuple(n for n in dict.fromkeys(notes) if n not in said_already),
        note=str(reading.get("note") or ""),
        reported=reported(reading),
        images=images,
        sound=sound,
    )


def list_row(reading: Reading) -> ListRow:
    repair = reading.get("repair") or {}
    work = []
    if repair.get("hours") is not None:
        work.append(f"{plain_number(repair['hours'])}{SPACE}h")
    work += [str(repair[k]) for k in ("craft", "access") if repair.get(k)]
    if repair.get("isolation"):
        work.append(f"isolate: {repair['isolation']}")
    if repair.get("shutdown"):
        work.append("needs a shutdown")
    if repair.get("parts"):
        work.append(f"parts: {repair['parts']}")
    return ListRow(
        anchor=anchor(reading),
        rank="" if reading.get("rank") is None else str(reading["rank"]),
        word=word(reading),
        reading=str(reading.get("reading", "")),
        where=where(reading),
        what=_short(reading),
        wastes=wording.shown(reading, "cost_per_year").removeprefix("about "),
        saves=wording.shown(reading, "saving_per_year").removeprefix("about "),
        work="; ".join(work),
    )


def other(reading: Reading, what: str, said: Sequence[str]) -> Other:
    """A reading on no list: what is to be said of it, and how it was taken in one line."""
    spot = ", ".join(str(reading[k]) for k in ("component", "location") if reading.get(k))
    taken = [f"spot: {spot}"] if spot else []
    taken += [f"inspector's note: {reading['note']}"] if reading.get("note") else []
    taken += [f"{name}: {value}" for name, value in (reading.get("extra") or {}).items() if str(value)]
    lines = [line for line in dict.fromkeys(said) if line]
    detail = wording.capital("; ".join(taken) + ".") if taken else ""
    return Other(anchor(reading), str(reading.get("reading", "")), where(reading), what, tuple(lines), detail)


def why(reading: Reading) -> str:
    """The strongest evidence in one sentence."""
    said = [f"{m.name}{f' {m.value}' if m.value else ''}, {m.speaks}" for m in measures(reading)[:WHY_MOST]]
    return f"Why: {'; '.join(said)}." if said else ""


def _short(reading: Reading) -> str:
    """The finding without its money: what it is, how sure, how much escapes."""
    if wording.is_undecided(reading):
        return "Not decided"
    what = wording.capital(wording.fault(reading))
    places = reading.get("places") or []
    if reading.get("verdict") == "passage" and len(places) > 1:
        what = f"{len(places)} places where the tone comes through"
    if wording.is_seen(reading):
        what += f", seen ({reading.get('confirmed')})"
    elif isinstance(reading.get("probability"), int | float):
        what += f", {percent(reading['probability'])}"
    flow = wording.escapes(reading)
    return what + (f", {flow}" if flow else "")


def _place(reading: Reading) -> tuple[Said, ...]:
    stated = {
        "component": reading.get("component"),
        "spot": reading.get("location"),
        "listened at": when(str(reading.get("taken_at") or "")),
        "checks": reading.get("verifies"),
        "kind": wording.KINDS.get(str(reading.get("kind")), reading.get("kind")),
    }
    said = [Said(label, str(value)) for label, value in stated.items() if value]
    for name, given in (reading.get("conditions") or {}).items():
        if isinstance(given, Mapping) and given.get("given") and given.get("from") in ("row", "default"):
            said.append(Said(*wording.condition(name, given)))
    said += [Said(str(name), str(value)) for name, value in (reading.get("extra") or {}).items() if str(value)]
    return tuple(said)


def dangers(reading: Reading) -> tuple[Danger, ...]:
    hazards = [h for h in reading.get("hazards") or () if isinstance(h, Mapping)]
    order = {w: i for i, w in enumerate(WORDS)}
    hazards.sort(key=lambda h: order.get(str(h.get("signal_word")), len(WORDS)))
    return tuple(
        Danger(
            str(h.get("signal_word") or "NOTICE"),
            str(h.get("text", "")),
            str(h.get("basis", "")),
            texts(h.get("first_actions")),
        )
        for h in hazards
    )


def severity(reading: Reading) -> str:
    stated = reading.get("severity") or {}
    return ": ".join(str(stated[k]) for k in ("word", "basis") if stated.get(k))


def evidence_split(reading: Reading) -> tuple[tuple[Evidence, ...], str]:
    """The measures that decide, each on its line; the weaker ones in one sentence, those that say nothing counted."""
    found = measures(reading)
    said = [max(abs(w) for _, w in m.weights) for m in found]
    own_line = min(max(3, sum(w >= WEAK for w in said)), EVIDENCE_MOST)
    named = max(own_line, sum(w >= SILENT for w in said))
    found.sort(key=lambda m: -max(abs(w) for _, w in m.weights))
    weaker = [f"{m.name}, {m.speaks.removeprefix('strongly ').removeprefix('weakly ')}" for m in found[own_line:named]]
    if len(found) > named:
        weaker.append(f"{counted(len(found) - named, 'piece')} more that say next to nothing")
    lines = tuple(Evidence(m.name, m.value, m.criterion, m.speaks) for m in found[:own_line])
    return lines, "; ".join(weaker)


def _probabilities(reading: Reading) -> str:
    shares = {str(k): v for k, v in (reading.get("probabilities") or {}).items() if isinstance(v, int | float)}
    if not shares:
        return ""
    if reading.get("verdict") == "inconclusive" and max(shares.values()) >= DECISION:
        return ""  # withheld for another reason: this is not what was found
    ordered = sorted(shares.items(), key=lambda item: (-item[1], item[0]))
    said = ", ".join(f"{name.replace('-', ' ')} {percent(share)}" for name, share in ordered)
    basis, told = reading.get("probability_basis"), reading.get("probability")
    heard = shares.get(str(reading.get("verdict")))
    if basis and heard is not None and isinstance(told, int | float) and abs(told - heard) > _MOVED:
        return f"{said} by the sound alone; {reading['verdict'].replace('-', ' ')} {percent(told)} from {basis}"
    return said + (f" (from {basis})" if basis else "")


def _amounts(reading: Reading) -> tuple[Amount, ...]:
    """The known quantities first and in their order, then any other."""
    quantities = {k: q for k, q in (reading.get("quantities") or {}).items() if isinstance(q, Mapping)}
    names = [n for n in wording.QUANTITIES if n in quantities] + [n for n in quantities if n not in wording.QUANTITIES]
    amounts: list[Amount] = []
    before = ""
    for name in names:
        value = with_interval(quantities[name], unit_for(name, quantities[name]))
        if not value:
            continue
        label = wording.QUANTITIES.get(name, name.replace("_", " "))
        if quantities[name].get("reference"):
            label += " at " + str(quantities[name]["reference"]).replace(" degC", f"{SPACE}°C")
        method = wording.method(quantities[name])
        amounts.append(Amount(label, value, method if method != before else ""))
        before = method
    return tuple(amounts)


def _places(reading: Reading) -> tuple[str, ...]:
    lines = []
    for number, place in enumerate(reading.get("places") or (), 1):
        at = []
        if isinstance(place.get("at_m"), int | float):
            at.append(f"at {place['at_m']:.2f}{SPACE}m")
        if isinstance(place.get("at_s"), int | float):
            at.append(f"{place['at_s']:.1f}{SPACE}s into the recording")
        if isinstance(place.get("level_db"), int | float):
            at.append(f"{place['level_db']:.0f}{SPACE}dB")
        lines.append(f"Place {number}: " + ", ".join(at))
    return tuple(lines)


def spoiled_by(reading: Reading) -> tuple[str, ...]:
    lines = []
    for problem in (reading.get("fitness") or {}).get("problems") or ():
        spoils = [str(s) for s in problem.get("spoils") or ()]
        line = text(problem)
        lines.append(line + (f" This spoils: {', '.join(spoils)}." if spoils else ""))
    return tuple(dict.fromkeys(lines))


def _problems(reading: Reading) -> tuple[str, ...]:
    return texts(reading.get("problems"))


def reported(reading: Reading) -> str:
    repair = reading.get("repair") or {}
    to, at = repair.get("reported_to"), repair.get("reported_at")
    if to:
        return f"Reported to {to}" + (f", {when(str(at))}." if at else "; the time is not stated.")
    return ""
