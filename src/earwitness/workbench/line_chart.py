"""A curve as SVG that the browser makes lively: pointed at or stepped through it says its values, and it can be zoomed.

What the browser needs stands in the picture itself: which value lies at its left and right end, and each curve's
values with their unit. Without a browser's script it is a picture like any other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from markupsafe import Markup, escape
from numpy.typing import ArrayLike, NDArray

from earwitness.report.format import digits_of, rounded

WIDTH, HEIGHT = 900, 320
LEFT, RIGHT, TOP, BOTTOM = 62, 884, 30, 276
MOST = 1500  # vertices of a curve; of what is finer the highest stays
STEPS = 5

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Curve:
    """`y` at each x, told in so many digits; `look` is line, floor, dashed, dotted or fan (with `low`, filled between).
    `steps` holds each value until the next."""

    name: str
    y: ArrayLike
    unit: str = ""
    look: str = "line"
    low: ArrayLike | None = None
    steps: bool = False
    digits: int = 3


@dataclass(frozen=True)
class Scale:
    low: float
    high: float
    name: str
    unit: str
    dates: bool = False  # seconds since 1970, shown as days


@dataclass(frozen=True)
class MarkAt:
    """Something named at a place; `half` is how far to each side it reaches."""

    x: float
    name: str
    half: float = 0.0
    found: bool = True


def line_chart(
    key: str, title: str, x: ArrayLike, across: Scale, up: Scale, curves: Sequence[Curve], marks: Sequence[MarkAt] = ()
) -> Markup:
    """`key` is the chart's own on its page."""
    xs = np.asarray(x, float)
    parts = [*_grid(up), f'<clipPath id="{escape(key)}"><path d="M{LEFT} 0H{RIGHT}V{BOTTOM}H{LEFT}z"/></clipPath>']
    parts.append(f'<g clip-path="url(#{escape(key)})"><g data-plot>')
    parts += [_span(m, across) for m in marks if m.half]
    parts += [_curve(c, xs, across, up) for c in curves]
    parts.append("</g>")
    parts += _named(marks, across)
    parts.append(f'<path class="cursor" data-cursor visibility="hidden" d="M0 {TOP}V{BOTTOM}"/></g>')
    parts.append(f"<g data-ticks>{''.join(_ticks(across))}</g>")
    parts.append(f'<text x="{RIGHT}" y="{HEIGHT - 2}" text-anchor="end">{escape(_worded(across))}</text>')
    axis = ' data-axis="time"' if across.dates else ""
    return Markup(
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" class="trend" role="img" tabindex="0" aria-label="{escape(title)}" '
        f'data-from="{across.low:.12g}" data-to="{across.high:.12g}"{axis} data-unit="{escape(across.unit)}" '
        f'data-left="{LEFT}" data-right="{RIGHT}" data-ticks-at="{BOTTOM + 18}">' + "".join(parts) + "</svg>"
    )


def even(about: float) -> float:
    """A step of 1, 2 or 5 times a power of ten, near `about`."""
    power = 10.0 ** np.floor(np.log10(about))
    share = about / power
    return float(power * (1 if share < 1.5 else 2 if share < 3.5 else 5 if share < 7.5 else 10))


def thinned(xs: Numbers, ys: Numbers, most: int = MOST) -> NDArray[np.int64]:
    """Which values to show, no more than `most`; of each group the highest."""
    step = -(-len(xs) // most)
    if step <= 1:
        return np.arange(len(xs))
    whole = len(xs) // step * step
    groups = np.nan_to_num(ys[:whole].reshape(-1, step), nan=-np.inf)
    return np.argmax(groups, axis=1) + np.arange(len(groups)) * step


def _x(value: ArrayLike, s: Scale) -> Numbers:
    return LEFT + (np.asarray(value, float) - s.low) / ((s.high - s.low) or 1.0) * (RIGHT - LEFT)


def _y(value: ArrayLike, s: Scale) -> Numbers:
    inside = np.clip(np.asarray(value, float), s.low, s.high)
    return BOTTOM - (inside - s.low) / ((s.high - s.low) or 1.0) * (BOTTOM - TOP)


def _worded(s: Scale) -> str:
    return f"{s.name} [{s.unit}]" if s.unit else s.name


def _grid(up: Scale) -> list[str]:
    step = even((up.high - up.low) / STEPS)
    parts = []
    for level in np.arange(np.ceil(up.low / step), np.floor(up.high / step) + 1) * step:
        y = float(_y(level, up))
        said = rounded(level, 10 ** np.floor(np.log10(step))).replace("-", "−")
        parts.append(f'<path class="grid" d="M{LEFT} {y:.1f}H{RIGHT}"/>')
        parts.append(f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{said}</text>')
    parts.append(f'<text x="4" y="14">{escape(_worded(up))}</text>')
    return parts


def _ticks(across: Scale) -> list[str]:
    if across.dates:
        return _days(across)
    step = even((across.high - across.low) / 8)
    places = np.arange(np.ceil(across.low / step), np.floor(across.high / step) + 1) * step
    return [
        f'<text x="{float(_x(p, across)):.1f}" y="{BOTTOM + 18}" text-anchor="middle">{f"{p:.6g}".replace("-", "−")}'
        "</text>" for p in places
    ]  # fmt: skip


def _days(across: Scale) -> list[str]:
    parts = list[str]()
    for at in np.linspace(across.low, across.high, 5):
        x, anchor = float(_x(at, across)), "start" if not parts else "end" if len(parts) == 4 else "middle"
        said = datetime.fromtimestamp(at, UTC).date().isoformat()
        place = f'x="{ {"start": 4.0, "end": WIDTH - 4.0}.get(anchor, x):.1f}" text-anchor="{anchor}"'
        parts.append(f'<text {place} y="{BOTTOM + 18}">{said}</text>')
    return parts


def _curve(c: Curve, xs: Numbers, across: Scale, up: Scale) -> str:
    values_at = np.asarray(c.y, float)
    ok = np.isfinite(xs) & np.isfinite(values_at) & (xs >= across.low) & (xs <= across.high)
    px, shown = xs[ok], values_at[ok]
    if c.low is not None:
        low = np.asarray(c.low, float)[ok]
        there = _points(_x(px, across), _y(shown, up))
        back = _points(_x(px, across)[::-1], _y(low, up)[::-1])
        return f'<path class="{c.look}" d="M{there}L{back}z"/>'
    pick = thinned(px, shown)
    values = " ".join(digits_of(v, c.digits) for v in shown[pick])
    xs, ys = _x(px[pick], across), _y(shown[pick], up)
    path, places = _points(xs, ys), ""
    if c.steps:
        path = f"{xs[0]:.2f} {ys[0]:.1f}" + "".join(f"H{x:.2f}V{y:.1f}" for x, y in zip(xs[1:], ys[1:], strict=True))
        path, places = f"{path}H{RIGHT}", f'data-xs="{" ".join(f"{x:.2f}" for x in xs)}" '
    named = f'{places}data-name="{escape(c.name)}" data-unit="{escape(c.unit)}" data-values="{values}"'
    return f'<path class="{c.look}" d="M{path}" {named}/>'


def _points(xs: Numbers, ys: Numbers) -> str:
    return "L".join(f"{x:.2f} {y:.1f}" for x, y in zip(xs, ys, strict=True))


def _span(m: MarkAt, across: Scale) -> str:
    left, right = _x([m.x - m.half, m.x + m.half], across)
    return f'<path class="span{"" if m.found else " absent"}" d="M{left:.2f} {TOP}H{right:.2f}V{BOTTOM}H{left:.2f}z"/>'


def _named(marks: Sequence[MarkAt], across: Scale) -> list[str]:
    """A stroke down to each mark, and its name where there is room for it."""
    parts, ends = [], [-1e9, -1e9]
    for m in sorted(marks, key=lambda m: m.x):
        x = float(_x(m.x, across))
        if not LEFT <= x <= RIGHT:
            continue
        absent = "" if m.found else " absent"
        parts.append(f'<path class="changed{absent}" data-x="{x:.2f}" data-y="0" transform="translate({x:.2f} 0)" '
                     f'd="M0 {TOP}V{BOTTOM}"/>')  # fmt: skip
        long = 8.6 * len(m.name)
        row = next((r for r in (0, 1) if x - long / 2 > ends[r] + 8), None)
        if row is None or not m.found:
            continue
        ends[row] = x + long / 2
        y = TOP + 10 + 18 * row
        parts.append(f'<text class="name" data-x="{x:.2f}" data-y="{y}" transform="translate({x:.2f} {y})" '
                     f'text-anchor="middle">{escape(m.name)}</text>')  # fmt: skip
    return parts
