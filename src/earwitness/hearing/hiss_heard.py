"""The hiss in a reading and the pictures of it: what the detectors of leak, valve and trap share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.evidence import Place, Trace
from earwitness.hearing.heard import Heard
from earwitness.sound.hiss import Hiss, ShortTimeBands, short_time_bands, steady_hiss

MOST_DRAWN = 1000  # moments of a curve in a picture


class HissHeard(NamedTuple):
    bands: ShortTimeBands
    hiss: Hiss

    @classmethod
    def of(cls, heard: Heard | None, least_s: float, low_hz: float, high_hz: float) -> HissHeard | None:
        """None where the recording is missing, too short, silent, or its spectrum is spoiled."""
        if heard is None or "spectrum" in heard.spoiled:
            return None
        sounding = heard.sounding
        if sounding.stop - sounding.start < max(least_s * heard.rate_hz, 1):
            return None
        bands = short_time_bands(heard.samples[sounding], heard.rate_hz, low_hz=low_hz, high_hz=high_hz)
        later_s = sounding.start / heard.rate_hz
        bands = replace(bands, time_s=bands.time_s + later_s, picture_time_s=bands.picture_time_s + later_s)
        return cls(bands, steady_hiss(bands))

    @classmethod
    def of_pipe(cls, heard: Heard | None, least_s: float) -> HissHeard | None:
        """By contact: all of the folded audio, or of a wide-band recording its ultrasound."""
        if heard is None:
            return None
        top = 0.45 * heard.rate_hz
        wide = heard.signal == "direct" and top > 25_000
        low, high = (20_000.0, min(top, 100_000.0)) if wide else (300.0, min(top, 20_000.0))
        return cls.of(heard, least_s, low, high)

    def traces(self, level_db: NDArray[Any], places: Sequence[Place] = ()) -> tuple[Trace, ...]:
        """Level over time and spectrogram, with the places marked."""
        marks = tuple({"at_s": p.at_s, "level_db": p.level_db, "kind": "place"} for p in places)
        time_s = self.hiss.time_s
        keep = slice(None, None, max(1, len(time_s) // MOST_DRAWN))
        level = {
            "time_s": time_s[keep].astype(np.float32),
            "level_db": level_db[keep].astype(np.float32),
            "floor_db": np.zeros(len(time_s[keep]), np.float32),
        }
        picture = {
            "time_s": self.bands.picture_time_s.astype(np.float32),
            "freq_hz": self.bands.picture_hz.astype(np.float32),
            "power_db": self.bands.picture_db,
        }
        return Trace("level", level, marks), Trace("spectrogram", picture, marks)
