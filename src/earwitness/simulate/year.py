"""The invented site's year: two rounds before the one of `site`, and a second inspector's walk of the filling hall.

What changes: a leak that is mended and stays so, one that is mended and comes back, one that nobody gets to, one that
the fitter does not find; a bearing that is sound, then dry, then damaged; one that is greased and runs dry again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from earwitness.simulate import scenes
from earwitness.simulate.site import HALL, SURVEY_TOML, Progress, Row, bearing, leak, write_folder

AUTUMN, SPRING = "2025-11-21", "2026-05-22"
QUIET = {"kind": "leak", "medium": "air", "distance_m": "0.5", "attachment": "none", "sensor": "airborne"}


@dataclass(frozen=True)
class Round:
    """One survey of the year: the name of its folder, what stands in its survey.toml, and its rows."""

    name: str
    title: str
    day: str
    inspector: str
    rows: tuple[Row, ...]
    calibrated: bool = True

    @property
    def survey_toml(self) -> str:
        return (
            SURVEY_TOML.replace('title = "Autumn round"', f'title = "{self.title}"')
            .replace("date = 2026-11-20", f"date = {self.day}")
            .replace('inspector = "Demo inspector"', f'inspector = "{self.inspector}"')
            .replace('last_check = "2026-11-20,', f'last_check = "{self.day},')
        )


def rounds() -> tuple[Round, ...]:
    """In order of time; the round of `site` comes after them."""
    return (
        Round("1-autumn", "First round", AUTUMN, "Demo inspector", tuple(_autumn())),
        Round("2-spring", "Spring round", SPRING, "Demo inspector", tuple(_spring())),
        Round("2-spring-second-walk", "Spring round, second walk", SPRING, "Second inspector", tuple(_second_walk()),
              calibrated=False),
    )  # fmt: skip


def quiet(name: str, point: str, level: int = 36, *, area: str = HALL, **cells: str) -> Row:
    """A place where nothing leaks."""
    about = {"reading": name, "point": point, "area": area, "pressure": "7 bar(g)", "level_db": str(level)}
    return Row({**about, "background_db": "36", **QUIET, **cells}, scenes.ambient(), truth="no-leak-heard")


def _unit(name: str, line: int, hole_mm: float, **cells: str) -> Row:
    return leak(name, hole_mm, 0.5, 35, point=f"Line {line} service unit", component="quick coupling",
                craft="fitter", repair_hours="0.5", area=HALL, **cells)  # type: ignore[arg-type]  # fmt: skip


def _ring_main(name: str) -> Row:
    return leak(name, 1.0, 1.5, 33, point="Ring main, column C4", component="flange", tag="T-104", access="lift",
                craft="fitter", repair_hours="2", isolation="ring main north", location="flange above the cable tray",
                area=HALL)  # fmt: skip


def _autumn() -> list[Row]:
    return [
        _unit("F-001", 1, 0.7, tag="T-101", location="left of the guard door, lower coupling"),
        quiet("F-002", "Line 1 capper", tag="T-102", component="hose"),
        _unit("F-003", 3, 1.0, location="drain side"),
        _unit("F-004", 4, 0.6, tag="T-108"),
        _ring_main("F-005"),
        *(bearing(f"F-01{n}", "Exhauster 2, drive end", "no-fault-heard", level, "23", tag="T-301")
          for n, level in enumerate(("23", "24", "23"), 1)),
        bearing("F-014", "Exhauster 1, drive end", "no-fault-heard", "23", "23"),
        bearing("F-015", "Conveyor 5, tail pulley", "no-fault-heard", "22", "22", tag="T-303", bore_mm="25"),
        bearing("F-016", "Sifter 2, eccentric", "no-fault-heard", "24", "24"),
        bearing("F-017", "Roller mill 3, feed side", "no-fault-heard", "24", "24", tag="T-302"),
    ]  # fmt: skip


def _spring() -> list[Row]:
    return [
        quiet("G-001", "Line 1 service unit", tag="T-101", component="quick coupling",
              location="left of the guard door, lower coupling"),
        quiet("G-002", "Line 1 capper", tag="T-102", component="hose"),
        quiet("G-003", "Line 3 service unit", component="quick coupling", location="drain side"),
        leak("G-004", 0.5, 0.4, 35, point="Line 2 valve island", component="push-in fitting", tag="T-103",
             craft="fitter", repair_hours="0.5", location="fourth outlet from the top", area=HALL),
        _ring_main("G-005"),
        leak("G-006", 0.8, 0.5, 35, point="Line 3 capper", component="hose", craft="fitter", repair_hours="1",
             parts="hose 8 mm", repair_cost="35 EUR", area=HALL),
        *(bearing(f"G-01{n}", "Exhauster 2, drive end", "friction", level, "23", tag="T-301", craft="greaser",
                  repair_hours="0.5") for n, level in enumerate(("31", "32", "31"), 1)),
        bearing("G-014", "Exhauster 1, drive end", "no-fault-heard", "24", "23"),
        bearing("G-015", "Conveyor 5, tail pulley", "friction", "33", "22", tag="T-303", craft="greaser",
                repair_hours="0.5", bore_mm="25"),
        bearing("G-016", "Sifter 2, eccentric", "no-fault-heard", "24", "24"),
    ]  # fmt: skip


def _second_walk() -> list[Row]:
    """The same hall on the same day; the second inspector misses one leak and hears one that the first did not."""
    return [
        quiet("H-001", "Line 1 service unit", tag="T-101"),
        leak("H-002", 0.5, 0.4, 35, point="Line 2 valve island", component="push-in fitting", tag="T-103",
             location="fourth outlet from the top", area=HALL),
        _ring_main("H-003"),
        leak("H-004", 0.6, 0.5, 35, point="Labeller, vacuum ejector supply", component="fitting", craft="fitter",
             repair_hours="0.5", area=HALL),
    ]  # fmt: skip


def calibration_csv(seed: int) -> str:
    """Leaks of known size that the inspector listened to: drilled plugs at working pressure."""
    rng = np.random.default_rng([seed, 77])
    lines = ["level_db,distance_m,pressure,opening_mm"]
    for hole in (0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5):
        for distance in (0.4, 0.8):
            level = scenes.leak_level_db(hole / 1000, 801_000.0, distance, 20.0) + float(rng.normal(0.0, 1.0))
            lines.append(f"{level:.0f},{distance:g},7 bar(g),{hole:g}")
    return "\n".join(lines) + "\n"


def write_round(this: Round, folder: Path, *, seed: int = 0, jobs: int = 1, progress: Progress | None = None) -> None:
    """The survey folder of one round: the same bytes for the same seed."""
    number = [r.name for r in rounds()].index(this.name)
    write_folder(folder, this.survey_toml, this.rows, (seed, 1000 * (number + 1)), jobs, progress)
    if this.calibrated:
        (folder / "calibration.csv").write_text(calibration_csv(seed), encoding="utf-8")


def load_unload_times(leakage_m3_min: float, capacity_m3_min: float, off_min: float = 12.0) -> tuple[str, str]:
    """What a watch shows at night, of a system that leaks so much: times on and off load."""
    part = leakage_m3_min / capacity_m3_min
    on = off_min * part / (1 - part)
    return f"{math.floor(on * 60)} s", f"{off_min:g} min"
