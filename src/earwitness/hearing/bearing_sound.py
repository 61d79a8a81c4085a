"""What is measured of a bearing's sound before anything is concluded: envelope lines in several views, and impacts.

Three preparations stand beside one another (Smith & Randall, MSSP 64-65 (2015) 100-131): the raw sound, the sound
after cepstrum pre-whitening, and bands cut from the sound without its tones: the quarters of its range and those
that the kurtogram proposes. Each is seen as squared envelope and as log envelope.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.envelope import Whole, envelope_lines, medians, whole_spectrum
from earwitness.sound.humps import steady_lines
from earwitness.sound.impulses import Impulses, find_impulses
from earwitness.sound.kurtogram import Band, in_pieces, kurtogram, occupied_bins
from earwitness.sound.orders import Lines
from earwitness.sound.run_up import Course, run_up
from earwitness.sound.turning import tones, turning_by_tones

LONGEST_S = 60.0  # more of a steady machine says no more
_QUARTERS = 3  # level of the kurtogram that cuts the range in four
_PROPOSED = 3  # bands taken from the kurtogram
PLATE_TOLERANCE = 0.05  # how far the true speed may be from that on a motor's plate: its slip under load
TONES_TOLERANCE = 0.003  # the same once its tones have told it
_CLEAR = 40.0  # decades of the shaft's tones beyond which the speed is steady
_CLEARER, _CLEAR_COURSE = 8.0, 21.0  # decades that a course must add, and have: any tones can be followed a little


class Span(NamedTuple):
    """What a view was made of: a spectrum and a band of it."""

    source: str  # "whole", "pre-whitened" or "without tones"
    low_hz: float
    high_hz: float


@dataclass(frozen=True)
class BearingSound:
    """Lines in all views, the bands the kurtogram proposes, and the impacts in the clearest of them."""

    lines: Lines
    bands: tuple[Band, ...]
    impulses: Impulses
    seconds: float
    tones: Lines  # of the sound itself, not of its envelope
    course: Course | None = None  # of a speed that is not steady; then the lines are those over the shaft's turns
    width_hz: float = 0.0  # of what is heard; swells faster than half of it do not show
    toneless: Whole | None = None  # the spectrum without its tones, of which most views are
    spans: tuple[Span, ...] = ()  # one a view

    @property
    def kurtosis(self) -> float:
        return self.bands[0].kurtosis

    def steady(self, view: int) -> NDArray[Any] | None:
        """What steady noise with the spectrum of a view would show in it, the power of each line to scale; None of the
        raw sound, where tones beat with one another and with all noise, so that no rise of it counts."""
        lines, span = self.lines, self.spans[view]
        count = len(lines.noise[view])
        if span.source == "whole":
            return None
        if span.source == "pre-whitened":  # as strong at all frequencies
            return np.ones(count)
        assert self.toneless is not None
        return steady_lines(self.toneless, span.low_hz, span.high_hz, count, lines.names[view].endswith(", log"))

    @classmethod
    def of(
        cls,
        samples: NDArray[Any],
        rate_hz: float,
        limit_hz: float,
        band_hz: float,
        speed_hz: float | None = None,
        mains_hz: float | None = None,
    ) -> BearingSound:
        """Lines up to limit_hz [Hz], from bands no narrower than band_hz [Hz]; over the turns of a shaft whose tones
        show that its speed, near speed_hz [Hz], is not steady."""
        longest = int(LONGEST_S * rate_hz)
        start = max(0, (len(samples) - longest) // 2)
        whole = whole_spectrum(samples[start : start + longest], rate_hz)
        course, heard = _course(whole, limit_hz, speed_hz, mains_hz)
        ceiling = _occupied_up_to(whole)
        count = occupied_bins(whole, ceiling)
        pieces = next((p for p in (4, 2) if count / p / whole.seconds >= 2.5 * max(limit_hz, band_hz)), 1)
        toneless = whole.without_tones()
        tree = kurtogram(toneless, ceiling, band_hz, pieces)
        views: dict[str, NDArray[Any]] = {}
        spans: dict[str, Span] = {}

        def look(powers: Mapping[str, NDArray[Any]], of: Sequence[Span], square: bool = True) -> None:
            rate_hz = len(next(iter(powers.values()))) / whole.seconds
            over_turns = [power if course is None else course.over_turns(power) for power in powers.values()]
            lines = envelope_lines(np.stack(over_turns), rate_hz, limit_hz)
            for name, span, squared, logged in zip(powers, of, *lines, strict=True):
                if square:
                    views[name], spans[name] = squared, span
                views[f"{name}, log"], spans[f"{name}, log"] = logged, span

        def look_in(bands: Sequence[Band], square: bool = True) -> None:
            of = [Span("without tones", band.low_hz, band.high_hz) for band in bands]
            look({_name(band): band.power for band in bands}, of, square)

        top_hz = count / whole.seconds
        both = {"whole": whole, "pre-whitened": whole.prewhitened()}
        look(
            {name: in_pieces(w, count, pieces)[0] for name, w in both.items()},
            [Span(name, 0.0, top_hz) for name in both],
        )
        if len(tree.levels) > _QUARTERS:
            look_in(tree.levels[_QUARTERS], square=False)
        proposed = tuple(tree.clearest(_PROPOSED))
        for band in proposed:
            look_in([band])
        clearest = proposed[0]
        impulses = find_impulses(clearest.power, len(clearest.power) / whole.seconds, clearest.degrees)
        lines = Lines.seen_in(list(views.items()), 1 / whole.seconds)
        of = tuple(spans.values())
        return cls(lines, proposed, impulses, whole.seconds, heard, course, top_hz, toneless, of)


def _course(
    whole: Whole, limit_hz: float, speed_hz: float | None, mains_hz: float | None
) -> tuple[Course | None, Lines]:
    """The course of the shaft's speed, where its tones stand out far more by it than by a steady one; and its tones."""
    steady = tones(whole, limit_hz)
    if speed_hz is None:
        return None, steady
    _, before = turning_by_tones(steady, speed_hz, PLATE_TOLERANCE, mains_hz)
    course = run_up(whole, speed_hz, mains_hz) if before < _CLEAR else None
    if course is None:
        return None, steady
    over_turns = tones(whole, limit_hz, course)
    _, clear = turning_by_tones(over_turns, course.mean_hz, TONES_TOLERANCE, mains_hz)
    return (course, over_turns) if clear > max(before + _CLEARER, _CLEAR_COURSE) else (None, steady)


def _name(band: Band) -> str:
    return f"{band.low_hz / 1000:.2g} to {band.high_hz / 1000:.2g} kHz"


def _occupied_up_to(whole: Whole) -> float:
    """Frequency above which there is only the recorder's floor, 40 dB below the strongest part above 500 Hz."""
    block = max(8, round(50 * whole.seconds))
    count = len(whole.size) // block
    if count < 8 or not whole.size.any():
        return whole.top_hz
    level = medians(whole.size[: count * block].reshape(count, block)[:, :: max(1, block // 64)])
    heard = np.flatnonzero(level > 0.01 * level[min(10, count // 2) :].max())
    if len(heard) == 0:
        return whole.top_hz
    top = (int(heard[-1]) + 1) * block / whole.seconds
    return float(min(max(top, whole.top_hz / 16), whole.top_hz))
