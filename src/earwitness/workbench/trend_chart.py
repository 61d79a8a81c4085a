"""A point's level over time as SVG: visits, baseline, alarm levels, when it changed, the forecast as a fan.

Up to six points in one chart, told apart by dashes and by the shape of their marks, each named at its end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from markupsafe import Markup, escape

from earwitness.work.trends import PointTrend, Visit

WIDTH, HEIGHT = 900, 400
LEFT, RIGHT, TOP, BOTTOM = 52, 210, 16, 40
DASHES = ("", "9 4", "2 4", "12 4 2 4", "5 5", "16 6")
MARKS = (
    "M-5 0a5 5 0 1 0 10 0a5 5 0 1 0-10 0z", "M0-6 6 5H-6z", "M-5-5H5V5H-5z", "M0-7 6 0 0 7-6 0z", "M-6-5H6L0 6z",
    "M-2-6H2V-2H6V2H2V6H-2V2H-6V-2H-2z",
)  # fmt: skip
TICKS = 5
STEPS_DB = (1, 2, 5, 10, 20, 50)


@dataclass(frozen=True)
class _Scale:
    start: datetime
    stop: datetime
    low: float
    high: float

    def x(self, at: datetime) -> float:
        whole = (self.stop - self.start).total_seconds() or 1.0
        return LEFT + (at - self.start).total_seconds() / whole * (WIDTH - LEFT - RIGHT)

    def y(self, level: float) -> float:
        return HEIGHT - BOTTOM - (level - self.low) / (self.high - self.low) * (HEIGHT - TOP - BOTTOM)


def trend_chart(trends: Sequence[PointTrend], title: str) -> Markup:
    """Empty where no level was noted."""
    shown = [t for t in trends if t.visits]
    if not shown:
        return Markup("")
    scale = _scale(shown)
    alone = len(shown) == 1
    parts = _axes(scale) + (_limits(shown[0], scale) if alone else [])
    lines, marks, ends = list[str](), list[str](), list[float]()
    for number, trend in enumerate(shown):
        line, at_visits = _line(trend, scale, number, alone=alone)
        lines += line
        marks += at_visits
        parts += [] if alone else _name_at_end(trend, scale, ends)
    if alone:
        lines = _fan(shown[0], scale) + lines
        marks = _changed(shown[0], scale) + marks
    edge = f"M{LEFT - 8} 0H{WIDTH - RIGHT + 8}V{HEIGHT - BOTTOM}H{LEFT - 8}z"
    inside = f"<g data-plot>{''.join(lines)}</g>{''.join(marks)}"
    head = (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" class="trend" role="img" tabindex="0" aria-label="{escape(title)}" '
        f'data-axis="time" data-from="{scale.start.timestamp():.0f}" data-to="{scale.stop.timestamp():.0f}" '
        f'data-left="{LEFT}" data-right="{WIDTH - RIGHT}" data-ticks-at="{HEIGHT - 14}">'
    )
    clip = f'<clipPath id="trend-clip"><path d="{edge}"/></clipPath><g clip-path="url(#trend-clip)">'
    return Markup(head + "".join(parts) + clip + inside + "</g></svg>")


def _forecast_days(trend: PointTrend) -> float:
    """How far the fan reaches: to the latest day of the next alarm, at most as long again as was observed."""
    seen = (trend.visits[-1].at - trend.visits[0].at).days
    if trend.slope is None or len(trend.visits) < 4:
        return 0.0
    reach = [f.latest_days for f in (trend.to_act, trend.to_watch) if f and f.latest_days]
    return min(max(reach, default=seen / 3), float(seen))


def _scale(trends: Sequence[PointTrend]) -> _Scale:
    start = min(t.visits[0].at for t in trends)
    stop = max(t.visits[-1].at for t in trends)
    levels = [v.level_db for t in trends for v in t.visits]
    if len(trends) == 1:
        one = trends[0]
        stop += timedelta(days=_forecast_days(one))
        levels += [one.baseline.level_db] if one.baseline else []
        levels += [one.alarms.watch_db, one.alarms.act_db] if one.alarms else []
    if stop - start < timedelta(days=1):
        start, stop = start - timedelta(days=15), stop + timedelta(days=15)
    margin = max(3.0, 0.08 * (max(levels) - min(levels)))
    return _Scale(start, stop, min(levels) - margin, max(levels) + margin)


def _axes(s: _Scale) -> list[str]:
    parts = []
    span = s.high - s.low
    step = next((d for d in STEPS_DB if span / d <= 8), 100)
    level = (int(s.low // step) + 1) * step
    while level < s.high:
        y = s.y(level)
        parts.append(f'<path class="grid" d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{level}</text>'.replace(">-", ">−"))
        level += step
    parts.append("<g data-ticks>")
    for i in range(TICKS):
        at = s.start + (s.stop - s.start) * i / (TICKS - 1)
        x, anchor = (4.0, "start") if i == 0 else (s.x(at), "middle")
        parts.append(f'<text x="{x:.1f}" y="{HEIGHT - 14}" text-anchor="{anchor}">{at:%Y-%m-%d}</text>')
    parts.append("</g>")
    parts.append(f'<text x="4" y="{TOP}">dB</text>')
    return parts


def _limits(t: PointTrend, s: _Scale) -> list[str]:
    named = [("baseline", t.baseline.level_db if t.baseline else None)]
    named += [("watch", t.alarms.watch_db), ("act", t.alarms.act_db)] if t.alarms else []
    parts = []
    for name, level in named:
        if level is not None:
            y = s.y(level)
            parts.append(f'<path class="limit limit-{name}" d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}"/>')
            parts.append(f'<text x="{WIDTH - RIGHT + 6}" y="{y + 4:.1f}">{name} {level:.0f} dB</text>')
    return parts


def _fan(t: PointTrend, s: _Scale) -> list[str]:
    days = _forecast_days(t)
    if t.slope is None or not days:
        return []
    last = t.visits[-1]
    first = (last.at - t.visits[0].at).total_seconds() / 86400
    now = t.slope.intercept + t.slope.per_day * first
    at = last.at + timedelta(days=days)
    ends = [min(s.high, max(s.low, now + slope * days)) for slope in (t.slope.low, t.slope.high)]
    x0, y0, x1 = s.x(last.at), s.y(min(s.high, max(s.low, now))), s.x(at)
    return [f'<path class="fan" d="M{x0:.1f} {y0:.1f}L{x1:.1f} {s.y(ends[0]):.1f}V{s.y(ends[1]):.1f}z"/>']


def _changed(t: PointTrend, s: _Scale) -> list[str]:
    if t.change is None:
        return []
    x = s.x(t.change.began)
    return [
        f'<path class="changed" {_placed(x, 0)} d="M0 {TOP}V{HEIGHT - BOTTOM}"/>',
        f'<text {_placed(x, TOP + 4)} dx="4">risen since</text>',
    ]


def _placed(x: float, y: float) -> str:
    """Where something stands that moves with the stretch of time that is shown, but keeps its size."""
    return f'data-x="{x:.1f}" data-y="{y:.1f}" transform="translate({x:.1f} {y:.1f})"'


def _line(t: PointTrend, s: _Scale, number: int, *, alone: bool) -> tuple[list[str], list[str]]:
    places = [(s.x(v.at), s.y(v.level_db)) for v in t.visits]
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in places)
    dash = f' stroke-dasharray="{DASHES[number]}"' if DASHES[number] else ""
    marks = []
    for v, (x, y) in zip(t.visits, places, strict=True):
        mark = MARKS[{"ok": 0, "watch": 1, "act": 2}[v.state]] if alone else MARKS[number]
        said = escape(_said(t, v, alone))
        marks.append(f'<path class="mark line-{number}" d="{mark}" {_placed(x, y)} data-said="{said}"/>')
    return [f'<path class="line line-{number}" d="{path}"{dash}/>'], marks


def _name_at_end(t: PointTrend, s: _Scale, ends: list[float]) -> list[str]:
    y = s.y(t.visits[-1].level_db)
    while any(abs(y - other) < 16 for other in ends):
        y += 16
    ends.append(y)
    name = t.point.name if len(t.point.name) < 28 else t.point.name[:26] + "…"
    return [f'<text x="{WIDTH - RIGHT + 9:.1f}" y="{y + 4:.1f}">{escape(name)}</text>']


def _said(t: PointTrend, v: Visit, alone: bool) -> str:
    over = f", over the {v.state} level" if v.state != "ok" else ""
    name = "" if alone else f"{t.point.name}: "
    return f"{name}{v.at:%Y-%m-%d}, {v.level_db:.1f} dB{over}"
