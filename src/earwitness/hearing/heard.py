"""What a detector is given: the sound of one reading and what is known about how it was taken. Nothing that names
the recording or repeats what the inspector thought of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from earwitness.sentence import say

Samples = NDArray[np.float32]
Signal = Literal["heterodyned", "direct"]
Sensor = Literal["airborne", "contact"]
Spoiled = Literal["level", "spectrum", "rhythm"]

NO_SOUND = say("no-sound", "There is no recording that can be judged: record 20 s at the spot, without moving.")


@dataclass(frozen=True)
class Heard:
    """One channel of one recording, full scale 1, silence at either end trimmed, and the levels of the reading.

    samples : (n,) float32, full scale 1
    rate_hz : samples a second
    signal : "heterodyned" (audio folded down from around `centre_hz`) or "direct" (the sensor's own waveform)
    spoiled : what the fitness check says this recording can no longer show
    background : the same place without the source, same rate; or None
    levels : displayed dB of the receiver; `gain_db` is taken off already
    """

    samples: Samples
    rate_hz: float
    signal: Signal = "heterodyned"
    sensor: Sensor | None = None
    centre_hz: float | None = None
    spoiled: frozenset[Spoiled] = frozenset()
    background: Samples | None = None
    level_db: float | None = None
    background_db: float | None = None
    baseline_db: float | None = None
    reference_db: float | None = None

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate_hz

    @property
    def sounding(self) -> slice:
        """The samples between digital silence at the ends, which is no quiet part of the recording."""
        if len(self.samples) and self.samples[0] and self.samples[-1]:  # as most
            return slice(0, len(self.samples))
        sounding = self.samples != 0
        if not sounding.any():
            return slice(0, 0)
        return slice(int(np.argmax(sounding)), len(sounding) - int(np.argmax(sounding[::-1])))
