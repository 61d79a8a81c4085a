"""Processes killed with SIGKILL at random moments, and many that write at once: nothing that was committed is lost,
nothing is half there, and the next start repairs by itself.

24 moments here; benchmarks/kill.py runs 200.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import time
from collections import Counter
from pathlib import Path

from sqlalchemy import select

from earwitness.ledger import schema
from earwitness.ledger.store import MARK
from earwitness.work.file_survey import file_survey
from earwitness.work.reassess import reassess
from tests.ledger.surveys import everything, folder, judged, row

MOMENTS = int(os.environ.get("EARWITNESS_KILLS", "24")) // 2  # on each database
LONGEST_S = 0.5  # after which the process is killed at the latest; a deed takes about a tenth of it
POINTS = 4
DEEDS = {"-1": "import", "-2": "verify", "-3": "reopen"}
FORK = multiprocessing.get_context("fork")  # a fresh interpreter would take seconds to start


def make_folders(tmp_path: Path, number: int) -> list[Path]:
    """Three surveys of one site: leaks, then all quiet, which verifies, then leaks again, which reopens."""
    out = []
    for month, heard in enumerate(("leak", "no-leak-heard", "leak"), 1):
        rows = [row(f"A-{n}", heard, point=f"Point {n}") for n in range(POINTS)]
        path = folder(tmp_path / f"{number}-{month}", rows, site=f"Site {number}", day=f"2026-0{month}-10")
        for n in range(POINTS):
            (path / "recordings" / f"A-{n}.wav").write_bytes(random.Random(f"{number} {month} {n}").randbytes(40_000))
        out.append(path)
    return out


def deeds(place, folders: list[Path], number: int, pipe: int) -> None:
    """Import, verify and reassess, saying before and after each; for a process that will be killed."""
    ledger = place.open()
    os.write(pipe, b"ready\n")
    for path in folders:
        os.write(pipe, f"begin {path.name}\n".encode())
        file_survey(ledger, judged(path))
        os.write(pipe, f"end {path.name}\n".encode())
    for version in range(2, 50):
        os.write(pipe, f"begin version {version}\n".encode())
        reassess(ledger, f"Site {number}", judge=lambda path, seed, v=version: judged(path, version=str(v)))
        os.write(pipe, f"end version {version}\n".encode())


def killed(place, folders: list[Path], number: int, after_s: float) -> list[str]:
    """What the process said before it was killed."""
    read, write = os.pipe()
    process = FORK.Process(target=deeds, args=(place, folders, number, write), daemon=True)
    process.start()
    os.close(write)
    said = os.read(read, 6)
    assert said == b"ready\n"
    time.sleep(after_s)
    os.kill(process.pid, signal.SIGKILL)
    process.join()
    while more := os.read(read, 65_536):
        said += more
    os.close(read)
    return said.decode().splitlines()[1:]


def check(ledger, committed: list[str]) -> None:
    """Everything that was said to be done is there, and nothing is there by half."""
    rows = everything(ledger)
    surveys = {s["id"]: s for s in rows["survey"]}
    sites = {s["id"]: s["name"].removeprefix("Site ") for s in rows["site"]}
    there = {f"{sites[s['site_id']]}-{s['day'].month}" for s in surveys.values()}
    assert set(committed) <= there, "a committed survey is lost"
    readings = Counter(r["survey_id"] for r in rows["reading"])
    assert all(readings[s] == POINTS for s in surveys), "a survey is half there"
    files = Counter(f["survey_id"] for f in rows["survey_file"])
    assert all(files[s] == POINTS + 2 for s in surveys)
    current = Counter(a["reading_id"] for a in rows["assessment"] if a["current"])
    assert all(current[r["id"]] == 1 for r in rows["reading"])
    for finding in rows["finding"]:
        steps = sorted((s for s in rows["finding_step"] if s["finding_id"] == finding["id"]), key=lambda s: s["number"])
        assert [s["number"] for s in steps] == list(range(1, len(steps) + 1))
        assert steps[-1]["state"] == finding["state"]
    check_files(ledger)


def check_files(ledger) -> None:
    with ledger.reading() as c:
        named = set(c.scalars(select(schema.recording.c.sha256)))
    lying = {p.name for p in ledger.store.folder.rglob("*") if p.is_file() and p.name != ".lock"}
    assert lying == named, "a file without a row, a row without a file, or something unfinished"
    for sha256 in named:
        ledger.store.verified(sha256)


def test_killed_at_random_moments(place, tmp_path):
    chance = random.Random(20260110)
    place.open().close()
    committed: list[str] = []
    left_behind = 0
    inside: Counter[str] = Counter()
    for number in range(MOMENTS):
        folders = make_folders(tmp_path, number)
        said = killed(place, folders, number, chance.uniform(0, LONGEST_S))
        begun = [line for line in said if line.startswith("begin")]
        ended = [line.removeprefix("end ") for line in said if line.startswith("end")]
        if len(begun) > len(ended):
            inside[DEEDS.get(begun[-1][-2:], "reassess")] += 1
        left_behind += any(place.recordings.glob(f"{MARK}*"))
        committed += [name for name in ended if not name.startswith("version")]
        ledger = place.open()  # repairs
        check(ledger, committed)
        if number % 4 == 0:  # what was cut off is filed by filing it again
            for path in folders:
                file_survey(ledger, judged(path))
            committed += [path.name for path in folders]
            check(ledger, committed)
        ledger.close()
    print(f"{MOMENTS} moments, of them within {dict(inside)}; {left_behind} left something behind")
    assert inside.total() > MOMENTS / 2 and left_behind > MOMENTS / 6, "the moments did not fall into the work"
    assert MOMENTS < 50 or set(inside) == {*DEEDS.values(), "reassess"}, "not every deed was hit"


def write_many(place, folders: list[Path], failed) -> None:
    try:
        for path in folders:
            ledger = place.open()  # each time anew: this one must not rob another of what it is just storing
            file_survey(ledger, judged(path))
            ledger.close()
    except BaseException as error:
        failed.put(f"{type(error).__name__}: {error}")
        raise


def test_many_processes_write_at_once(place, tmp_path):
    """Two on SQLite, ten on PostgreSQL; all at one site, so that they want the same points and findings."""
    writers, each = (10, 2) if place.is_postgres else (2, 5)
    place.open().close()
    rows = [row(f"A-{n}", "leak", point=f"Point {n}") for n in range(3)]
    folders = [
        [folder(tmp_path / f"{w}-{n}", rows, day=f"2026-{n + 1:02d}-{w + 1:02d}") for n in range(each)]
        for w in range(writers)
    ]
    failed = FORK.Queue()
    processes = [FORK.Process(target=write_many, args=(place, mine, failed), daemon=True) for mine in folders]
    for process in processes:
        process.start()
    for process in processes:
        process.join(120)
    assert failed.empty(), failed.get()
    assert [p.exitcode for p in processes] == [0] * writers
    ledger = place.open()
    found = everything(ledger)
    assert len(found["survey"]) == writers * each and len(found["reading"]) == 3 * writers * each
    assert len(found["point"]) == 3
    check_files(ledger)
    ledger.close()
