"""A server that is killed in the middle (SIGKILL) has lost nothing that it acknowledged, and goes on when it starts."""

from __future__ import annotations

import json
import random
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

SERVER = """
import sys, time
from pathlib import Path
import uvicorn
from earwitness.ledger.database import open_ledger
from earwitness.server import House, Page
from earwitness.server.app import make_app
from earwitness.server.entrance import JUDGE
page = Page("probe", title="Probe")
@page.job(JUDGE)
def judge(house, asked, progress):
    import uuid
    folder = house.uploads.survey_folder(uuid.UUID(asked["upload"]))
    for step in range(20):
        progress(step, 20)
        time.sleep(0.05)
    return {"files": sorted(p.name for p in folder.rglob("*.wav"))}
house = House(open_ledger(sys.argv[1]), port=int(sys.argv[2]))
app = make_app(house, [page], templates=[], static=Path("."))
uvicorn.run(app, port=int(sys.argv[2]), log_level="error")
"""
WAV = b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(200)


class Server:
    def __init__(self, ledger: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.process = subprocess.Popen([sys.executable, "-c", SERVER, str(ledger), str(self.port)])
        for _ in range(600):
            try:
                self.ask("GET", "/api/sign-in")
                return
            except (urllib.error.URLError, ConnectionError):
                time.sleep(0.05)
        raise AssertionError("the server does not start")

    def ask(self, method: str, path: str, data: bytes | None = None) -> dict:
        address = f"http://127.0.0.1:{self.port}"
        request = urllib.request.Request(
            address + path, data, method=method, headers={"Content-Type": "application/json"}
        )
        with urllib.request.urlopen(request, timeout=10) as answer:
            return json.loads(answer.read())

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


def test_uploads_and_jobs_outlive_the_server(tmp_path):
    ledger, rng = tmp_path / "site.ledger", random.Random(6)
    server = Server(ledger)
    upload = server.ask("POST", "/api/upload", b"{}")["id"]
    acknowledged = 0
    for _ in range(3):  # killed while files come up
        end = time.monotonic() + rng.uniform(0.05, 0.4)
        while time.monotonic() < end:
            server.ask("PUT", f"/api/upload/{upload}/file?path=recordings/{acknowledged:03}.wav", WAV)
            acknowledged += 1
        server.kill()
        server = Server(ledger)
        there = server.ask("GET", f"/api/upload/{upload}")["files"]
        assert [f["path"] for f in there] == [f"recordings/{n:03}.wav" for n in range(acknowledged)]
    job = server.ask("POST", f"/api/upload/{upload}/judge", b"{}")["job"]
    for _ in range(2):  # killed while it judges
        time.sleep(rng.uniform(0.1, 0.6))
        server.kill()
        server = Server(ledger)
        assert server.ask("GET", f"/api/job/{job}")["state"] in ("waiting", "running")
    for _ in range(400):
        state = server.ask("GET", f"/api/job/{job}")
        if state["state"] == "done":
            break
        time.sleep(0.05)
    server.kill()
    assert state["state"] == "done"
    assert state["came"]["files"] == [f"{n:03}.wav" for n in range(acknowledged)]


def test_work_that_ends_the_server_each_time_is_given_up(tmp_path):
    from datetime import UTC, datetime

    from sqlalchemy import insert

    from earwitness.ledger.database import open_ledger
    from earwitness.server import House, jobs
    from earwitness.server.tables import job

    house = House(open_ledger(tmp_path / "site.ledger"))
    import uuid

    made, now = uuid.uuid4(), datetime.now(UTC)
    with house.ledger.writing() as connection:
        connection.execute(
            insert(job).values(id=made, kind="x", who="", asked={}, state="running", asked_at=now, beat_at=now,
                               worker=f"{jobs.HOST}:999999999:x", tries=jobs.MOST_TRIES, done=0, of=0)
        )  # fmt: skip
    worker = jobs.Worker(house, {"x": lambda house, asked, progress: {}})
    worker.start()
    for _ in range(100):
        state = jobs.state_of(house.ledger, made)
        if state.ended:
            break
        time.sleep(0.05)
    worker.stop()
    assert state.state == "failed"
    assert state.error is not None
    assert state.error["code"] == "job-ends-server"
