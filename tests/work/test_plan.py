"""The plan of the coming weeks: within what is offered, dangers before it, what is left with its reason."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from itertools import product

import pytest
from click.testing import CliRunner

from earwitness.cli.findings import command as listed_command
from earwitness.cli.plan import command as plan_command
from earwitness.errors import EarwitnessError
from earwitness.ledger import findings as stored
from earwitness.ledger import sites
from earwitness.plant.assessment import Warned
from earwitness.work.desk_findings import dangers, rows_by_rank, story_of
from earwitness.work.file_survey import file_survey
from earwitness.work.plan import Offer, plan, take_over
from earwitness.work.returns import returns, walk
from earwitness.work.survey import SurveyResult
from tests.ledger.surveys import folder, judged, row

HOURS = {"fitter": 40.0}


def leaks(*cells: dict[str, str]) -> list[dict[str, str]]:
    return [
        row(f"A-{n}", "leak", **{"point": f"Point {n}", "craft": "fitter", "repair_hours": "2", **c})
        for n, c in enumerate(cells, 1)
    ]


def filed(ledger, tmp_path, rows, *, title="Round", day="2026-01-10", urgent=()):
    result = judged(folder(tmp_path / f"{title}-{day}", rows, title=title, day=day))
    hazard = Warned("flammable", {}, "DANGER", "It burns.", "rule", (), True)
    assessments = [replace(a, hazards=(hazard,)) if a.reading.reading in urgent else a for a in result.assessments]
    file_survey(ledger, SurveyResult(result.survey, tuple(assessments), result.findings, {}))


def planned(ledger, offer):
    with ledger.reading() as c:
        return plan(c, sites.site_of(c, None), offer)


def names(jobs):
    return sorted(j.listed.point for j in jobs)


def test_every_repair_is_in_one_week_within_its_hours(ledger, tmp_path):
    filed(ledger, tmp_path, leaks(*[{"saving": f"{100 + n}"} for n in range(9)]))
    made = planned(ledger, Offer(3, {"fitter": 5.0}))
    assert [len(made.in_week(w)) for w in (1, 2, 3)] == [2, 2, 2] and len(made.left) == 3
    assert all(made.used(w)["fitter"] <= 5.0 for w in (1, 2, 3))
    assert {names([made.jobs[n]])[0] for n in made.left} == {"Point 1", "Point 2", "Point 3"}  # those that save least
    assert names(made.in_week(1)) == ["Point 8", "Point 9"]  # what saves most comes first
    assert {why.code for why in made.left.values()} == {"left-worth-less"}


def test_one_isolation_serves_many_and_is_set_up_once(ledger, tmp_path):
    shared = {"isolation": "ring main north", "saving": "100"}
    filed(ledger, tmp_path, leaks(shared, shared, {"saving": "130"}, {"saving": "130"}))
    made = planned(ledger, Offer(2, {"fitter": 5.0}, set_up_hours={"isolation": 1.0}))
    together = [w for w in (1, 2) if names(made.in_week(w)) == ["Point 1", "Point 2"]]
    assert len(together) == 1 and made.used(together[0])["fitter"] == 5.0  # 2 + 2 + 1, not 2 + 2 + 2


def test_two_crafts_set_up_each_for_themselves(ledger, tmp_path):
    shared = {"isolation": "ring main north"}
    filed(ledger, tmp_path, leaks(shared, {**shared, "craft": "electrician"}))
    made = planned(ledger, Offer(1, {"fitter": 3.0, "electrician": 3.0}))
    assert made.used(1) == {"fitter": 3.0, "electrician": 3.0}


@pytest.mark.parametrize(
    ("cells", "offer", "week", "why"),
    [
        ({"shutdown": "yes"}, Offer(4, HOURS, frozenset({3})), 3, None),
        ({"shutdown": "yes"}, Offer(4, HOURS), None, "left-no-shutdown"),
        ({"parts": "hose 8 mm"}, Offer(4, HOURS, parts_weeks={"hose": 2}), 3, None),
        ({"parts": "hose 8 mm"}, Offer(2, HOURS, parts_weeks={"hose": 2}), None, "left-parts-late"),
        ({"shutdown": "yes", "parts": "seal"}, Offer(4, HOURS, frozenset({2, 4}), parts_weeks={"seal": 2}), 4, None),
        ({"repair_cost": "600 EUR"}, Offer(4, HOURS, budget=500.0), None, "left-too-dear"),
        ({"repair_hours": "50"}, Offer(4, HOURS), None, "left-too-long"),
        ({"craft": "rigger"}, Offer(4, HOURS), None, "left-no-craft"),
        ({}, Offer(4, HOURS), 1, None),
    ],
)
def test_shutdowns_parts_money_and_crafts(cells, offer, week, why, ledger, tmp_path):
    filed(ledger, tmp_path, leaks(cells))
    made = planned(ledger, offer)
    assert [w for w in range(1, offer.weeks + 1) if made.in_week(w)] == ([week] if week else [])
    assert [s.code for s in made.left.values()] == ([why] if why else [])


def test_dangers_stand_before_the_plan_and_are_not_in_it(ledger, tmp_path):
    filed(ledger, tmp_path, leaks({"reported_to": "shift lead"}, {}, {}), urgent=("A-1", "A-2"))
    made = planned(ledger, Offer(2, HOURS))
    assert {x.point: [t["who"] for t in told] for x, told in made.dangers} == {"Point 1": ["shift lead"], "Point 2": []}
    assert names(made.in_week(1)) == ["Point 3"]


def test_a_finding_without_money_counts_as_the_median_and_that_is_said(ledger, tmp_path):
    bearing = row("B-1", "friction", kind="bearing", point="Fan", saving="", pressure="", distance_m="", recording="")
    filed(ledger, tmp_path, [*leaks({"saving": "100"}, {"saving": "300"}, {"saving": "200"}), bearing])
    made = planned(ledger, Offer(2, HOURS))
    value = {j.listed.point: j.value_per_year for j in made.in_week(1)}
    assert value["Fan"] == pytest.approx(0.97 * 200) and {n.code for n in made.notes} == {"plan-no-money"}
    made = planned(ledger, Offer(2, HOURS, worth={"bearing": 900.0}))
    value = {j.listed.point: j.value_per_year for j in made.in_week(1)}
    assert value["Fan"] == pytest.approx(0.97 * 900) and not made.notes


def test_the_latest_reading_says_what_a_repair_needs(ledger, tmp_path):
    filed(ledger, tmp_path, leaks({"repair_hours": "1"}))
    filed(ledger, tmp_path, leaks({"repair_hours": "6", "shutdown": "yes"}), title="Second", day="2026-03-10")
    made = planned(ledger, Offer(2, HOURS, frozenset({2})))
    assert [(j.task.hours, j.task.needs_shutdown) for j in made.in_week(2)] == [(6.0, True)]


def test_list_page_and_card_of_a_finding_say_what_the_plan_says(ledger, place, tmp_path):
    """Of the reading that last heard it, not of the one that opened it."""
    filed(ledger, tmp_path, leaks({"repair_hours": "0.5", "craft": "greaser"}))
    now = {"repair_hours": "6", "craft": "millwright", "shutdown": "yes"}
    filed(ledger, tmp_path, leaks(now), title="Second", day="2026-03-10")
    with ledger.reading() as c:
        site = sites.site_of(c, None)
        (line,) = rows_by_rank(c, site.id, show="open", area_id=None, limit=9, offset=0)
        story = story_of(c, stored.finding(c, line.id), datetime(2026, 3, 11, tzinfo=UTC))
    assert line.work == story.work == "6\N{NO-BREAK SPACE}h; millwright; needs a shutdown"
    where = ["--ledger", place.where, "--recordings", str(place.recordings)]
    told = CliRunner().invoke(listed_command, ["list", "--json", *where])
    assert json.loads(told.output)["findings"][0]["repair"]["craft"] == "millwright"


def test_a_plan_taken_over_is_in_the_history(ledger, tmp_path):
    filed(ledger, tmp_path, leaks({}, {}))
    made = planned(ledger, Offer(2, {"fitter": 2.0}))
    with pytest.raises(EarwitnessError):
        take_over(ledger, made, who=" ", at=datetime(2026, 1, 12, tzinfo=UTC))
    assert take_over(ledger, made, who="Planner", at=datetime(2026, 1, 12, tzinfo=UTC)) == 2
    with ledger.reading() as c:
        last = [stored.history(c, j.listed.finding.id)[-1] for j in made.jobs.values()]
    assert sorted((s.state, s.who, s.why) for s in last) == [
        ("scheduled", "Planner", "week 1 of 2"), ("scheduled", "Planner", "week 2 of 2"),
    ]  # fmt: skip


def test_the_plan_is_as_good_as_trying_every_one(ledger, tmp_path):
    """Five repairs, two weeks: all 3^5 plans by hand."""
    hours, savings = (1, 2, 3, 2, 2), (90, 200, 250, 120, 210)
    cells = [{"repair_hours": f"{h}", "saving": f"{s}", "isolation": "a" if n in (1, 4) else ""} for n, (h, s) in
             enumerate(zip(hours, savings, strict=True))]  # fmt: skip
    filed(ledger, tmp_path, leaks(*cells))
    made = planned(ledger, Offer(2, {"fitter": 5.0}))
    best = 0.0
    for weeks in product((None, 0, 1), repeat=5):
        used = [sum(h for h, w in zip(hours, weeks, strict=True) if w == x) for x in (0, 1)]
        used = [u + (1.0 if x in (weeks[1], weeks[4]) else 0.0) for x, u in zip((0, 1), used, strict=True)]
        if max(used) <= 5.0:
            value = sum(s * (2 - w) for s, w in zip(savings, weeks, strict=True) if w is not None)
            best = max(best, 0.97 * value / (365.25 / 7))
    assert made.found.value == pytest.approx(best, rel=1e-6) and made.found.bound >= best * (1 - 1e-9)


def test_when_to_come_back_needs_two_rounds_and_has_a_range(ledger, tmp_path):
    filed(ledger, tmp_path, leaks({"saving": "400"}))
    with ledger.reading() as c:
        site = sites.site_of(c, None)
        assert [r.sentence.code for r in returns(c, site.id, 200.0, "EUR")] == ["return-one-round"]
    filed(
        ledger,
        tmp_path,
        leaks({"saving": "400"}, {"saving": "400"}, {"saving": "400"}),
        title="Second",
        day="2027-01-10",
    )
    with ledger.reading() as c:
        (found,) = returns(c, site.id, 200.0, "EUR")
        assert [r.sentence.code for r in returns(c, site.id, None, "EUR")] == ["return-needs"]
    assert found.appeared == 2 and found.rounds == 2
    # square-root formula (Harris 1913): sqrt(2·200/(2·400)) years; two in a year are 0.24 to 7.2 a year (Garwood 1936)
    assert found.back.years == pytest.approx((2 * 200 / (2 * 400)) ** 0.5, rel=0.01)
    assert found.back.earliest == pytest.approx((2 * 200 / (7.22 * 400)) ** 0.5, rel=0.01)
    assert found.due.year == 2027 and "months" in found.sentence.text


def test_a_round_passes_the_placed_points_shortly_and_the_others_after(ledger, tmp_path):
    from earwitness.ledger import points

    filed(ledger, tmp_path, leaks(*[{} for _ in range(5)]))
    with ledger.writing() as c:
        site = sites.site_of(c, None)
        for p, x in zip(points.points(c, site.id), (0.1, 0.9, 0.5, 0.3, None), strict=True):
            points.change_point(c, p.id, plan_x=x, plan_y=None if x is None else 0.5)
        found = walk(c, site.id)
    assert [p.name for p in found.points] == ["Point 1", "Point 4", "Point 3", "Point 2", "Point 5"]
    assert found.placed == 4 and [n.code for n in found.notes] == ["walk-not-placed"]


def test_without_any_money_none_is_told(ledger, place, tmp_path):
    """They count alike for the order; "1.00 EUR a year" would be a number that nobody knows."""
    filed(ledger, tmp_path, leaks({"saving": ""}, {"saving": ""}))
    where = ["--ledger", place.where, "--recordings", str(place.recordings), "--hours", "fitter=8"]
    told = CliRunner().invoke(plan_command, where).output
    assert "2 of 2 repairs planned" in told and "a year" not in told
    answered = json.loads(CliRunner().invoke(plan_command, [*where, "--json"]).output)
    repairs = [r for week in answered["weeks"] for r in week["repairs"]]
    assert [r["assumed"] for r in repairs] == [["money"]] * 2 and not answered["avoided"]
    assert not any("value_per_year" in r for r in repairs) and answered["optimality"]["unit"].startswith("value ")


def test_where_a_fault_was_heard_is_told_though_its_point_is_in_doubt(ledger, tmp_path):
    """A danger at "a point in doubt" sends nobody anywhere: the row that opened it says where."""
    filed(ledger, tmp_path, leaks({"point": "Line 1 capper"}))
    doubtful = leaks({"point": "Line 1 caper", "area": "Hall 1", "tag": "T-9", "location": "under the valve"})
    filed(ledger, tmp_path, doubtful, title="Second", day="2026-03-10", urgent=("A-1",))
    with ledger.reading() as c:
        site = sites.site_of(c, None)
        ((danger, _),) = plan(c, site, Offer(2, HOURS)).dangers
        (line, _) = rows_by_rank(c, site.id, show="open", area_id=None, limit=9, offset=0)
        (first,) = dangers(c, site.id)
        story = story_of(c, danger.finding, datetime(2026, 3, 11, tzinfo=UTC))
    assert (danger.area, danger.point) == ("Hall 1", "Line 1 caper")
    assert danger.where == line.where == first.where == story.where == "Hall 1, Line 1 caper, tag T-9"
    assert story.heading.endswith(": leak at Line 1 caper") and story.spot == "under the valve"


def test_what_is_left_at_a_point_in_doubt_has_a_place_and_no_tag(ledger, tmp_path, place):
    filed(ledger, tmp_path, leaks({"point": "Line 1 capper"}))
    filed(ledger, tmp_path, leaks({"point": "Line 1 caper"}), title="Second", day="2026-03-10")
    where = ["--ledger", place.where, "--recordings", str(place.recordings), "--hours", "electrician=8"]
    told = CliRunner().invoke(plan_command, where).output
    assert "Left: leak at Line 1 caper. No hours" in told and "None" not in told
