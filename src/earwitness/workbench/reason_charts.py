"""The curves that show the reason of a verdict: level over time, beats of the loudness, loudness over a mains cycle."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from markupsafe import Markup

from earwitness.hearing.evidence import Trace
from earwitness.pictures import marks as marking
from earwitness.pictures.marks import Mark
from earwitness.workbench.line_chart import Curve, MarkAt, Numbers, Scale, line_chart, thinned

ROWS = 24  # of the table of a curve
LEAST_DB = 12.0  # a level chart spans at least so much


def reason_chart(trace: Trace, key: str, title: str) -> Markup:
    """Empty for a form that is no curve."""
    make = FORMS.get(trace.form)
    return make(trace, key, title) if make and all(name in trace.arrays for name in NEEDED[trace.form]) else Markup("")


def curve_table(trace: Trace) -> tuple[Sequence[str], Sequence[Sequence[str]]]:
    """Some values of the curve, each the highest of its stretch; nothing for a form that is no curve."""
    if trace.form not in FORMS:
        return (), ()
    x, y = NEEDED[trace.form]
    xs, ys = (np.asarray(trace.arrays[name], float).ravel() for name in (x, y))
    pick = thinned(xs, ys, ROWS)
    rows = [(f"{xs[i]:.4g}", f"{ys[i]:.3g}".replace("-", "−")) for i in pick if np.isfinite(ys[i])]
    return HEADS[trace.form], rows


def _marks(trace: Trace) -> Sequence[Mark]:
    return marking.read(trace.marks)


def _flat(trace: Trace, name: str, like: Numbers) -> Numbers | None:
    found = trace.arrays.get(name)
    if found is None:
        return None
    values = np.asarray(found, float).ravel()
    return np.full(len(like), values[0]) if values.size == 1 else values if values.size == like.size else None


def _up(values: Numbers, name: str, unit: str, least: float) -> Scale:
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    room = max(0.06 * (high - low), (least - (high - low)) / 2)
    return Scale(low - room, high + room, name, unit)


def _level(trace: Trace, key: str, title: str) -> Markup:
    x, y = (np.asarray(trace.arrays[n], float).ravel() for n in ("time_s", "level_db"))
    floor = _flat(trace, "floor_db", y)
    curves = [Curve("level", y, "dB")] + ([Curve("floor", floor, "dB", "floor")] if floor is not None else [])
    up = _up(np.concatenate([np.asarray(c.y) for c in curves]), "level", "dB", LEAST_DB)
    marks = [MarkAt(m.at_s, m.name) for m in _marks(trace) if m.at_s is not None]
    return line_chart(key, title, x, Scale(float(x[0]), float(x[-1]), "time", "s"), up, curves, marks)


def _envelope(trace: Trace, key: str, title: str) -> Markup:
    x, y = (np.asarray(trace.arrays[n], float).ravel() for n in ("freq_hz", "amplitude"))
    lines = [m for m in _marks(trace) if m.hz is not None]
    reach = min(float(x[-1]), max([1.0, *(1.08 * m.hz for m in lines if m.hz)])) if lines else float(x[-1])
    threshold = _flat(trace, "threshold", y)
    curves = [Curve("strength", y)] + ([Curve("significant above", threshold, "", "floor")]
                                       if threshold is not None else [])  # fmt: skip
    seen = y[(x <= reach) & (x > reach / 200)]
    up = Scale(0.0, 1.12 * float(np.nanmax(seen)) if seen.size else 1.0, "strength", "")
    half = reach / 500
    marks = [MarkAt(m.hz, m.name, max(m.tolerance_hz or 0.0, half), m.found is not False) for m in lines if m.hz]
    return line_chart(key, title, x, Scale(0.0, reach, "rate of the beats", "Hz"), up, curves, marks)


def _mains(trace: Trace, key: str, title: str) -> Markup:
    x, y = (np.asarray(trace.arrays[n], float).ravel() for n in ("phase_deg", "level"))
    low, high = _flat(trace, "low", y), _flat(trace, "high", y)
    curves = [Curve("level over its mean", y, "dB")]
    if low is not None and high is not None:
        curves.insert(0, Curve("spread", high, "dB", "fan", low))
    every = np.concatenate([y, *(v for v in (low, high) if v is not None)])
    up = _up(every, "level over its mean", "dB", 2.0)
    marks = [MarkAt(m.deg, m.name) for m in _marks(trace) if m.deg is not None]
    return line_chart(key, title, x, Scale(0.0, 360.0, "moment within one mains cycle", "degrees"), up, curves, marks)


FORMS: Mapping[str, Callable[[Trace, str, str], Markup]] = {
    "level": _level,
    "envelope-spectrum": _envelope,
    "mains-phase": _mains,
}
NEEDED = {
    "level": ("time_s", "level_db"),
    "envelope-spectrum": ("freq_hz", "amplitude"),
    "mains-phase": ("phase_deg", "level"),
}
HEADS = {
    "level": ("time [s]", "level [dB]"),
    "envelope-spectrum": ("rate of the beats [Hz]", "strength"),
    "mains-phase": ("moment [degrees]", "level over its mean [dB]"),
}
