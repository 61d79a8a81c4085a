"""What is said of a gear: evidence by name, what is missing, severity, and the picture that shows the reason."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from earwitness.hearing.evidence import Evidence, Trace, WeightRow
from earwitness.hearing.gear_clock import Pair
from earwitness.hearing.gear_turns import Turned
from earwitness.hearing.heard import NO_SOUND, Heard
from earwitness.sentence import Sentence, say

ACT_RISE_DB = 16.0  # P: common practice takes 8 dB over baseline for a change to watch, 16 dB for damage
TONAL = 0.75  # share of the energy in lone tones from which a rhythm is theirs
LEAST_SHOWN = 0.3  # of a swelling at the mesh frequency, for the recording's band to show it
FOREIGN_CERTAIN = 9.0  # decades from which blows that belong to no wheel forbid a verdict that nothing is heard
MOST_BLOWS = 0.6  # log of 1 + kurtosis from which there are blows that nothing said so far explains
SHORTEST_TURNS = 10.0  # of a wheel, to part its lines from others
NEEDED_TURNS = 40.0
DEEP_SWELL, EVEN_SHARE = 0.7, 0.25  # a mesh swells strongly, and alike round the wheels up to that share in sidebands

_NAMES = {
    "turn-one": ("share of the rise within a turn that is one blow", "", "> {c:.2f}"),
    "turn-over-mesh": ("depth of the comb of its wheel's speed over the mesh's", "decades", "> {c:.1f} decades"),
    "mesh-sides": ("depth of modulation in the sidebands of the mesh and of its multiples", "of the mean", "> {c:.2f}"),
    "mesh-growth": ("second and third multiple of the mesh over the first", "", "> {c:.2f}"),
    "tone-sides": ("sidebands of the mesh's tones over the tones", "", "> {c:.2f}"),
    "tone-growth": ("second and third tone of the mesh over the first", "", "> {c:.2f}"),
    "calm": ("no sign of damage: the strongest of them over what would be much, negative", "", "> {c:.1f}"),
    "calm-kurtosis": ("no impacts in the clearest band: log of 1 + kurtosis, negative", "decades", "> {c:.2f}"),
    "rise": ("level over baseline", "dB", "> {c:.0f} dB"),
}


@dataclass(frozen=True)
class GearAccount:
    """What was heard of a pair of gears, to be told."""

    heard: Heard
    pair: Pair | None
    turned: Turned | None
    values: Mapping[str, float]
    sounds: bool

    def evidence(self, rows: tuple[WeightRow, ...]) -> tuple[Evidence, ...]:
        items = []
        for row in rows:
            value = self.values.get(row.code)
            if value is not None and abs(row.weight(value)) >= 0.005:
                name, unit, criterion = _NAMES[row.code]
                says = criterion.format(c=row.criterion)
                items.append(Evidence(row.code, name, value, unit, says, row.supports, row.weight(value)))
        return tuple(items)

    def wanting(self) -> Sentence | None:
        """What is missing before anything can be judged."""
        if not len(self.heard.samples):
            return NO_SOUND
        if not self.sounds:
            return say(
                "settle-rhythm",
                "The recording cannot show a rhythm. Record again with fixed gain, uncompressed, no noise suppression.",
            )
        if self.pair is None:
            return say(
                "settle-gear-speed", "The wheel's speed is not known; with it and the teeth the lines can be read."
            )
        return self._longer(NEEDED_TURNS / self.pair.speed_hz / min(self.pair.wheels)) if self.turned is None else None

    def _longer(self, needed_s: float) -> Sentence:
        return say(
            "settle-longer",
            "The recording lasts {seconds:.1f} s; {needed:.0f} s at steady speed would do.",
            seconds=self.heard.seconds,
            needed=max(10.0, math.ceil(needed_s)),
        )

    def against(self, verdict: str) -> Sentence | None:
        """What forbids the verdict that the weights lean to."""
        if self.turned is None or self.pair is None:
            return None
        mate_turns = self.values.get("mate-turns", SHORTEST_TURNS)
        if verdict == "no-fault-heard" and mate_turns < SHORTEST_TURNS:
            return self._longer(self.heard.seconds * NEEDED_TURNS / mate_turns)
        blows = self.values.get("kurtosis", 0.0) > MOST_BLOWS
        foreign = self.values.get("foreign", 0.0) > FOREIGN_CERTAIN
        own = "tone-sides" in self.values  # the mesh's own tones: a bearing's lines pass for their sidebands
        mates = foreign and blows and (own or self.pair.ratio is None)  # a mate's tooth, or a bearing
        if (verdict == "no-fault-heard" and (foreign or blows)) or (verdict == "wear" and mates):
            return say(
                "settle-foreign",
                "Blows are heard whose rate is no multiple of a known wheel's speed: listen to the bearings of this"
                " gear, and give the teeth of both wheels.",
            )
        if verdict == "no-fault-heard" and self.values.get("mesh-shown", 1.0) < LEAST_SHOWN:
            return say(
                "settle-mesh-band",
                "Teeth meet {mesh_hz:.0f} times a second, faster than this recording's band can show. A wide-band"
                " recording or a slower run would do.",
                mesh_hz=(self.pair.teeth or 0) * self.turned.hz,
            )
        if verdict in ("tooth", "wear") and not own and _tonal(self.turned, self.pair) > TONAL:
            return say(
                "settle-tones",
                "Nearly all of the sound is tones, as a beeper, a siren or music makes them; blows and worn teeth sound"
                " over a broad band. Record again without them.",
            )
        return None

    def would_decide(self) -> Sentence:
        if self.pair is None or self.pair.teeth is None:
            return say(
                "settle-teeth", "The number of teeth is not known; with it mesh lines could be told from others."
            )
        needed = max(20.0, 2 * self.heard.seconds)
        if self.heard.baseline_db is None:
            return say(
                "settle-gear-baseline",
                "A level with its baseline, or the same gear of a like machine, recorded for {needed:.0f} s, would"
                " decide.",
                needed=needed,
            )
        return say(
            "settle-gear-longer",
            "A recording of {needed:.0f} s at steady speed and load would part the lines.",
            needed=needed,
        )

    def severity(self, verdict: str) -> Sentence | None:
        """Act or watch, by level over baseline (P): no criteria are accepted (ISO 29821-1:2011, 8.5)."""
        if verdict not in ("tooth", "wear"):
            return None
        which, rise = "its mate" if self.values.get("turn-mate") else "this wheel", self.values.get("rise")
        heard = f"One blow a turn of {which}." if verdict == "tooth" else "The mesh sounds uneven round the wheel."
        graded = "no level with its baseline to grade it" if rise is None else f"level {rise:.0f} dB over baseline"
        return say(
            "act" if rise is not None and rise >= ACT_RISE_DB else "watch",
            "{heard} Basis: {graded}; common practice acts from {act:.0f} dB. There are no universally accepted"
            " severity criteria (ISO 29821-1, 8.5).",
            heard=heard,
            graded=graded,
            which=which,
            act=ACT_RISE_DB,
        )

    def notes(self) -> tuple[Sentence, ...]:
        if self.turned is None or self.pair is None:
            return ()
        notes = []
        if self.pair.teeth is None:
            notes.append(
                say("wear-not-judged", "Without the number of teeth the mesh could not be judged, only single blows.")
            )
        elif "sides-told" in self.values:
            notes.append(
                say(
                    "wear-told-from",
                    "Unevenness of the mesh would have been told from {percent:.0f} % of the sound's strength on.",
                    percent=100 * self.values["sides-told"],
                )
            )
        depth, sides = self.values.get("mesh-depth", 0.0), self.values.get("mesh-sides", 0.0)
        if depth > DEEP_SWELL and sides < EVEN_SHARE * depth:
            notes.append(
                say(
                    "mesh-deep-but-even",
                    "The sound swells by {percent:.0f} % with each meeting of teeth, alike round the wheels. Spur gears"
                    " do so when sound, but so does wear that is alike on all teeth: compare with a like gear.",
                    percent=100 * depth,
                )
            )
        slip = 100 * (self.turned.hz / self.pair.speed_hz - 1)
        if self.turned.locked and abs(slip) > 0.5:
            notes.append(
                say(
                    "speed-by-sound",
                    "By its sound the wheel turns {rpm:.0f} times a minute, {percent:+.1f} % from the speed given.",
                    rpm=60 * self.turned.hz,
                    percent=slip,
                )
            )
        return tuple(notes)

    def traces(self) -> tuple[Trace, ...]:
        """The envelope spectrum in the view with the deepest lines, with both wheels' and the mesh lines marked."""
        if self.turned is None or self.pair is None:
            return ()
        lines, hz = self.turned.lines, self.turned.hz
        nothing = np.zeros(lines.surprise.shape[1], bool)
        seen = range(len(lines.names))
        view = max(seen, key=lambda at: float(lines.one(at).standing_out(nothing, 1.0, lines.top_hz).sum()))
        arrays = {
            "freq_hz": (np.arange(lines.surprise.shape[1]) * lines.step_hz * hz).astype(np.float32),
            "amplitude": lines.amplitude[view].astype(np.float32),
            "threshold": (3.0 * np.sqrt(lines.noise[view])).astype(np.float32),
        }
        orders = list(zip(self.pair.wheels, ("wheel", "mate"), strict=False))
        if self.pair.teeth:
            orders += [(float(self.pair.teeth), "mesh"), (2.0 * self.pair.teeth, "2 × mesh")]
        marks: list[Mapping[str, Any]] = [{"view": lines.names[view]}]
        for order, name in orders:
            index = round(order / lines.step_hz)
            if index < lines.surprise.shape[1] - 1:
                found = bool(lines.surprise[view, index - 1 : index + 2].max() > 5)
                width = 2 * lines.step_hz * hz
                marks.append({"hz": order * hz, "tolerance_hz": width, "name": name, "found": found})
        return (Trace("envelope-spectrum", arrays, tuple(marks)),)


def _tonal(turned: Turned, pair: Pair) -> float:
    """Share of the energy in lone tones: blocks of the spectrum, wider than a wheel's comb is spaced, that stand ten
    times over those beside them. A blow rings over many blocks."""
    whole = turned.whole
    block = max(8, round(max(50.0, 3 * pair.speed_hz * max(pair.wheels)) * whole.seconds))
    count = len(whole.bins) // block
    if count < 12:
        return 0.0
    power = np.square(np.abs(whole.bins[: count * block])).reshape(count, block).sum(axis=1, dtype=np.float64)
    padded = np.pad(power, 3, mode="reflect")
    beside = np.minimum(
        np.maximum(padded[:-6], padded[1:-5])[:count], np.maximum(padded[5:-1], padded[6:])[:count]
    )  # the quieter side, two and three blocks off
    return float(power[power > 10 * beside].sum() / max(power.sum(), 1e-30))
