"""Of the channels of one recording, the one to believe. A recorder's second line is often left open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from earwitness.hearing.evidence import Judgement
from earwitness.sentence import say
from earwitness.sound.fitness import FitnessReport

OPEN_LINE = 0.01  # of the loudest channel: 40 dB below it there is only what the line itself makes (common practice)


@dataclass(frozen=True)
class Channel:
    number: int  # counted from 1
    report: FitnessReport

    @property
    def level(self) -> float:
        """Root mean square without what the cable picks up of the mains, full scale 1."""
        measures = self.report.measures
        return measures.get("rms", 0.0) * math.sqrt(max(0.0, 1.0 - measures.get("pickup", 0.0)))


def worth_judging(channels: Sequence[Channel]) -> tuple[Channel, ...]:
    """The fit ones, without lines left open; all of them where none is fit."""
    fit = [c for c in channels if c.report.fit]
    loudest = max((c.level for c in fit), default=0.0)
    return tuple(c for c in fit if c.level >= OPEN_LINE * loudest) or tuple(channels)


def believed(judged: Sequence[tuple[Channel, Judgement]]) -> tuple[Channel, Judgement]:
    """The least spoiled channel, a decided one before one that is not, the surer, the first of equals. Where equally
    good channels say different things, neither is believed."""
    least = min(len(channel.report.spoiled) for channel, _ in judged)
    equal = [pair for pair in judged if len(pair[0].report.spoiled) == least]
    decided = [pair for pair in equal if pair[1].verdict != "inconclusive"]
    channel, judgement = max(decided or equal, key=lambda pair: (pair[1].probability or 0.0, -pair[0].number))
    if len({j.verdict for _, j in decided}) > 1:
        text = "The channels of this recording say different things: keep the receiver's alone, and judge again."
        judgement = replace(judgement, verdict="inconclusive", settle=say("channels-disagree", text), places=())
    return channel, judgement
