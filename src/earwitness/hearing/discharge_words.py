"""What is said of a discharge: evidence by name, what would settle it, severity, and what the reader must know."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from earwitness.hearing.discharge_measures import LOCKED_DB, Listened
from earwitness.hearing.discharge_physics import PASCHEN_MINIMUM_V, corona_expected
from earwitness.hearing.evidence import DECISION
from earwitness.hearing.heard import Heard
from earwitness.sentence import Sentence, say

DISCHARGES = ("corona", "tracking", "arcing")
QUIET = ("no-discharge-heard", "mains-hum")
_FEW_BURSTS_DB = 7.0  # in a recording too short to tell a spark's bursts from a latch's or a word's
TELLS_FANS_S = 1.2  # 98.3 Hz (a two-pole motor) and 100 Hz part in no less


@dataclass(frozen=True)
class DischargeAccount:
    """What is said of one reading: how it was heard, what is known of the equipment, what was measured."""

    heard: Heard
    mains_hz: float | None
    voltage_v: float | None
    supply: str | None
    sound: Listened

    @property
    def few_bursts(self) -> bool:
        """Whether it bursts, in a recording too short to say of what."""
        return self.sound.numbers.get("few-bursts", 0.0) > _FEW_BURSTS_DB

    def settle(self, probabilities: Mapping[str, float]) -> Sentence:
        """What would tell the two likeliest apart."""
        first, second = sorted(probabilities, key=lambda v: -probabilities[v])[:2]
        if self.few_bursts and first in QUIET:
            return say(
                "electrical-bursts",
                "It bursts, but {seconds:.1f} s hold too few bursts to tell a spark from a latch or a word. Record "
                "10 s or more without moving.",
                seconds=self.heard.seconds,
            )
        if self.heard.seconds < TELLS_FANS_S or (
            self.heard.seconds < 5 and "no-discharge-heard" not in (first, second)
        ):
            return say(
                "electrical-longer",
                "Record 10 s or more without moving: in {seconds:.1f} s {first} and {second} are not told apart.",
                seconds=self.heard.seconds,
                first=first,
                second=second,
            )
        if self.mains_hz is None and "no-discharge-heard" in (first, second):
            return say(
                "electrical-mains", "State the mains frequency, and record 10 s with the probe screened from noise."
            )
        if "no-discharge-heard" in (first, second):
            return say(
                "electrical-background",
                "Record 10 s from another side with the probe screened from other noise, and the background alone for "
                "comparison: {first} and {second} are not told apart.",
                first=first,
                second=second,
            )
        return say(
            "electrical-other-method",
            "{first} and {second} are not told apart: record 30 s, so that building up and letting go would show. "
            "Treat it as the more urgent of the two until then.",
            first=first,
            second=second,
        )

    def severity(self, verdict: str) -> Sentence | None:
        """How bad, by the kind of discharge (common practice): what burns before what erodes."""
        if verdict == "arcing":
            return say(
                "severe", "Arcing burns what it stands on and can turn into a fault at any time (common practice)."
            )
        if verdict == "tracking":
            return say(
                "serious", "Tracking carbonises the insulation and grows until it flashes over (common practice)."
            )
        if verdict == "corona":
            return say(
                "moderate", "Corona erodes insulation by ozone and acid over months and years (common practice)."
            )
        return None

    def notes(self, verdict: str, probabilities: Mapping[str, float]) -> tuple[Sentence, ...]:
        """What the reader must know beside the verdict."""
        notes = []
        locked = self.sound.numbers["lock"] > LOCKED_DB
        if not corona_expected(self.voltage_v, self.supply) and verdict not in QUIET:
            notes.append(
                say(
                    "corona-not-expected",
                    "At {voltage:.0f} V on a sinusoidal supply no corona is to be expected: nothing sparks in air "
                    "below {paschen:.0f} V peak (Paschen), and a thin wire glows only from several kilovolts on "
                    "(Peek). A sound that beats with the mains is tracking or arcing there, and no less urgent.",
                    voltage=self.voltage_v,
                    paschen=PASCHEN_MINIMUM_V,
                )
            )
        if locked and verdict in (*DISCHARGES, "inconclusive"):
            notes.append(
                say(
                    "mains-found",
                    "The beat fits a mains frequency of {hz:.2f} Hz.",
                    hz=round(self.sound.lock.mains_hz, 2),
                )
            )
        heard_for = sum(probabilities.get(kind, 0.0) for kind in DISCHARGES)
        if verdict == "inconclusive" and heard_for >= DECISION:
            first, second = sorted(DISCHARGES, key=lambda kind: -probabilities[kind])[:2]
            notes.append(
                say(
                    "discharge-of-open-kind",
                    "A discharge was heard, {first} or {second}: until it is told which, act as for the more dangerous "
                    "of the two, and tell the authorised electrical person.",
                    first=first,
                    second=second,
                )
            )
        if verdict == "corona" and self.sound.numbers.get("one-polarity", -99.0) > -3.0:
            notes.append(
                say("one-polarity", "The beat stands at the mains frequency as well: one polarity discharges more.")
            )
        if verdict == "no-discharge-heard":
            notes.append(
                say(
                    "discharge-may-be-silent",
                    "Nothing heard proves little: sealed enclosures and voids in solid insulation can discharge "
                    "unheard, and hot joints are often silent; other methods are needed to exclude them.",
                )
            )
        return tuple(notes)
