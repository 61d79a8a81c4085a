"""A point's readings over time: what is normal there, whether it has changed, and how soon an alarm is to be expected.

Only readings taken alike are compared: the same distance, gain, pressure, speed, sensor. Several readings of one survey
are one visit, at their median; how far they lie apart is the point's own repeatability.
"""

from __future__ import annotations

import json
import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

import numpy as np
from sqlalchemy import Connection

from earwitness.errors import EarwitnessError
from earwitness.ledger import readings, sites
from earwitness.ledger.like_points import like_levels
from earwitness.ledger.readings import Listen
from earwitness.plant.assessment import FAULTS, rounded
from earwitness.plant.site import Point, Site
from earwitness.programme.change import cusum
from earwitness.programme.trend import (
    DEFAULT_REPEATABILITY_DB,
    Alarms,
    Baseline,
    Forecast,
    Slope,
    alarm_levels,
    repeatability,
    robust_baseline,
    slope,
    state_of,
    time_to_level,
)
from earwitness.report.format import digits_of, when
from earwitness.sentence import Sentence, say
from earwitness.work.sensor_checks import Sensor, sensor_of
from earwitness.work.verify import FINEST_DB, REPEATS, differences

SCHEMA = "earwitness.trend/1"
FIRST_GOOD = 5  # visits that a baseline is taken from
ENOUGH = 3  # visits from which a point has a history of its own
CANDIDATES = 5  # sets of equal conditions that are tried as what the others are compared with
DAY_S = 86400.0

GRADED = ("bearing", "gear")  # whose readings are called act or watch by their rise alone
LEVELS_GO_FIRST = say(
    "levels-go-first",
    "A reading alone is called act or watch by its rise over baseline (common practice); these levels go before that.",
)


@dataclass(frozen=True)
class Visit:
    """The readings of one survey at the point: their median level."""

    at: datetime
    level_db: float
    levels_db: tuple[float, ...]
    readings: tuple[str, ...]
    verdict: str | None
    state: str = "ok"

    @property
    def good(self) -> bool:
        return self.verdict is not None and self.verdict not in FAULTS and self.verdict != "inconclusive"


@dataclass(frozen=True)
class Change:
    began: datetime
    alarm: datetime
    sentence: Sentence


@dataclass(frozen=True)
class Like:
    """Levels of like points without a fault: how many, their median and their spread."""

    count: int
    level_db: float
    sigma_db: float
    basis: Sentence


@dataclass(frozen=True)
class PointTrend:
    point: Point
    visits: tuple[Visit, ...]
    left_out: tuple[tuple[Listen, Sentence], ...]  # readings that are not compared, and why
    baseline: Baseline | None = None
    baseline_basis: Sentence | None = None
    alarms: Alarms | None = None
    state: str | None = None
    change: Change | None = None
    false_alarm: Sentence | None = None
    slope: Slope | None = None
    to_watch: Forecast | None = None
    to_act: Forecast | None = None
    like: Like | None = None
    sensor: Sensor | None = None
    notes: tuple[Sentence, ...] = field(default=())

    def as_json(self) -> dict[str, Any]:
        p = self.point
        out: dict[str, Any] = {
            "schema": SCHEMA,
            "point": {"id": str(p.id), "name": p.name, "tag": p.tag, "kind": p.kind, "unit": "dB"},
            "visits": [_visit_json(v) for v in self.visits],
            "left_out": [
                {"reading": x.name, "at": x.taken_at.isoformat(), "level_db": x.level_db, "why": why.as_json()}
                for x, why in self.left_out
            ],
            "state": self.state,
            "false_alarms": self.false_alarm.as_json() if self.false_alarm else None,
            "sensor": self.sensor.as_json() if self.sensor else None,
            "notes": [n.as_json() for n in self.notes],
        }
        if self.baseline and self.baseline_basis:
            out["baseline"] = {
                "level_db": rounded(self.baseline.level_db),
                "count": self.baseline.count,
                "basis": self.baseline_basis.as_json(),
            }
        if self.alarms:
            a = self.alarms
            out["alarms"] = {"watch_db": rounded(a.watch_db), "act_db": rounded(a.act_db), "basis": a.basis.as_json()}
        if self.change:
            c = self.change
            began, alarm = c.began.isoformat(), c.alarm.isoformat()
            out["change"] = {"began": began, "alarm": alarm, **c.sentence.as_json()}
        if self.slope:
            year = [rounded(x * 365.25) for x in (self.slope.per_day, self.slope.low, self.slope.high)]
            out["slope"] = dict(zip(("value", "low", "high"), year, strict=True)) | {"unit": "dB/a"}
        for name, forecast in (("to_watch", self.to_watch), ("to_act", self.to_act)):
            if forecast:
                out[name] = _forecast_json(forecast)
        if self.like:
            k = self.like
            out["like_points"] = {"count": k.count, "level_db": rounded(k.level_db), "sigma_db": rounded(k.sigma_db)}
            out["like_points"]["basis"] = k.basis.as_json()
        return {k: v for k, v in out.items() if v is not None}


def _visit_json(v: Visit) -> dict[str, Any]:
    return {
        "at": v.at.isoformat(),
        "level_db": rounded(v.level_db),
        "levels_db": list(v.levels_db),
        "readings": list(v.readings),
        "verdict": v.verdict,
        "state": v.state,
    }


def _forecast_json(f: Forecast) -> dict[str, Any]:
    days = {"earliest_days": f.earliest_days, "likely_days": f.likely_days, "latest_days": f.latest_days}
    return {k: rounded(v) for k, v in days.items() if v is not None} | {"said": f.sentence.as_json()}


def trend_of(connection: Connection, point: Point, *, baseline_db: float | None = None) -> PointTrend:
    """The trend of one point; `baseline_db` instead of its own."""
    site = next(s for s in sites.sites(connection) if s.id == point.site_id)
    heard = [replace(x, taken_at=x.taken_at.astimezone(site.zone)) for x in readings.listens(connection, point.id)]
    sensor = sensor_of(connection, point.site_id, {x.survey_id for x in heard})
    alike, left_out = _alike(point.kind, heard, sensor)
    visits = _visits(alike)
    trend = PointTrend(point, visits, left_out, sensor=sensor)
    trend = replace(trend, notes=tuple(sensor.notes) if sensor else ())
    trend = _with_baseline(trend, baseline_db)
    good = sum(v.good for v in visits)
    if good < ENOUGH:
        trend = _with_like(connection, trend, alike)
    return _with_alarms(trend, site) if trend.baseline and visits else trend


def _alike(
    kind: str, heard: Sequence[Listen], sensor: Sensor | None
) -> tuple[list[Listen], tuple[tuple[Listen, Sentence], ...]]:
    """The largest set of readings taken like one of them (of equal sets that with the latest), and why others are
    left out."""
    fit, out = [], []
    for x in heard:
        if x.status != "read" or x.level_db is None or not math.isfinite(x.level_db):
            out.append((x, say("trend-no-level", "No level was noted ({status}).", status=x.status)))
        elif sensor and (why := sensor.mistrust(x.survey_id, x.taken_at.date())):
            out.append((x, why))
        else:
            fit.append(x)
    sets: dict[str, list[Listen]] = {}
    for x in fit:
        sets.setdefault(json.dumps(dict(x.comparable), sort_keys=True), []).append(x)
    if not sets:
        return [], tuple(out)
    largest = sorted(sets, key=lambda one: -len(sets[one]))[:CANDIDATES]
    unlike = {
        (one, other): differences(kind, sets[one][0].comparable, sets[other][0].comparable) if one != other else []
        for one in largest
        for other in sets
    }

    def reach(one: str) -> tuple[int, datetime]:
        with_it = [x for other in sets if not unlike[one, other] for x in sets[other]]
        return len(with_it), max(x.taken_at for x in with_it)

    reference = max(largest, key=reach)
    alike = []
    for x in fit:
        apart = unlike[reference, json.dumps(dict(x.comparable), sort_keys=True)]
        if apart:
            text = "Not comparable with the others: {differences}."
            out.append((x, say("trend-not-comparable", text, differences="; ".join(s.text for s in apart))))
        else:
            alike.append(x)
    return alike, tuple(sorted(out, key=lambda pair: (pair[0].taken_at, pair[0].name)))


def _visits(alike: Sequence[Listen]) -> tuple[Visit, ...]:
    by_survey: dict[uuid.UUID, list[Listen]] = {}
    for x in alike:
        by_survey.setdefault(x.survey_id, []).append(x)
    out = []
    for group in by_survey.values():
        levels = tuple(float(x.level_db or 0.0) for x in group)
        verdict = next((x.verdict for x in group if x.verdict in FAULTS), group[-1].verdict)
        out.append(Visit(group[0].taken_at, float(np.median(levels)), levels, tuple(x.name for x in group), verdict))
    return tuple(sorted(out, key=lambda v: v.at))


def _with_baseline(trend: PointTrend, stated: float | None) -> PointTrend:
    """The stated baseline, the point's own, or the median of its first good visits."""
    level = stated if stated is not None else trend.point.baseline_db
    if level is not None:
        basis = say("baseline-stated", "Baseline {level:.0f} dB, as stated.", level=level)
        return replace(trend, baseline=Baseline(level, math.nan, 0), baseline_basis=basis)
    first: list[Visit] = []
    for v in trend.visits:
        if v.verdict in FAULTS:
            break
        if v.good or v.verdict is None:
            first.append(v)
    if not first:
        return trend
    found = robust_baseline(np.array([v.level_db for v in first]), FIRST_GOOD)
    text = "Baseline {level:.1f} dB: the median of the first good visits ({n})."
    return replace(
        trend, baseline=found, baseline_basis=say("baseline-first", text, level=found.level_db, n=found.count)
    )


def _with_like(connection: Connection, trend: PointTrend, alike: Sequence[Listen]) -> PointTrend:
    """Comparison with like points where a point has too few good visits of its own."""
    p = trend.point
    reference = alike[-1].comparable if alike else None
    latest = like_levels(connection, p)
    levels = [
        x.level_db
        for x in latest
        if x.verdict not in FAULTS
        and x.verdict != "inconclusive"
        and (reference is None or not differences(p.kind, reference, x.comparable))
    ]
    if len(levels) < ENOUGH:
        text = "The point has fewer than {n} good visits, and fewer than {n} like points to compare with."
        return replace(trend, notes=(*trend.notes, say("trend-nothing-to-compare", text, n=ENOUGH)))
    found = robust_baseline(np.array(levels), len(levels))
    what = p.machine.bearing or p.kind
    basis = say(
        "like-points",
        "{n} like points ({what}, taken alike, no fault heard) have a median of {level:.0f} dB.",
        n=found.count,
        what=what,
        level=found.level_db,
    )
    like = Like(found.count, found.level_db, max(found.sigma_db, FINEST_DB), basis)
    if trend.baseline is None:
        return replace(trend, like=like, baseline=found, baseline_basis=basis)
    return replace(trend, like=like)


def _with_alarms(trend: PointTrend, site: Site) -> PointTrend:
    assert trend.baseline is not None
    own, sigma = _precision(trend)
    alarms = _alarms(trend, site, own)
    visits = tuple(replace(v, state=state_of(v.level_db, alarms.watch_db, alarms.act_db)) for v in trend.visits)
    trend = replace(trend, alarms=alarms, visits=visits, state=visits[-1].state)
    days = np.array([(v.at - visits[0].at).total_seconds() / DAY_S for v in visits])
    levels = np.array([v.level_db for v in visits])
    trend = _with_change(trend, sigma)
    notes = [*trend.notes, *([LEVELS_GO_FIRST] if trend.point.kind in GRADED else [])]
    if len(visits) >= ENOUGH and days[-1] > 0:
        to_watch = time_to_level(days, levels, alarms.watch_db) if levels[-1] < alarms.watch_db else None
        to_act = time_to_level(days, levels, alarms.act_db) if levels[-1] < alarms.act_db else None
        trend = replace(trend, slope=slope(days, levels), to_watch=to_watch, to_act=to_act)
    else:
        text = "Not predictable yet: {n} visits, 4 needed."
        notes.append(say("forecast-few", text, n=len(visits)))
    return replace(trend, notes=tuple(notes))


def _precision(trend: PointTrend) -> tuple[float | None, float]:
    """The point's own precision from its repeats and the sensor's checks (None: not known), and the standard deviation
    of a visit that the chart uses."""
    repeats = [v.levels_db for v in trend.visits if len(v.levels_db) >= REPEATS]
    between = trend.sensor.between_db if trend.sensor else None
    own = None
    if repeats:
        own = math.hypot(max(repeatability(repeats), FINEST_DB), between or 0.0)
    spread = trend.baseline.sigma_db if trend.baseline and trend.baseline.count >= FIRST_GOOD else 0.0
    return own, max(own if own is not None else DEFAULT_REPEATABILITY_DB, spread)


def _alarms(trend: PointTrend, site: Site, own: float | None) -> Alarms:
    """The point's own levels, the site's steps over baseline, or those that repeatability gives."""
    p, baseline = trend.point, trend.baseline
    assert baseline is not None
    if p.watch_db is not None and p.act_db is not None:
        basis = say("alarms-of-point", "Watch and act levels as stated for this point.")
        return Alarms(p.watch_db, p.act_db, basis)
    steps: Mapping[str, Any] = site.settings.get("alarms", {})
    if {"watch_over_db", "act_over_db"} <= set(steps):
        watch, act = float(steps["watch_over_db"]), float(steps["act_over_db"])
        text = "Watch at {watch:.1f} dB and act at {act:.1f} dB over baseline, as the site has it."
        basis = say("alarms-of-site", text, watch=watch, act=act)
        return Alarms(baseline.level_db + watch, baseline.level_db + act, basis)
    return alarm_levels(baseline.level_db, own)


def _with_change(trend: PointTrend, sigma: float) -> PointTrend:
    """The chart over the visits that the baseline does not rest on."""
    b = trend.baseline
    assert b is not None
    own = trend.like is None or trend.baseline_basis != trend.like.basis
    after = trend.visits[b.count if own else 0 :]
    if not after:
        return trend
    count = math.inf if b.count == 0 else float(b.count)
    found = cusum(np.array([v.level_db for v in after]), b.level_db, sigma, baseline_count=count)
    text = (
        "The chart gives one false alarm in about {every} visits of a sound point (standard deviation of a visit "
        "{sigma:.1f} dB)."
    )
    said = say("chart-rate", text, every=digits_of(found.false_alarm_every, 2), sigma=sigma)
    trend = replace(trend, false_alarm=said)
    if found.alarm is None or found.began is None:
        return trend
    began, alarm = after[found.began].at, after[found.alarm].at
    text = "The level has risen for good since {began}" + ("." if alarm == began else "; it showed on {alarm}.")
    days = {"began": when(began.date().isoformat()), "alarm": when(alarm.date().isoformat())}
    sentence = say("level-changed", text, **days)
    return replace(trend, change=Change(began, alarm, sentence))


def point_of(connection: Connection, site_id: uuid.UUID, text: str) -> Point:
    """The point of that tag, number or name."""
    from earwitness.ledger import points

    found = points.point_by_tag(connection, site_id, text)
    named = [found] if found is not None else points.points_named(connection, site_id, [text])
    if len(named) == 1:
        return named[0]
    if not named:
        raise EarwitnessError(f"no point is tagged or named '{text}'; `earwitness points list` shows them")
    tags = ", ".join(f"{p.tag} ({p.kind})" for p in named[:5])
    raise EarwitnessError(f"{len(named)} points are named '{text}'; use a tag: {tags}")
