"""The plan: never more than is offered, never above its bound, as good as trying every plan."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from earwitness.errors import InputError
from earwitness.programme.schedule import Schedule, Task, Weeks, schedule

SET_UP = {"isolation a": 1.0, "access b": 0.5}
TASKS = st.lists(
    st.tuples(
        st.sampled_from([0.5, 1.0, 2.0, 3.0]), st.sampled_from(["fitter", "rigger"]), st.floats(0.5, 20.0),
        st.floats(0.0, 5.0), st.integers(0, 2), st.booleans(), st.sets(st.sampled_from(sorted(SET_UP)), max_size=2),
    ), min_size=1, max_size=5,
)  # fmt: skip
WEEKS = Weeks({"fitter": [4.0, 3.0], "rigger": [2.0, 3.0]}, [False, True], 8.0, SET_UP)


def made(drawn) -> list[Task]:
    return [
        Task(f"t{n}", h, craft, v, cost, first, shut, tuple(sorted(b)))
        for n, (h, craft, v, cost, first, shut, b) in enumerate(drawn)
    ]


def allowed(tasks: list[Task], week: dict[str, int], weeks: Weeks) -> bool:
    """The rules, written down apart from the programme that is solved."""
    done = [t for t in tasks if t.name in week]
    if sum(t.cost for t in done) > weeks.budget + 1e-9:
        return False
    for t in done:
        w = week[t.name]
        if w < t.first_week or (t.needs_shutdown and not weeks.shutdown[w]):
            return False
    for craft, offered in weeks.hours.items():
        for w in range(weeks.count):
            mine = [t for t in done if week[t.name] == w and t.craft == craft]
            opened = {b for t in mine for b in t.bundles}
            if sum(t.hours for t in mine) + sum(weeks.bundle_hours[b] for b in opened) > offered[w] + 1e-6:
                return False
    return True


def value(tasks: list[Task], week: dict[str, int], weeks: Weeks) -> float:
    return sum(t.value_per_week * (weeks.count - week[t.name]) for t in tasks if t.name in week)


@settings(deadline=None, max_examples=40)
@given(TASKS)
def test_it_is_the_best_of_all_plans(drawn):
    tasks = made(drawn)
    plans = (
        {t.name: w for t, w in zip(tasks, weeks, strict=True) if w is not None}
        for weeks in product((None, 0, 1), repeat=len(tasks))
    )
    best = max(value(tasks, p, WEEKS) for p in plans if allowed(tasks, p, WEEKS))
    found = schedule(tasks, WEEKS, gap=1e-6)
    assert allowed(tasks, dict(found.week), WEEKS)
    assert found.value == pytest.approx(best, rel=1e-5, abs=1e-6) and found.bound >= best * (1 - 1e-6)
    assert set(found.week) | set(found.left) == {t.name for t in tasks}


def test_a_larger_plan_keeps_the_rules_and_comes_near_its_bound():
    rng = np.random.default_rng(5)
    names = [f"place {n}" for n in range(15)]
    tasks = [
        Task(f"t{n}", float(rng.choice([0.5, 1, 2, 4])), str(rng.choice(["fitter", "rigger"])),
             float(rng.lognormal(2, 1)), float(rng.lognormal(3, 1)), int(rng.integers(0, 3)), bool(rng.random() < 0.1),
             tuple(str(b) for b in rng.choice(names, rng.integers(0, 3), replace=False)))
        for n in range(80)
    ]  # fmt: skip
    weeks = Weeks({"fitter": [12.0] * 5, "rigger": [10.0] * 5}, [False, False, True, False, False], 1500.0,
                  dict.fromkeys(names, 1.0))  # fmt: skip
    found = schedule(tasks, weeks, seconds=60)
    assert allowed(tasks, dict(found.week), weeks) and found.value == pytest.approx(
        value(tasks, dict(found.week), weeks)
    )
    assert found.gap < 0.01


@settings(deadline=None, max_examples=40)
@given(TASKS)
def test_without_time_it_is_still_a_plan_that_keeps_the_rules(drawn):
    tasks = made(drawn)
    found = schedule(tasks, WEEKS, seconds=0.0)
    assert allowed(tasks, found.week, WEEKS)
    assert found.value == pytest.approx(value(tasks, found.week, WEEKS))
    assert found.value <= schedule(tasks, WEEKS).value + 1e-6 <= found.bound + 1e-5


def test_of_many_repairs_a_good_part_is_had_without_time():
    chance = np.random.default_rng(8)
    tasks = [
        Task(f"t{n}", float(chance.choice([0.5, 1, 2, 4])), "fitter", float(chance.lognormal(1, 1)), 0.0, 0, False, ())
        for n in range(300)
    ]
    weeks = Weeks({"fitter": [16.0] * 8}, [False] * 8)
    found = schedule(tasks, weeks, seconds=0.0)
    assert allowed(tasks, found.week, weeks)
    assert found.value >= 0.9 * found.bound  # of equal weeks what is worth most an hour first is nearly the best


def test_nothing_to_do_is_a_plan():
    assert schedule([], WEEKS) == Schedule({}, 0.0, 0.0, ())
    assert Schedule({}, 0.0, 0.0, ()).gap == 0.0


@pytest.mark.parametrize(
    ("tasks", "weeks"),
    [
        ([Task("t", 1.0, "painter", 1.0)], WEEKS),
        ([Task("t", 1.0, "fitter", 1.0)], Weeks({"fitter": [1.0]}, [False, False])),
    ],
)
def test_what_cannot_be_is_refused(tasks, weeks):
    with pytest.raises(InputError):
        schedule(tasks, weeks)
