"""A point over time: only like readings compared, alarms from its own repeatability, a failing sensor told apart."""

from __future__ import annotations

from datetime import date

import pytest

from earwitness.errors import EarwitnessError
from earwitness.ledger import points, sites
from earwitness.ledger.rows import change
from earwitness.ledger.schema import site as site_table
from earwitness.plant.site import SensitivityCheck
from earwitness.work.file_survey import file_survey
from earwitness.work.sensor_checks import record_check
from earwitness.work.trends import point_of, trend_of
from tests.ledger.surveys import folder, judged, row

FAN = "Fan 1, drive end"


def bearing(reading: str, level: float, heard: str = "no-fault-heard", **cells: str) -> dict[str, str]:
    usual = {
        "kind": "bearing", "point": FAN, "sensor": "contact", "pressure": "", "distance_m": "", "attachment": "",
        "speed_rpm": "1480", "bearing": "6205", "level_db": f"{level:g}", "background_db": "", "saving": "",
        "recording": "",
    }  # fmt: skip
    return row(reading, heard, **(usual | cells))


def rounds(ledger, tmp_path, *surveys):
    for n, (day, rows) in enumerate(surveys):
        file_survey(ledger, judged(folder(tmp_path / f"{n}-{day}", rows, title=f"{tmp_path.name} {n}", day=day)))


def trend(ledger, name=FAN, **given):
    with ledger.reading() as c:
        return trend_of(c, point_of(c, sites.site_of(c, None).id, name), **given)


def steady(*levels, start=1):
    return [(f"2026-{start + n:02d}-10", [bearing(f"B-{n}", level)]) for n, level in enumerate(levels)]


def test_the_baseline_is_the_median_of_the_first_good_visits(ledger, tmp_path):
    rounds(ledger, tmp_path, *steady(22, 24, 23, 40, 23, 35, 36))
    found = trend(ledger)
    assert found.baseline.level_db == 23 and found.baseline.count == 5  # of 22 24 23 40 23: one wild level does no harm
    assert found.baseline_basis.code == "baseline-first"


def test_a_fault_ends_what_counts_as_good(ledger, tmp_path):
    days = [*steady(22, 24), ("2026-05-10", [bearing("B-8", 33, "friction")]), ("2026-06-10", [bearing("B-9", 23)])]
    rounds(ledger, tmp_path, *days)
    assert (trend(ledger).baseline.level_db, trend(ledger).baseline.count) == (23, 2)
    assert trend(ledger, baseline_db=20.0).baseline_basis.code == "baseline-stated"


def test_three_repeats_set_the_alarms(ledger, tmp_path):
    """Levels 22 23 24 have a standard deviation of 1 dB; ISO 5725-6: 2.8 times that."""
    rounds(ledger, tmp_path, ("2026-01-10", [bearing(f"B-{n}", 22 + n) for n in range(3)]))
    found = trend(ledger)
    assert len(found.visits) == 1 and found.visits[0].level_db == 23
    assert found.alarms.watch_db == pytest.approx(25.8) and found.alarms.act_db == pytest.approx(28.6)
    assert "levels-go-first" in {n.code for n in found.notes}  # before what a reading alone is called


def test_without_repeats_the_alarms_are_practice_and_say_so(ledger, tmp_path):
    rounds(ledger, tmp_path, *steady(23))
    assert trend(ledger).alarms.basis.code == "alarms-from-practice"


def test_the_points_own_levels_and_the_sites_come_first(ledger, tmp_path):
    rounds(ledger, tmp_path, *steady(23, 29))
    with ledger.writing() as c:
        home = sites.site_of(c, None)
        change(c, site_table, home.id, settings={"alarms": {"watch_over_db": 5, "act_over_db": 9}})
    assert trend(ledger, baseline_db=23.0).alarms.watch_db == 28 and trend(ledger, baseline_db=23.0).state == "watch"
    with ledger.writing() as c:
        points.change_point(c, point_of(c, home.id, FAN).id, watch_db=24.0, act_db=26.0)
    found = trend(ledger)
    assert found.alarms.basis.code == "alarms-of-point" and found.state == "act"


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ({"speed_rpm": "980"}, "speed"),
        ({"gain_db": "20"}, "gain"),
        ({"sensor": "airborne", "distance_m": "1"}, "sensor"),
    ],
)
def test_what_was_taken_otherwise_is_listed_and_not_compared(cells, says, ledger, tmp_path):
    rounds(ledger, tmp_path, *steady(22, 23, 22), ("2026-09-10", [bearing("B-9", 39, **cells)]))
    found = trend(ledger)
    assert [v.level_db for v in found.visits] == [22, 23, 22] and found.state == "ok"
    assert [(x.name, says in why.text) for x, why in found.left_out] == [("B-9", True)]


def test_a_reading_without_a_level_or_not_running_is_listed(ledger, tmp_path):
    idle = bearing("B-8", 0, "", status="not-running", level_db="")
    rounds(ledger, tmp_path, *steady(22, 23), ("2026-09-10", [idle]))
    assert [why.code for _, why in trend(ledger).left_out] == ["trend-no-level"]


def test_a_lasting_rise_is_found_dated_and_its_false_alarms_stated(ledger, tmp_path):
    rounds(ledger, tmp_path, *steady(22, 23, 22, 23, 22, 26, 27, 26))
    found = trend(ledger)
    assert f"{found.change.began:%Y-%m}" == "2026-06" and found.change.alarm <= found.visits[-1].at
    assert "false alarm" in found.false_alarm.text
    rounds(ledger, tmp_path / "b", *[(d, [{**r[0], "point": "Fan 2"}]) for d, r in steady(22, 23, 22, 23, 22, 23, 22)])
    assert trend(ledger, "Fan 2").change is None


def test_time_to_the_alarm_is_a_range_or_not_predictable(ledger, tmp_path):
    rising = [(d, [{**r[0], "point": "Fan 2"}]) for d, r in steady(22.0, 22.9, 24.1, 25.0, 26.0)]  # about 1 dB a month
    rounds(ledger, tmp_path / "a", *steady(22, 23))
    rounds(ledger, tmp_path / "b", *rising)
    assert {n.code for n in trend(ledger).notes} >= {"forecast-few"}
    found = trend(ledger, "Fan 2", baseline_db=22.0)
    assert found.slope.low < 12 / 365.25 < found.slope.high
    act = found.to_act
    assert act.earliest_days < act.likely_days < act.latest_days
    assert act.likely_days == pytest.approx((found.alarms.act_db - 26) / (1 / 30.2), rel=0.25)


def test_a_point_without_history_is_compared_with_like_bearings(ledger, tmp_path):
    others = [bearing(f"B-{n}", level, point=f"Fan {n}, drive end") for n, level in enumerate((21, 22, 23, 24), 2)]
    other_bearing = bearing("B-7", 50, point="Mill", bearing="6313")
    damaged = bearing("B-8", 48, "outer-race", point="Fan 8, drive end")
    mine = bearing("B-1", 38, "friction")
    rounds(ledger, tmp_path, ("2026-01-10", [*others, other_bearing, damaged, mine]))
    found = trend(ledger)
    assert (found.like.count, found.like.level_db) == (4, 22.5)
    assert found.state == "act" and found.baseline_basis.code == "like-points"


def test_a_failed_check_takes_its_readings_out_until_one_passes(ledger, tmp_path):
    rounds(ledger, tmp_path, *steady(22, 23, 14, 22, start=1))
    with pytest.raises(EarwitnessError, match="which instrument"):
        record_check(ledger, None, None, SensitivityCheck(date(2026, 1, 1), 52, 52))
    from earwitness.ledger import schema

    with ledger.writing() as c:  # the folders of these tests state no instrument
        home = sites.site_of(c, None)
        instrument = sites.keep_instrument(c, home.id, "receiver", "S-1", "probe")
        c.execute(schema.survey.update().values(instrument_id=instrument))
    for month, level in ((1, 52), (3, 43), (4, 52)):
        record_check(ledger, None, "s-1", SensitivityCheck(date(2026, month, 9), level, 52))
    found = trend(ledger)
    assert [v.level_db for v in found.visits] == [22, 23, 22]
    assert [why.code for _, why in found.left_out] == ["sensor-failed"]
    record_check(ledger, None, "s-1", SensitivityCheck(date(2026, 6, 9), 40, 52))
    assert "sensor-failing" in {n.code for n in trend(ledger).notes}


def test_checks_that_scatter_from_round_to_round_widen_the_alarms(ledger, tmp_path):
    rounds(ledger, tmp_path, ("2026-01-10", [bearing(f"B-{n}", 22 + n) for n in range(3)]))
    from earwitness.ledger import schema

    with ledger.writing() as c:
        instrument = sites.keep_instrument(c, sites.site_of(c, None).id, "receiver", "S-1", "probe")
        c.execute(schema.survey.update().values(instrument_id=instrument))
    for month, level in ((1, 51), (2, 52), (3, 53)):  # 1 dB from round to round, beside 1 dB at the point
        record_check(ledger, None, None, SensitivityCheck(date(2026, month, 9), level, 52))
    assert trend(ledger).alarms.watch_db == pytest.approx(23 + 2.8 * 2**0.5)


def test_names_that_are_none_or_two_are_said(ledger, tmp_path):
    rounds(ledger, tmp_path, *steady(22))
    with pytest.raises(EarwitnessError, match="no point"):
        trend(ledger, "Fan 9")


def test_json_has_no_empty_parts(ledger, tmp_path):
    import json

    rounds(ledger, tmp_path, *steady(22, 23, 24, 25))
    out = json.loads(json.dumps(trend(ledger).as_json(), allow_nan=False))
    assert out["schema"] == "earwitness.trend/1" and len(out["visits"]) == 4 and None not in out.values()
