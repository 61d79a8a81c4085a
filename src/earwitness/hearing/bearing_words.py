"""What is said of a bearing: the pieces of evidence by name, what would settle it, notes, and the picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from earwitness.hearing.bearing_doubts import doubt
from earwitness.hearing.bearing_heard import FamiliesHeard, Listened
from earwitness.hearing.evidence import Evidence, Trace, WeightRow
from earwitness.hearing.heard import NO_SOUND, Heard
from earwitness.sentence import Sentence, say

_PART_NAMES = {"outer": "outer race", "inner": "inner race", "element": "rolling element"}
_MEASURES = {
    "share": ("share of all lines that the {part}'s family accounts for", "", "> {c:.2f}"),
    "lead": ("that share over the largest of the other parts ({part})", "", "> {c:.2f}"),
    "ratio": ("the {part}'s share over the largest of the other parts' (natural log)", "", "> {c:.1f}"),
    "first": ("the fundamental at the {part}'s rate over the other parts' (natural log)", "", "> {c:.1f}"),
    "near": ("the {part}'s line, how far from its place without slip, negative", "%", "> {c:.1f} %"),
    "middle": ("the {part}'s share without sidebands over the other parts' (natural log)", "", "> {c:.1f}"),
    "given": ("the chance of its lines or rise at the rate of the {part} as given", "decades", "> {c:.1f} decades"),
    "chance": ("family of lines at the {part}'s rate, against chance", "decades", "> {c:.1f} decades"),
    "lines": ("family of lines at the {part}'s rate, broad rises left out", "decades", "> {c:.1f} decades"),
    "beyond": ("family at the {part}'s rate, over the strongest of the other parts", "decades", "> {c:.1f} decades"),
    "explains": ("share of all swelling and jumping that the {part}'s family accounts for", "", "> {c:.2f}"),
    "hump": ("broad rise at the {part}'s rate, against chance", "decades", "> {c:.1f} decades"),
    "over": ("broad rise at the {part}'s rate, over that of the other parts", "decades", "> {c:.1f} decades"),
}
_OTHERS = {
    "cage-sides": ("sidebands at ± the cage's rate over the strongest family's lines", "", "> {c:.2f}"),
    "cage-share": ("share of all lines that the cage's harmonics account for", "", "> {c:.2f}"),
    "cage-turned": ("share of all lines at multiples of the cage's rate against the turning ring", "", "> {c:.2f}"),
    "cage-train": ("share of the tall impacts that fall on one turn of the cage", "", "> {c:.2f}"),
    "cage-once": ("share of the tall impacts a cage's turn apart, or of all lines in its comb", "", "> {c:.2f}"),
    "blows-a-cage-turn": ("impacts in a turn of the cage", "octaves", "> {c:.1f} octaves over one"),
    "once-a-cage-turn": ("impacts in a turn of the cage, how far from one", "octaves", "> {c:.1f} octaves"),
    "cage-harmonics": ("harmonics of the cage's rate that stand out", "of 5", "> {c:.0f}"),
    "kurtosis": ("impacts in the clearest band (log of 1 + kurtosis)", "decades", "> {c:.2f}"),
    "impulses": ("impacts a second that go on through the recording", "1/s", "> {c:.1f}"),
    "in-step": ("impacts that keep time with those before, against chance", "decades", "> {c:.0f} decades"),
    "stray": ("impacts a second that go on and that no part's family explains", "1/s", "> {c:.1f}"),
    "unexplained": ("impacts that no part's family explains (log of 1 + kurtosis)", "decades", "> {c:.2f}"),
    "calm-share": ("no part's family accounts for much: largest share, negative", "", "> {c:.2f}"),
    "calm-chance": ("no part's family is beyond chance: strongest, negative", "decades", "> {c:.1f} decades"),
    "calm-lines": ("no part's lines stand out, broad rises left out, negative", "decades", "> {c:.1f} decades"),
    "calm-sided": ("no inner race's family with its sidebands stands out, negative", "decades", "> {c:.1f} decades"),
    "calm-hump": ("no part's rate shows a broad rise: strongest, negative", "decades", "> {c:.1f} decades"),
    "calm-explained": ("no family accounts for the swelling and jumping: largest share, negative", "", "> {c:.2f}"),
    "calm-cage": ("the cage's rate accounts for little: share, negative", "", "> {c:.2f}"),
    "quiet": ("no impacts without a family (1) or many (-1), less where a part's rhythm is clear", "", "> {c:.1f}"),
    "rise": ("level over baseline", "dB", "> {c:.0f} dB"),
    "raised": ("level over baseline, beyond what any reading may be off", "dB", "> {c:.0f} dB"),
    "level-known": ("level and baseline are there to compare", "", "needed for friction"),
}
_ACT_RISE_DB = 16.0  # P: common practice takes 8 dB over baseline for lubrication, 16 dB for damage
_LEAST_WEIGHT = 0.005  # nats; what weighs less is not worth a line


@dataclass(frozen=True)
class Account:
    """What is to be said of one reading: the sound as given, what was heard in it, the numbers taken."""

    heard: Heard
    listened: Listened
    values: Mapping[str, float]

    def evidence(self, rows: Sequence[WeightRow]) -> tuple[Evidence, ...]:
        """One line for each weight that says something."""
        items = []
        for row in rows:
            value = self.values.get(row.code)
            if value is None:
                continue
            weight = row.weight(value)
            if abs(weight) < _LEAST_WEIGHT:
                continue
            name, unit, criterion = _described(row.code)
            items.append(Evidence(row.code, name, value, unit, criterion.format(c=row.criterion), row.supports, weight))
        return tuple(items)

    def wanted(self, verdict: str) -> str:
        """Why a verdict that the weights allow must not be given, or ""."""
        return doubt(self.heard, self.listened, self.values, verdict)

    def settle(self, wanting: str, probabilities: Mapping[str, float]) -> Sentence:
        """What would decide an inconclusive reading."""
        if not len(self.heard.samples):
            return NO_SOUND
        if wanting == "rhythm":
            return say(
                "settle-rhythm",
                "The recording cannot show a rhythm. Record again with fixed gain, uncompressed, no noise suppression.",
            )
        if wanting == "longer" or self.listened.sound is None:
            needed = max(10.0, 30.0 / self.listened.speed_hz) if self.listened.speed_hz else 10.0
            return say(
                "settle-longer",
                "The recording lasts {seconds:.1f} s; {needed:.0f} s at steady speed would do.",
                seconds=self.heard.seconds,
                needed=needed,
            )
        if wanting == "faint":
            return say(
                "settle-faint",
                "Faint lines stand at a part's rate, beyond chance but shallow. A recording of {needed:.0f} s under"
                " load, a like bearing beside it, or another reading in a few weeks would tell a fault that begins.",
                needed=max(30.0, 2 * self.heard.seconds),
            )
        if wanting == "coincidence":
            return say(
                "settle-coincidence",
                "A line stands where a fault's is expected, but also on a multiple of the shaft's speed or the mains."
                " A recording of {needed:.0f} s, or one at another speed, would part them.",
                needed=max(30.0, 3 * self.heard.seconds),
            )
        if wanting == "in-step":
            return say(
                "settle-in-step",
                "Something keeps time, but at no rate that the speed and the parts as given explain."
                " Check both, or record again at a steady speed.",
            )
        if wanting == "speed" or self.listened.speed_from == "unknown":
            return say("settle-speed", "The shaft's speed is not known. With it, lines could be laid to the parts.")
        if self.listened.expected.known != "given":
            return say(
                "settle-geometry",
                "The maker's number of rolling elements and their and the pitch diameter would tell the parts apart.",
            )
        first, second = sorted(probabilities, key=lambda v: -probabilities[v])[:2]
        if "friction" in (first, second) and self.heard.baseline_db is None:
            return say("settle-baseline", "A level with its baseline, or of a like bearing beside it, would decide.")
        return say(
            "settle-repeat",
            "The evidence is divided between {first} and {second}. A recording of {needed:.0f} s under load, the probe"
            " on the bearing's housing, and one of a like bearing beside it would help to decide.",
            first=first,
            second=second,
            needed=max(30.0, 2 * self.heard.seconds),
        )

    def severity(self, verdict: str) -> Sentence | None:
        """Act or watch, by level over baseline: practice (P), since no criteria are accepted (ISO 29821-1:2011, 8.5).

        Impacts without a level and baseline are not graded: they are to be watched until a level says more."""
        if verdict in ("no-fault-heard", "inconclusive"):
            return None
        rise = self.values.get("rise")
        if rise is None:
            return say(
                "watch",
                "Impacts are heard; without a level and baseline they cannot be graded. There are no universally"
                " accepted severity criteria (ISO 29821-1, 8.5).",
            )
        return say(
            "act" if rise >= _ACT_RISE_DB else "watch",
            "Level {rise:.0f} dB over baseline; common practice lubricates from 8 dB, acts from {act:.0f} dB."
            " There are no universally accepted severity criteria (ISO 29821-1, 8.5).",
            rise=rise,
            act=_ACT_RISE_DB,
        )

    def notes(self) -> tuple[Sentence, ...]:
        notes = []
        if self.listened.expected.note is not None:
            notes.append(self.listened.expected.note)
        if self.heard.level_db is None or self.heard.baseline_db is None or "level" in self.heard.spoiled:
            notes.append(
                say(
                    "friction-not-judged",
                    "Raised friction could not be judged: it needs a sound level and the point's baseline.",
                )
            )
        found = self.listened.families
        if self.listened.speed_from == "sound" and self.listened.speed_hz:
            notes.append(
                say(
                    "speed-from-sound",
                    "The speed was not given; sidebands {speed_hz:.2f} Hz apart are taken for it ({rpm:.0f} rpm).",
                    speed_hz=self.listened.speed_hz,
                    rpm=self.listened.speed_hz * 60,
                )
            )
        elif self.listened.speed_from == "unknown":
            notes.append(say("speed-unknown", "The speed was not given and could not be told from the sound."))
        elif self.listened.sound is not None and self.listened.sound.course is not None:
            low, high = self.listened.sound.course.range_hz
            notes.append(
                say(
                    "speed-varied",
                    "The speed went between {low:.0f} and {high:.0f} rpm, by the shaft's own tones; lines are told over"
                    " its turns, as they would stand at {mean:.0f} rpm.",
                    low=low * 60,
                    high=high * 60,
                    mean=self.listened.sound.course.mean_hz * 60,
                )
            )
        elif found is not None and found.speed_seen >= 4 and self.listened.speed_hz:
            notes.append(
                say(
                    "speed-refined",
                    "The shaft's own lines put its speed at {rpm:.1f} rpm ({given:.1f} given).",
                    rpm=found.speed_hz * 60,
                    given=self.listened.speed_hz * 60,
                )
            )
        return tuple(notes)

    def traces(self) -> tuple[Trace, ...]:
        """The envelope spectrum in the view that shows the likeliest part best, with the lines expected."""
        if self.listened.sound is None:
            return ()
        lines, found = self.listened.sound.lines, self.listened.families
        view = max(found.parts.values(), key=lambda p: p.share).family.view if found else 0
        stop = lines.surprise.shape[1]
        if found is not None:
            stop = min(stop, int(3.5 * self.listened.expected.inner.high * found.speed_hz / lines.step_hz) + 2)
        amplitude, noise = lines.amplitude[view, :stop], lines.noise[view, :stop]
        arrays = {
            "freq_hz": (np.arange(stop) * lines.step_hz).astype(np.float32),
            "amplitude": amplitude.astype(np.float32),
            "threshold": (3.0 * np.sqrt(noise)).astype(np.float32),
        }
        return (Trace("envelope-spectrum", arrays, _marks(found, lines.names[view], stop * lines.step_hz)),)


@cache
def _described(code: str) -> tuple[str, str, str]:
    part, _, measure = code.partition("-")
    if part in _PART_NAMES and measure in _MEASURES:
        name, unit, criterion = _MEASURES[measure]
        return name.format(part=_PART_NAMES[part]), unit, criterion
    return _OTHERS[code]


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
        {"hz": found.cage.hz, "tolerance_hz": 0.025 * found.cage.hz, "name": "cage", "found": found.cage.share > 0.1}
    )
    return tuple(marks)
