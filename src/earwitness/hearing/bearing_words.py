"""What is said of a bearing: the pieces of evidence by name, what would settle it, notes, and the picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from earwitness.hearing.bearing_families import FamiliesHeard, Listened
from earwitness.hearing.evidence import Evidence, Trace, WeightRow
from earwitness.hearing.heard import Heard
from earwitness.sentence import Sentence, say

_PART_NAMES = {"outer": "outer race", "inner": "inner race", "element": "rolling element"}
_MEASURES = {
    "share": ("share of all lines that the {part}'s family accounts for", "", "> {c:.2f}"),
    "lead": ("that share over the largest of the other parts ({part})", "", "> {c:.2f}"),
    "chance": ("family of lines at the {part}'s rate, against chance", "decades", "> {c:.1f} decades"),
    "explains": ("what of the impulsiveness the {part}'s lines account for", "", "> {c:.2f}"),
    "hump": ("broad rise at the {part}'s rate, against chance", "decades", "> {c:.1f} decades"),
}
_OTHERS = {
    "cage-share": ("share of all lines that the cage's harmonics account for", "", "> {c:.2f}"),
    "cage-harmonics": ("harmonics of the cage's rate that stand out", "of 12", "> {c:.0f}"),
    "kurtosis": ("impacts in the clearest band (log of 1 + kurtosis)", "decades", "> {c:.2f}"),
    "impulses": ("impacts a second that go on through the recording", "1/s", "> {c:.1f}"),
    "unexplained": ("impacts that no part's family explains (log of 1 + kurtosis)", "decades", "> {c:.2f}"),
    "best-chance": ("strongest family of any part, against chance", "decades", "> {c:.1f} decades"),
    "best-depth": ("depth of modulation by the strongest family", "of the mean", "> {c:.2f}"),
    "best-hump": ("broadest rise at any part's rate, against chance", "decades", "> {c:.1f} decades"),
    "rise": ("level over baseline", "dB", "> {c:.0f} dB"),
    "level-known": ("level and baseline are there to compare", "", "needed for friction"),
}
_LEAST_WEIGHT = 0.005  # nats; what weighs less is not worth a line


def evidence(values: Mapping[str, float], rows: Sequence[WeightRow]) -> tuple[Evidence, ...]:
    items = []
    for row in rows:
        value = values.get(row.code)
        if value is None:
            continue
        weight = row.weight(value)
        if abs(weight) < _LEAST_WEIGHT:
            continue
        name, unit, criterion = _described(row.code)
        items.append(Evidence(row.code, name, value, unit, criterion.format(c=row.criterion), row.supports, weight))
    return tuple(items)


def _described(code: str) -> tuple[str, str, str]:
    part, _, measure = code.partition("-")
    if part in _PART_NAMES and measure in _MEASURES:
        name, unit, criterion = _MEASURES[measure]
        return name.format(part=_PART_NAMES[part]), unit, criterion
    return _OTHERS[code]


def wanted(heard: Heard, listened: Listened, verdict: str) -> str:
    """Why a verdict that the weights allow must not be given, or ""."""
    if "rhythm" in heard.spoiled and verdict != "friction":
        return "rhythm"
    if listened.sound is None and verdict != "friction":
        return "longer"
    found = listened.families
    if listened.speed_from == "given" and found is None and verdict != "friction":
        return "longer"
    if found is not None and found.hidden and verdict in ("no-fault-heard", "friction", "irregular"):
        return "coincidence"
    return ""


def settle(heard: Heard, listened: Listened, wanting: str, probabilities: Mapping[str, float]) -> Sentence:
    """What would decide an inconclusive reading."""
    if wanting == "rhythm":
        return say(
            "settle-rhythm",
            "The recording cannot show a rhythm. Record again with fixed gain, uncompressed, no noise suppression.",
        )
    if wanting == "longer" or listened.sound is None:
        needed = max(10.0, 30.0 / listened.speed_hz) if listened.speed_hz else 10.0
        return say(
            "settle-longer",
            "The recording lasts {seconds:.1f} s; {needed:.0f} s at steady speed would do.",
            seconds=heard.seconds,
            needed=needed,
        )
    if wanting == "coincidence":
        return say(
            "settle-coincidence",
            "A line stands where a fault's line is expected, but also on a multiple of the shaft's speed or the mains."
            " A recording of {needed:.0f} s, or one at another speed, would part them.",
            needed=max(30.0, 3 * heard.seconds),
        )
    if listened.speed_from == "unknown":
        return say("settle-speed", "The shaft's speed is not known. With it, lines could be laid to the parts.")
    if listened.expected.known != "given":
        return say(
            "settle-geometry",
            "The maker's number of rolling elements and their and the pitch diameter would tell the parts apart.",
        )
    first, second = sorted(probabilities, key=lambda v: -probabilities[v])[:2]
    if "friction" in (first, second) and heard.baseline_db is None:
        return say("settle-baseline", "A level with its baseline, or of a like bearing beside it, would decide.")
    return say(
        "settle-repeat",
        "The evidence is divided between {first} and {second}. A recording of {needed:.0f} s under load, the probe on"
        " the bearing's housing, and one of a like bearing beside it would help to decide.",
        first=first,
        second=second,
        needed=max(30.0, 2 * heard.seconds),
    )


def severity_of(verdict: str, values: Mapping[str, float]) -> Sentence | None:
    """One word: damage or friction; no ladder of stages (ISO 29821-1:2011, 8.5: no accepted criteria)."""
    if verdict in ("no-fault-heard", "inconclusive"):
        return None
    rise = values.get("rise")
    if verdict == "friction":
        return say(
            "friction",
            "Level {rise:.0f} dB over baseline without impacts; about 8 dB is commonly taken as the time to look at"
            " the lubrication.",
            rise=rise if rise is not None else 0.0,
        )
    if rise is None:
        return say("damage", "Impacts are heard; without a level and baseline they cannot be graded further.")
    return say("damage", "Impacts are heard, the level is {rise:.0f} dB over baseline.", rise=rise)


def notes_of(listened: Listened, heard: Heard) -> tuple[Sentence, ...]:
    notes = []
    if listened.expected.note is not None:
        notes.append(listened.expected.note)
    if heard.level_db is None or heard.baseline_db is None or "level" in heard.spoiled:
        notes.append(
            say(
                "friction-not-judged",
                "Raised friction could not be judged: it needs a sound level and the point's baseline.",
            )
        )
    found = listened.families
    if listened.speed_from == "sound" and listened.speed_hz:
        notes.append(
            say(
                "speed-from-sound",
                "The speed was not given; sidebands spaced {speed_hz:.2f} Hz are taken for the shaft ({rpm:.0f} rpm).",
                speed_hz=listened.speed_hz,
                rpm=listened.speed_hz * 60,
            )
        )
    elif listened.speed_from == "unknown":
        notes.append(say("speed-unknown", "The speed was not given and could not be told from the sound."))
    elif found is not None and found.speed_seen >= 4 and listened.speed_hz:
        notes.append(
            say(
                "speed-refined",
                "The shaft's own lines put its speed at {rpm:.1f} rpm ({given:.1f} given).",
                rpm=found.speed_hz * 60,
                given=listened.speed_hz * 60,
            )
        )
    return tuple(notes)


def traces(listened: Listened) -> tuple[Trace, ...]:
    """The envelope spectrum in the view that shows the likeliest part best, with the lines expected."""
    if listened.sound is None:
        return ()
    lines, found = listened.sound.lines, listened.families
    view = max(found.parts.values(), key=lambda p: p.share).family.view if found else 0
    stop = lines.surprise.shape[1]
    if found is not None:
        stop = min(stop, int(3.5 * listened.expected.inner.high * found.speed_hz / lines.step_hz) + 2)
    amplitude, noise = lines.amplitude[view, :stop], lines.noise[view, :stop]
    arrays = {
        "freq_hz": (np.arange(stop) * lines.step_hz).astype(np.float32),
        "amplitude": amplitude.astype(np.float32),
        "threshold": (3.0 * np.sqrt(noise)).astype(np.float32),
    }
    return (Trace("envelope-spectrum", arrays, _marks(found, lines.names[view], stop * lines.step_hz)),)


def _marks(found: FamiliesHeard | None, view: str, top_hz: float) -> tuple[Mapping[str, Any], ...]:
    if found is None:
        return ({"view": view},)
    marks: list[Mapping[str, Any]] = [{"view": view}]
    for verdict, heard in found.parts.items():
        low, high = heard.part.low * found.speed_hz, heard.part.high * found.speed_hz
        for harmonic in (1, 2, 3):
            hz = (heard.part.nominal or 0) * found.speed_hz or (low + high) / 2
            if hz * harmonic < top_hz:
                near = any(abs(f / (heard.family.hz * harmonic) - 1) < 1e-3 for f in heard.family.found_hz)
                marks.append(
                    {
                        "hz": hz * harmonic,
                        "tolerance_hz": (high - low) / 2 * harmonic,
                        "name": verdict if harmonic == 1 else f"{harmonic} × {verdict}",
                        "found": near and heard.share > 0.1,
                        "found_hz": heard.family.hz * harmonic,
                    }
                )
    marks.append(
        {"hz": found.speed_hz, "tolerance_hz": 0.015 * found.speed_hz, "name": "shaft", "found": found.speed_seen > 4}
    )
    marks.append(
        {"hz": found.cage_hz, "tolerance_hz": 0.025 * found.cage_hz, "name": "cage", "found": found.cage_share > 0.1}
    )
    return tuple(marks)
