"""The real server is killed (SIGKILL) while the demo's survey comes up, is judged and is filed: what it acknowledged is
there when it starts again, the survey is judged to its end as if nothing had been, and nothing is there twice.

Each moment is told from the outside: by an answer, by how far the job says it is, by the mark that filing leaves in
the store of recordings. benchmarks/kill.py goes through many more moments.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections import Counter
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from earwitness.ledger import open_ledger
from earwitness.ledger.store import MARK
from tests.ledger.surveys import everything
from tests.ledger.test_killed import check_files

PATIENCE_S = 240
MOMENTS = int(os.environ.get("EARWITNESS_SERVER_KILLS", "3"))  # of filing alone


class Server:
    """`earwitness serve` on a free port, in a session of its own."""

    def __init__(self, ledger: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.store = ledger.with_suffix(".recordings")
        command = [sys.executable, "-m", "earwitness", "serve", "--ledger", str(ledger), "--port", str(self.port)]
        self.process = subprocess.Popen([*command, "--jobs", "2"], stdout=subprocess.DEVNULL, start_new_session=True)
        self.until(self._answers, "the server does not start")

    def _answers(self) -> bool:
        try:
            self.ask("GET", "/api/sign-in")
        except (urllib.error.URLError, ConnectionError):
            return False
        return True

    def ask(self, method: str, path: str, data: bytes | None = None) -> dict[str, Any]:
        kind = {"Content-Type": "application/json"} if method == "POST" else {}
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data, method=method, headers=kind)
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.loads(answer.read())

    def kill(self) -> None:
        """The server alone, as the system does that runs out of memory; what it had started must end by itself."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.until(lambda: not _in_session(self.process.pid), "a process of the killed server lives on")

    def until(self, true: Callable[[], Any], otherwise: str, step_s: float = 0.05) -> Any:
        end = time.monotonic() + PATIENCE_S
        while not (found := true()):
            assert time.monotonic() < end, otherwise
            time.sleep(step_s)
        return found

    def runs(self, job: str) -> bool:
        return self.ask("GET", f"/api/job/{job}")["state"] == "running"

    def ended(self, job: str) -> dict[str, Any]:
        def state() -> dict[str, Any] | None:
            found = self.ask("GET", f"/api/job/{job}")
            return found if found["state"] in ("done", "failed") else None

        return self.until(state, "the job does not end")


def _in_session(session: int) -> list[int]:
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            after_name = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(after_name[3]) == session and after_name[0] != "Z":
            found.append(int(stat.parent.name))
    return found


@pytest.fixture
def start() -> Iterator[Callable[[Path], Server]]:
    started: list[Server] = []

    def make(ledger: Path) -> Server:
        started.append(Server(ledger))
        return started[-1]

    yield make
    for server in started:
        if server.process.poll() is None:
            server.kill()


def files_of(survey: Path) -> dict[str, bytes]:
    return {p.relative_to(survey).as_posix(): p.read_bytes() for p in sorted(survey.rglob("*")) if p.is_file()}


def put(server: Server, upload: str, name: str, data: bytes) -> None:
    server.ask("PUT", f"/api/upload/{upload}/file?path={quote(name)}", data)


def brought_up(server: Server, survey: Path) -> str:
    upload = server.ask("POST", "/api/upload", b"{}")["id"]
    for name, data in files_of(survey).items():
        put(server, upload, name, data)
    return upload


def judge(server: Server, upload: str) -> str:
    return server.ask("POST", f"/api/upload/{upload}/judge", b"{}")["job"]


def check_filed(ledger: Path, demo: Path) -> None:
    """The ledger says what the command said of the same folder, once each, with every file it had."""
    told = {r["reading"]: r for r in json.loads((demo / "findings.json").read_text("utf-8"))["readings"]}
    opened = open_ledger(ledger)
    try:
        rows = everything(opened)
        check_files(opened)
    finally:
        opened.close()
    assert len(rows["site"]) == len(rows["survey"]) == 1
    readings = {r["id"]: r["name"] for r in rows["reading"]}
    assert len(readings) == len(set(readings.values())) == len({r["row"] for r in rows["reading"]})
    current = [a for a in rows["assessment"] if a["current"]]
    assert len(current) == len(rows["assessment"]), "judged twice"
    assert max(Counter(a["reading_id"] for a in current).values()) == 1
    for judged in current:
        said = told[readings[judged["reading_id"]]]
        assert judged["verdict"] == said.get("verdict")
        assert judged["result"].get("probability") == said.get("probability")
    repeats = {n for n, r in told.items() if any(p["code"] == "duplicate-row" for p in r.get("problems", ()))}
    assert {readings[a["reading_id"]] for a in current} == set(told) - repeats
    assert not [f for f in Counter((f["point_id"], f["kind"]) for f in rows["finding"]).values() if f > 1]
    named = {f["sha256"] for f in rows["survey_file"]}
    assert named == {hashlib.sha256(data).hexdigest() for data in files_of(demo / "survey").values()}


def test_killed_while_files_come_up(tmp_path, demo, start):
    """What was acknowledged is there with its hash; the rest is sent again, and the whole is judged."""
    chance, ledger = random.Random(6), tmp_path / "site.ledger"
    server, files = start(ledger), files_of(demo / "survey")
    upload = server.ask("POST", "/api/upload", b"{}")["id"]
    there: set[str] = set()
    cut_off, sent_first = 0, len(files) // 8  # so that four kills leave some to send, however fast the machine is
    while len(there) < len(files):
        killer = threading.Timer(chance.uniform(0.0, 0.02), server.process.send_signal, [signal.SIGKILL])
        acknowledged = set(there)
        for name, data in files.items():
            if name not in there:
                try:
                    put(server, upload, name, data)
                except (urllib.error.URLError, ConnectionError, OSError):
                    break
                acknowledged.add(name)
                if cut_off < 4 and len(acknowledged) == len(there) + sent_first:
                    killer.start()
        if cut_off < 4:
            killer.join()
            cut_off += 1
            server.kill()
            server = start(ledger)
        lies = server.ask("GET", f"/api/upload/{upload}")["files"]
        there = {f["path"] for f in lies}
        assert acknowledged <= there
        assert len(lies) == len(there)
        assert all(f["sha256"] == hashlib.sha256(files[f["path"]]).hexdigest() for f in lies)
    assert cut_off == 4, "the moments did not fall into the upload"
    assert server.ended(judge(server, upload))["state"] == "done"
    server.kill()
    check_filed(ledger, demo)


def test_killed_while_it_judges(tmp_path, demo, start):
    """At once, and in the middle; then it goes on to the end."""
    ledger = tmp_path / "site.ledger"
    server = start(ledger)
    job = judge(server, brought_up(server, demo / "survey"))
    server.kill()
    server = start(ledger)
    seen = server.until(lambda: (s := server.ask("GET", f"/api/job/{job}"))["done"] >= 5 and s, "nothing is judged")
    assert seen["state"] == "running" and seen["done"] < seen["of"]
    server.kill()
    server = start(ledger)
    done = server.ended(job)
    assert done["state"] == "done" and done["came"]["readings"]["new"] > 20
    assert server.ask("GET", f"/api{done['came']['address']}")["counts"]["readings"] == done["came"]["readings"]["new"]
    server.kill()
    check_filed(ledger, demo)


@pytest.mark.parametrize("moment", range(MOMENTS))
def test_killed_while_it_files(tmp_path, demo, start, moment):
    """Filing leaves a mark in the store while files are kept and rows are written; killed between it and the end."""
    chance, ledger = random.Random(moment), tmp_path / "site.ledger"
    server = start(ledger)
    job = judge(server, brought_up(server, demo / "survey"))
    server.until(lambda: any(server.store.glob(f"{MARK}*")), "nothing is filed", 0.001)
    time.sleep(chance.uniform(0, 0.15) if moment else 0.0)
    server.kill()
    left = any(server.store.glob(f"{MARK}*"))
    server = start(ledger)
    done = server.ended(job)
    assert done["state"] == "done"
    server.kill()
    check_filed(ledger, demo)
    print(f"moment {moment}: the mark was {'still' if left else 'no longer'} there")
    assert left or moment, "the moment did not fall into filing"


def test_work_given_up_is_begun_again_when_somebody_asks(tmp_path, demo, start):
    """Three times cut off: it is not begun a fourth time by itself, but nothing is thrown away."""
    ledger = tmp_path / "site.ledger"
    server = start(ledger)
    upload = brought_up(server, demo / "survey")
    job = judge(server, upload)
    for _ in range(3):
        server.until(partial(server.runs, job), "the job does not run")
        server.kill()
        server = start(ledger)
    given_up = server.ended(job)
    assert given_up["state"] == "failed" and given_up["error"]["code"] == "job-ends-server"
    again = judge(server, upload)
    assert again != job
    assert server.ended(again)["state"] == "done"
    server.kill()
    check_filed(ledger, demo)
