"""What is asked where it is not decided whether it is a leak: what it may be after all, and what would settle it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from earwitness.sentence import Sentence, say
from earwitness.sound.hiss import Hiss

DECIDES_DB = 3.0  # a level less than this over background decides nothing by itself
LONGER_S = 1.0  # no puff lasts so long and is cut off


@dataclass(frozen=True)
class LeakAccount:
    """What was measured, by code, and the hiss it was measured on; None where nothing could be listened to, and
    whether the display is known to have followed something else."""

    measured: Mapping[str, float]
    hiss: Hiss | None
    level_of_else: bool

    def question(self, *, flutters: bool) -> Sentence | None:
        """What may be a leak after all, though its course denies it.

        Air let off dies away, but what leaks behind a clamp or a cylinder hisses steadily while it has pressure and is
        cut off, in the machine's cycle or now and then; so does a nozzle. And what beats out of time, and is denied by
        nothing else (`flutters`), may be an opening's own lips.
        """
        if self.hiss is None:
            return None
        bursts = self.hiss.bursts
        stays_on = not bursts.dying and bursts.length_s >= LONGER_S
        if stays_on and bursts.rhythmic:
            return say(
                "leak-part-of-cycle",
                "Every {period:.1f} s it hisses for {length:.1f} s, steadily, and stops at once: air that the machine "
                "blows, or a leak that has pressure only then. Watch a cycle, or hold the machine where it hisses and "
                "listen again.",
                period=bursts.period_s,
                length=bursts.length_s,
            )
        if stays_on and self.measured.get("level-over-background", 0.0) >= DECIDES_DB:
            return say(
                "leak-now-and-then",
                "Now and then it hisses for {length:.1f} s, steadily, and stops at once: something that opens and "
                "blows, or a leak that has pressure only then. Find out what opens, or listen again while the pressure "
                "stays on.",
                length=bursts.length_s,
            )
        if flutters:
            return say(
                "leak-may-flutter",
                "A hiss well over the background swells to and fro many times a second and does not keep time as what "
                "turns does: an insect, or a leak whose lips flutter. Shut off the pressure, and listen again.",
            )
        return None

    def settle(self) -> Sentence:
        """What would decide, where the sound does not."""
        measured = self.measured
        if "hiss-share" not in measured and "level-over-background" not in measured:
            return say("leak-no-sound", "There is no usable recording and no pair of levels: record 5 s at the spot.")
        if self.level_of_else:
            return say(
                "leak-level-of-else",
                "The recording is spoiled, and most of it is no hiss: the level may be of something else that is loud. "
                "Turn the receiver down, and record 5 s at the spot and 5 s beside it.",
            )
        if "hiss-share" not in measured:
            return say(
                "leak-level-alone",
                "The level alone, {over:.0f} dB over background, does not decide: record 5 s there and 5 s beside it.",
                over=measured["level-over-background"],
            )
        if "over-background" not in measured:
            return say(
                "leak-no-background",
                "A steady hiss with nothing to hold it against may be the receiver's own: read the background level "
                "with the probe turned away, or lead the probe past the spot and back while recording.",
            )
        return say(
            "leak-near-background",
            "The hiss stands {over:.0f} dB over the background: screen the probe from other sounds, go closer, and "
            "record the spot and the background again.",
            over=measured["over-background"],
        )
