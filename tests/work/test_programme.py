"""The programme's view: counts, ages, promised against proven, two walks of one round, system tests over time."""

from __future__ import annotations

import json
import math
from datetime import UTC, date, datetime

import pytest

from earwitness.gas.system_test import load_unload_test
from earwitness.interval import Uncertain
from earwitness.ledger import sites
from earwitness.plant.assessment import Quantity
from earwitness.work import savings
from earwitness.work.answers import answer
from earwitness.work.file_survey import file_survey
from earwitness.work.programme import moment, programme, told
from earwitness.work.survey import SurveyResult
from earwitness.work.system_history import file_system_test, history
from tests.ledger.surveys import folder, judged, row

NOW = datetime(2026, 7, 10, tzinfo=UTC)


def filed(ledger, tmp_path, title, day, heard, *, inspector="A. Name", flows=None):
    rows = [row(f"{title[0]}-{n}", verdict, point=f"Point {n}", tag=f"T-{n}", saving=f"{100 * n}" if verdict == "leak"
            else "", level_db="58" if verdict == "leak" else "36") for n, verdict in heard.items()]  # fmt: skip
    result = judged(folder(tmp_path / title, rows, title=title, day=day, inspector=inspector))
    assessments = [_sized(a, (flows or {}).get(a.reading.point)) for a in result.assessments]
    file_survey(ledger, SurveyResult(result.survey, tuple(assessments), result.findings, {}))


def _sized(a, flow):
    from dataclasses import replace

    if flow is None:
        return a
    spread = Uncertain(flow, 0.3, {"level_method": 0.5})
    quantity = Quantity(spread.interval(), "m3/s", "level", "20 degC, 101.325 kPa")
    return replace(a, quantities={**a.quantities, "volume_flow": quantity}, spread=spread)


def view(ledger):
    with ledger.reading() as c:
        return programme(c, sites.site_of(c, None), at=NOW)


LEAK, QUIET = "leak", "no-leak-heard"


def test_promised_verified_and_lost_again(ledger, tmp_path):
    filed(ledger, tmp_path, "First", "2026-01-10", {1: LEAK, 2: LEAK, 3: LEAK, 4: LEAK})
    for tag in ("T-1", "T-2", "T-3"):
        answer(ledger, None, tag, who="Fitter", at=datetime(2026, 2, 1, tzinfo=UTC), found=True, fixed=True)
    filed(ledger, tmp_path, "Second", "2026-03-10", {1: QUIET, 2: QUIET})
    filed(ledger, tmp_path, "Third", "2026-06-10", {1: LEAK, 2: QUIET})
    found = view(ledger)
    assert found.by_state == {"open": 1, "scheduled": 0, "repaired": 1, "verified": 1, "reopened": 1, "dismissed": 0}
    assert (found.ever["repaired"], found.ever["verified"], found.ever["reopened"]) == (3, 2, 1)
    assert found.promised == pytest.approx(100 + 200 + 300)  # what the three repairs were to save
    assert (found.savings.verified, found.savings.lost_again) == (200, 100)
    assert found.savings.estimated == 300 + 400  # not yet proven, and not yet begun
    assert found.backlog.count == 2 and found.backlog.older_than == {30: 2, 90: 2, 365: 0}
    assert found.backlog.oldest_days == pytest.approx(181)
    (line,) = [x for x in told(found) if x.startswith("Saving a year")]
    assert "200 EUR (" in line.replace("\u00a0", " ") and "600 EUR (" in line.replace("\u00a0", " ")
    json.dumps(found.as_json(), allow_nan=False)


def test_sums_have_intervals(ledger, tmp_path):
    """Each saving lies from half to double by what all share: so do the sums."""
    filed(ledger, tmp_path, "First", "2026-01-10", dict.fromkeys(range(1, 9), LEAK))
    for n in range(1, 5):
        answer(ledger, None, f"T-{n}", who="Fitter", at=datetime(2026, 2, 1, tzinfo=UTC), found=True, fixed=True)
    filed(ledger, tmp_path, "Second", "2026-03-10", {1: QUIET, 2: QUIET})
    found = view(ledger)
    for account, mean in (("promised", 1000), ("verified", 300), ("estimated", 3300)):
        x = found.sum_of(account, "EUR")
        assert x.mean == pytest.approx(mean) and x.high / x.low == pytest.approx(4.0, rel=0.1)
        assert x.coverage == 0.95 and x.low < mean < x.high
    assert found.sum_of("lost_again", "EUR").high == 0 and found.sum_of("promised", "USD").high == 0
    in_json = found.as_json()["savings"]
    assert {n: x["mean"] for n, x in in_json["intervals"].items()} == {n: in_json[n] for n in in_json["intervals"]}


def test_what_each_reading_strays_by_itself_averages_out_in_a_sum_and_the_method_does_not(ledger, tmp_path):
    flows = {f"Point {n}": 1e-3 for n in range(1, 9)}  # a spread of 0.3 each, and of 0.5 by the method that all share
    filed(ledger, tmp_path, "First", "2026-01-10", dict.fromkeys(range(1, 9), LEAK), flows=flows)
    x = view(ledger).sum_of("estimated", "EUR")
    shared, alone = 2 * 1.96 * 0.5, 2 * 1.96 * math.hypot(0.3, 0.5)
    assert x.mean == pytest.approx(3600) and 0.94 * shared < math.log(x.high / x.low) < 0.95 * alone


def test_of_many_amounts_the_largest_say_how_far_the_sum_is_spread(ledger, tmp_path, monkeypatch):
    filed(ledger, tmp_path, "First", "2026-01-10", dict.fromkeys(range(1, 9), LEAK))
    drawn = view(ledger).sum_of("estimated", "EUR")
    monkeypatch.setattr(savings, "MOST", 3)
    fewer = view(ledger).sum_of("estimated", "EUR")
    assert fewer.mean == pytest.approx(3600) == drawn.mean
    assert (fewer.low, fewer.high) == pytest.approx((drawn.low, drawn.high), rel=0.02)


def test_two_inspectors_on_one_round_show_how_much_is_overlooked(ledger, tmp_path):
    filed(ledger, tmp_path, "First", "2026-01-10", {**dict.fromkeys(range(1, 11), LEAK), 20: QUIET})
    assert not view(ledger).walks and "no-two-walks" in {n.code for n in view(ledger).notes}
    filed(ledger, tmp_path, "Second", "2026-01-11", dict.fromkeys(range(6, 21), LEAK), inspector="B. Name")
    (walks,) = view(ledger).walks
    assert (walks.first, walks.second, walks.both) == (10, 15, 5)
    assert walks.population.total == pytest.approx(11 * 16 / 6 - 1)  # Chapman 1951
    filed(ledger, tmp_path, "Later", "2026-05-11", {1: LEAK}, inspector="B. Name")
    assert len(view(ledger).walks) == 1  # months later is another round


def test_each_system_test_stands_against_the_leaks_open_on_its_day(ledger, tmp_path):
    flows = {"Point 1": 1e-3, "Point 2": 2e-3}
    filed(ledger, tmp_path, "First", "2026-01-10", {1: LEAK, 2: LEAK, 3: LEAK}, flows=flows)
    test = load_unload_test([60.0], [540.0], 0.1)  # a tenth of 0.1 m3/s
    for day in (date(2026, 1, 5), date(2026, 1, 10), date(2026, 2, 10)):
        file_system_test(ledger, None, test, {"capacity": "0.1 m3/s"}, day)
        file_system_test(ledger, None, test, {"capacity": "0.1 m3/s"}, day)  # the same test twice is one
    answer(ledger, None, "T-2", who="Fitter", at=datetime(2026, 2, 1, tzinfo=UTC), found=True, fixed=True)
    with ledger.reading() as c:
        before, on, after = history(c, sites.site_of(c, None))
    assert [r.leaks for r in (before, on, after)] == [0, 3, 2] and [r.unsized for r in (on, after)] == [1, 1]
    assert before.found is None
    for r in (on, after):
        assert r.found.total.low < 0.01 < r.found.total.high
        assert r.found.found.value + r.found.not_found.value == pytest.approx(0.01, rel=0.15)
    assert after.found.share_found.value < on.found.share_found.value
    assert json.dumps([r.as_json() for r in (before, on, after)], allow_nan=False)


def test_an_empty_site_has_a_view(ledger, tmp_path):
    filed(ledger, tmp_path, "First", "2026-01-10", {1: QUIET})
    found = view(ledger)
    assert sum(found.by_state.values()) == 0 and found.savings is None and told(found)


def test_ages_count_to_the_end_of_the_day():
    assert moment(date(2026, 7, 10), NOW) == datetime(2026, 7, 10, 23, 59, 59, tzinfo=UTC)
    assert moment(None, NOW) == NOW
