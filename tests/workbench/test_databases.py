"""The pages and their deeds on both databases: dropped, judged, shown, decided, typed."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from earwitness.server import House
from earwitness.server.app import make_app
from earwitness.workbench import STATIC, TEMPLATES, all_pages

from ..ledger.conftest import Place, new_place, postgres  # noqa: F401

SHEET = b"reading,point,area,kind,medium,pressure,level_db,background_db,recording,place\nA-1,Press 4,Hall,leak,LPG,7 bar(g),61,40,a.wav,confined\nA-2,Press 5,Hall,leak,air,7 bananas,61,40,,\n"  # noqa: E501
TOML = b'[survey]\ntitle = "Round"\nsite = "Testing ground"\ndate = "2026-11-20"\ninspector = "T"\n'


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Place:
    return new_place(str(request.param), request, tmp_path)


def ended(client: TestClient, job: str) -> dict:
    end = time.monotonic() + 60
    while time.monotonic() < end:
        state = client.get(f"/api/job/{job}").json()
        if state["state"] in ("done", "failed"):
            return state
        time.sleep(0.1)
    raise AssertionError(state)


def test_from_the_first_file_to_the_inspectors_verdict(place: Place, demo: Path):
    ledger = place.open()
    app = make_app(House(ledger), all_pages(), templates=[TEMPLATES], static=STATIC)
    wav = (demo / "survey" / "recordings" / "A-001.wav").read_bytes()
    with TestClient(app, base_url="http://localhost", headers={"Origin": "http://localhost"}) as client:
        upload = client.post("/api/upload", json={}).json()["id"]
        for path, data in (("survey.toml", TOML), ("readings.csv", SHEET), ("recordings/a.wav", wav)):
            assert client.put(f"/api/upload/{upload}/file", params={"path": path}, content=data).status_code == 200
        state = ended(client, client.post(f"/api/upload/{upload}/judge", json={}).json()["job"])
        assert state["state"] == "done", state
        survey = state["came"]["address"]
        shown = client.get("/api" + survey).json()
        assert [(t["row"], t["column"], t["given"]) for t in shown["troubles"]] == [(3, "pressure", "7 bananas")]
        first = shown["lines"][0]
        assert (first["reading"], first["word"], first["urgent"]) == ("A-1", "DANGER", True)
        site = re.match(r"/site/[^/]+", survey)[0]  # type: ignore[index]
        today = client.get(f"/api{site}/today").json()
        assert [a["reading_id"] for a in today["act_now"]] == [first["id"]]
        reading = f"{site}/reading/{first['id']}"
        for page in (survey, f"{site}/today", f"{site}/surveys", reading):
            assert client.get(page).status_code == 200
        said = client.post(f"/api{reading}/decide", json={"verdict": "leak", "why": "heard it hiss"})
        assert said.status_code == 200
        assert client.get("/api" + reading).json()["agreement"] == {"agree": 1, "judged": 1}
        mended = client.post(f"/api{survey}/correct", json={"cells": {"3:pressure": "7 bar(g)"}}).json()
        assert ended(client, mended["what"])["state"] == "done"
        assert client.get("/api" + survey).json()["troubles"] == []
        assert client.get(f"/api{site}/today").json()["act_now"][0]["reading_id"] == first["id"]
    ledger.close()
