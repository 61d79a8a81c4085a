"""Which repairs in which week: the greatest expected loss avoided within crew hours, budget, parts and shutdowns.

Repairs that share an isolation, an access or a set-up do so once a week: `bundles` names what is shared and its
hours. Dangers are not planned here: they are dealt with before any plan. A mixed-integer programme solved by HiGHS
through SciPy, with the bound on how much better any other plan could be.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from earwitness.errors import InputError

LET_IN = (0.06, 0.15, math.inf)  # how dear a slot may be, in shares of a mean task's part of the bound


@dataclass(frozen=True)
class Task:
    """One repair: hours of a craft, cost, value a week once done, first week (parts), and what it shares."""

    name: str
    hours: float
    craft: str
    value_per_week: float
    cost: float = 0.0
    first_week: int = 0
    needs_shutdown: bool = False
    bundles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Weeks:
    """What each week offers: hours by craft (one number a week), which weeks are shutdowns, and the whole budget."""

    hours: Mapping[str, Sequence[float]]
    shutdown: Sequence[bool]
    budget: float = float("inf")
    bundle_hours: Mapping[str, float] = field(default_factory=dict)

    @property
    def count(self) -> int:
        return len(self.shutdown)


@dataclass(frozen=True)
class Schedule:
    """Week of each task that is done; value gained over the horizon, and the bound no plan can exceed."""

    week: Mapping[str, int]
    value: float
    bound: float
    left: tuple[str, ...]

    @property
    def gap(self) -> float:
        return 0.0 if self.bound <= 0 else max(0.0, (self.bound - self.value) / self.bound)


def schedule(tasks: Sequence[Task], weeks: Weeks, *, gap: float = 0.009, seconds: float = 9.0) -> Schedule:
    """The plan with the greatest value, within `gap` of the best or the best found in `seconds` (the bound says).

    Parameters
    ----------
    tasks : repairs to place
    weeks : what each week offers
    gap : float, relative distance to the bound at which to stop [1]
    seconds : float, most time spent [s]

    References: Dantzig (1957), Operations Research 5, 266 (knapsack and its linear bound); HiGHS (Huangfu and Hall
    2018, Math. Prog. Comp. 10, 119).
    """
    unknown = sorted({t.craft for t in tasks} - set(weeks.hours))
    if unknown:
        raise InputError("craft", ", ".join(unknown), "one of " + ", ".join(weeks.hours))
    if any(len(offered) != weeks.count for offered in weeks.hours.values()):
        raise InputError("hours", "a craft's weeks", f"one number for each of the {weeks.count} weeks")
    slots = [(i, w) for i, t in enumerate(tasks) for w in range(weeks.count) if _may(t, w, weeks)]
    if not slots:
        return Schedule({}, 0.0, 0.0, tuple(t.name for t in tasks))
    worth, rows = _programme(tasks, weeks, slots)
    by_hand = np.concatenate([_by_hand(tasks, weeks, slots), np.zeros(len(worth) - len(slots))])
    chosen_slots, bound = _solve(worth, rows, by_hand, (len(slots), len(tasks)), gap, seconds)
    chosen = {tasks[i].name: w for n, (i, w) in enumerate(slots) if chosen_slots[n]}
    value = float(sum(t.value_per_week * (weeks.count - chosen[t.name]) for t in tasks if t.name in chosen))
    return Schedule(chosen, value, max(bound, value), tuple(t.name for t in tasks if t.name not in chosen))


Row = tuple[list[tuple[int, float]], float]  # (column, coefficient) …, upper limit


def _programme(tasks: Sequence[Task], weeks: Weeks, slots: Sequence[tuple[int, int]]) -> tuple[np.ndarray, list[Row]]:
    """Columns: task i in week w, one for each slot; then bundle b opened in week w by a craft."""
    shared = {b for b, hours in weeks.bundle_hours.items() if hours > 0}
    opened = sorted({(b, w, tasks[i].craft) for i, w in slots for b in tasks[i].bundles if b in shared})
    column = {key: len(slots) + n for n, key in enumerate(opened)}
    worth = np.zeros(len(slots) + len(opened))
    once: dict[int, list[tuple[int, float]]] = {}
    hours: dict[tuple[int, str], list[tuple[int, float]]] = {}
    rows: list[Row] = []
    for n, (i, w) in enumerate(slots):
        task = tasks[i]
        worth[n] = task.value_per_week * (weeks.count - w)
        once.setdefault(i, []).append((n, 1.0))
        hours.setdefault((w, task.craft), []).append((n, task.hours))
        rows += [([(n, 1.0), (column[b, w, task.craft], -1.0)], 0.0) for b in task.bundles if b in shared]
    for (b, w, craft), n in column.items():
        hours[w, craft].append((n, weeks.bundle_hours[b]))
    rows += [(entries, 1.0) for entries in once.values()]
    rows += [(entries, float(weeks.hours[craft][w])) for (w, craft), entries in hours.items()]
    if np.isfinite(weeks.budget):
        rows.append(([(n, tasks[i].cost) for n, (i, _) in enumerate(slots)], weeks.budget))
    return worth, rows


def _by_hand(tasks: Sequence[Task], weeks: Weeks, slots: Sequence[tuple[int, int]]) -> np.ndarray:
    """Of each slot whether it is taken where one takes what is worth most an hour first, in the first week that has
    room for it: what there is where the time is short."""
    number = {slot: n for n, slot in enumerate(slots)}
    free = {craft: list(hours) for craft, hours in weeks.hours.items()}
    opened: set[tuple[str, int, str]] = set()
    money, taken = weeks.budget, np.zeros(len(slots))
    for i in sorted(range(len(tasks)), key=lambda i: (-tasks[i].value_per_week / max(tasks[i].hours, 1e-6), i)):
        task = tasks[i]
        if task.value_per_week <= 0 or task.cost > money:
            continue
        for w in range(weeks.count):
            set_ups = {(b, w, task.craft) for b in task.bundles if weeks.bundle_hours.get(b, 0.0) > 0} - opened
            needed = task.hours + sum(weeks.bundle_hours[b] for b, _, _ in set_ups)
            if (i, w) in number and needed <= free[task.craft][w]:
                taken[number[i, w]] = 1.0
                free[task.craft][w] -= needed
                money -= task.cost
                opened |= set_ups
                break
    return taken


def _solve(
    worth: np.ndarray, rows: Sequence[Row], by_hand: np.ndarray, counts: tuple[int, int], gap: float, seconds: float
) -> tuple[np.ndarray, float]:
    """Which slots are chosen, and the bound on the value: that of the linear programme, which no plan exceeds. Never
    worse than the plan `by_hand`; `counts` of slots and tasks.

    Slots whose price in the linear programme (their reduced cost) is high are left out at first and let in where the
    plan without them is not near enough to the bound.
    """
    from scipy.optimize import Bounds, LinearConstraint, linprog, milp
    from scipy.sparse import coo_array

    entries = [(r, col, value) for r, (row, _) in enumerate(rows) for col, value in row]
    r, c, v = (np.array(x) for x in zip(*entries, strict=True))
    matrix = coo_array((v, (r.astype(int), c.astype(int))), shape=(len(rows), len(worth))).tocsr()
    limits = np.array([limit for _, limit in rows])
    began = time.monotonic()
    relaxed: Any = linprog(-worth, A_ub=matrix, b_ub=limits, bounds=(0, 1), method="highs")  # type: ignore[call-overload]
    bound, best, (slots, tasks) = -float(relaxed.fun), by_hand, counts
    for share in LET_IN:
        dear = share * bound / tasks
        upper = np.where(relaxed.lower.marginals > dear, 0.0, 1.0)
        lower = np.where((relaxed.x > 1 - 1e-6) & (-relaxed.upper.marginals > dear), 1.0, 0.0)
        left = seconds - (time.monotonic() - began)
        if left <= 0 or worth @ best >= (1 - gap) * bound:
            break
        found = milp(
            -worth,
            integrality=np.ones(len(worth), dtype=np.int64),
            bounds=Bounds(lower, upper),
            constraints=LinearConstraint(matrix, -np.inf, limits),
            options={"mip_rel_gap": 0.6 * gap, "time_limit": left},
        )
        if found.x is not None and -found.fun > worth @ best:
            best = found.x
        if share == math.inf and found.mip_dual_bound is not None:
            bound = min(bound, -float(found.mip_dual_bound))
    return best[:slots] > 0.5, bound


def _may(task: Task, week: int, weeks: Weeks) -> bool:
    return week >= task.first_week and (weeks.shutdown[week] or not task.needs_shutdown)
