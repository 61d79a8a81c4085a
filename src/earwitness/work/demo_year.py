"""The invented site's year in a ledger: three rounds and a second walk, with all that happens between them."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

from earwitness.intake import read_survey
from earwitness.ledger import Ledger, open_ledger
from earwitness.plant.site import SensitivityCheck
from earwitness.simulate.year import Round, load_unload_times, rounds, write_round
from earwitness.work import answers, findings, greasing, sensor_checks, system_history, system_test
from earwitness.work.file_survey import file_survey
from earwitness.work.survey import SurveyResult, judge_survey

LEDGER = "ledger.db"
CAPACITY = 11.5  # m3/min, of screw 1
FITTER, PLANNER, INSPECTOR = "Demo fitter", "Demo planner", "Demo inspector"
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Year:
    ledger: Path
    rounds: tuple[Path, ...]


def demo_year(out: Path, last: SurveyResult, *, jobs: int = 1, seed: int = 0, progress: Progress | None = None) -> Year:
    """Write the earlier rounds below `out`, judge them, file them and `last`, the round that was just judged."""
    home = out / "year"
    shutil.rmtree(home, ignore_errors=True)
    folders = []
    ledger = open_ledger(home / LEDGER)
    try:
        for this in rounds():
            folder = home / this.name
            write_round(this, folder, seed=seed, jobs=jobs)
            judged = judge_survey(read_survey(folder), jobs=jobs, seed=seed, exhibits=False, progress=progress)
            file_survey(ledger, judged, now=_at(this.day, 17))
            folders.append(folder)
            _after(ledger, this)
        file_survey(ledger, last, now=_at("2026-11-20", 17))
        _after_the_last(ledger)
    finally:
        ledger.close()
    return Year(home / LEDGER, tuple(folders))


def _after(ledger: Ledger, this: Round) -> None:
    if this.name == "1-autumn":
        _check(ledger, this.day, 52)
        _system_test(ledger, "2025-11-22", 1.15)
        _mended(ledger, "T-101", "2025-12-02", "worn seal in the coupling", 60, 36)
        _mended(ledger, "F-003", "2025-12-03", "cracked bowl of the drain", 63, 36)
        answers.answer(ledger, None, "T-108", who=FITTER, at=_at("2025-12-03", 11), found=False,
                       what="line was at rest")  # fmt: skip
        _step(ledger, "F-005", "scheduled", "2025-12-10", PLANNER, "with the lift, at the next shutdown")
    if this.name == "2-spring":
        _check(ledger, this.day, 51)
        _system_test(ledger, "2026-05-23", 0.85)
        greasing.record(
            ledger, None, "T-303", who=FITTER, at=_at("2026-05-26", 9), grams=3.0, before_db=33,
            levels_db=[32.0, 28.0, 24.0, 23.0], after_db=23,
        )  # fmt: skip
        answers.answer(ledger, None, "T-303", who=FITTER, at=_at("2026-05-26", 10), found=True, what="ran dry",
                       fixed=True, before_db=33, after_db=23)  # fmt: skip
        _mended(ledger, "G-006", "2026-06-03", "hose chafed on the guard", 62, 36)


def _after_the_last(ledger: Ledger) -> None:
    _check(ledger, "2026-11-20", 51)
    _system_test(ledger, "2026-11-21", 1.05)
    answers.tell(ledger, None, "A-008", who="shift lead", by=INSPECTOR, at=_at("2026-11-20", 9), words="LPG escapes")
    answers.tell(ledger, None, "E-004", who="authorised electrician", by=INSPECTOR, at=_at("2026-11-20", 11),
                 words="arcing in section B")  # fmt: skip


def _mended(ledger: Ledger, tag: str, day: str, what: str, before_db: float, after_db: float) -> None:
    answers.answer(ledger, None, tag, who=FITTER, at=_at(day, 10), found=True, what=what, fixed=True,
                   before_db=before_db, after_db=after_db)  # fmt: skip


def _step(ledger: Ledger, reading: str, state: str, day: str, who: str, why: str) -> None:
    from earwitness.ledger import sites

    with ledger.reading() as connection:
        finding = answers.answered_finding(connection, sites.site_of(connection, None).id, reading)
    findings.step_finding(ledger, finding.id, state, who=who, why=why, at=_at(day, 14))


def _check(ledger: Ledger, day: str, level_db: float) -> None:
    sensor_checks.record_check(ledger, None, None, SensitivityCheck(date.fromisoformat(day), level_db, 52.0))


def _system_test(ledger: Ledger, day: str, leakage_m3_min: float) -> None:
    on, off = load_unload_times(leakage_m3_min, CAPACITY)
    given = {"on": [on], "off": [off], "capacity": f"{CAPACITY} m3/min"}
    found = system_test.load_unload([on], [off], given["capacity"])  # type: ignore[arg-type]
    system_history.file_system_test(ledger, None, found, given, date.fromisoformat(day))


def _at(day: str, hour: int) -> datetime:
    return datetime.fromisoformat(f"{day}T{hour:02d}:00:00").replace(tzinfo=UTC)
