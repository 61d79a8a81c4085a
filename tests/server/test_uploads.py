"""What comes in is taken by its content, within its folder, within its size; and what was acknowledged is there."""

from __future__ import annotations

import asyncio
import io
import os
import struct
import time
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from earwitness.server import House, archive, content, uploads
from earwitness.server.refusal import Refusal

FORMAT = struct.pack("<IHHIIHH", 16, 1, 1, 8000, 16000, 2, 16)
WAV = b"RIFF" + struct.pack("<I", 44) + b"WAVEfmt " + FORMAT + b"data" + struct.pack("<I", 8) + bytes(8)
PNG = b"\x89PNG\r\n\x1a\n" + bytes(64)
SHEET = b"reading,point,kind\nA-1,Pump,leak\n"


@pytest.fixture
def client(ledger, client_of):
    return client_of(House(ledger))


def begin(client) -> str:
    return client.post("/api/upload", json={}).json()["id"]


def put(client, upload: str, path: str, data: bytes):
    return client.put(f"/api/upload/{upload}/file", params={"path": path}, content=data,
                      headers={"Origin": "http://localhost"})  # fmt: skip


def zipped(files: dict[str, bytes], **how) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in files.items():
            packed.writestr(name, data)
    return out.getvalue()


def lies(tmp_path: Path) -> list[str]:
    return sorted(p.relative_to(tmp_path).as_posix() for p in (tmp_path / "site.uploads").rglob("*") if p.is_file())


def test_files_come_up_and_are_judged(client, tmp_path):
    upload = begin(client)
    for path, data, kind in (
        ("survey.toml", b"[survey]\n", "text"), ("readings.csv", SHEET, "text"),
        ("recordings/a.wav", WAV, "sound"), ("photos/p.png", PNG, "picture"),
    ):  # fmt: skip
        told = put(client, upload, path, data)
        assert told.status_code == 200, told.text
        assert {"path": path, "kind": kind, "size": len(data)}.items() <= next(
            f for f in told.json()["files"] if f["path"] == path
        ).items()
    job = client.post(f"/api/upload/{upload}/judge", json={}).json()["job"]
    assert client.post(f"/api/upload/{upload}/judge", json={}).json()["job"] == job  # twice is once
    state = ended(client, job)
    assert state["came"]["files"] == ["photos/p.png", "readings.csv", "recordings/a.wav", "survey.toml"]
    assert put(client, upload, "late.csv", SHEET).status_code == 409


def ended(client, job: str) -> dict:
    for _ in range(200):
        state = client.get(f"/api/job/{job}").json()
        if state["state"] in ("done", "failed"):
            return state
        time.sleep(0.05)
    raise AssertionError(state)


@pytest.mark.parametrize(
    "path",
    ["../evil.csv", "/etc/passwd", "recordings/../../evil.wav", "C:\\evil.wav", "..\\evil.wav", "a\x00.wav",
     "a/./b.wav", "", "~/x", "recordings//a.wav", "a\nb.csv", "con:stream", "x" * 300, "a/b/c/d/e/f/g.wav",
     "\u202egnp.exe", " a.wav", "a.wav.", "recordings/"],
)  # fmt: skip
def test_no_path_leads_out(client, tmp_path, path):
    answer = put(client, begin(client), path, WAV)
    assert answer.status_code == 422
    assert answer.json()["error"]["code"] == "path-refused"
    assert lies(tmp_path) == []


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("recordings/a.wav", b"MZ\x90\x00" + bytes(200)),
        ("recordings/a.wav", b"\x7fELF" + bytes(200)),
        ("photos/p.png", b"<html><script>alert(1)</script>"),
        ("photos/p.svg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>"),
        ("readings.csv", b"#!/bin/sh\nrm -rf /\n"),
        ("readings.csv", b"%PDF-1.7 ..."),
        ("readings.csv", bytes(range(256))),
        ("survey.toml", b"  <!DOCTYPE html><body>"),
    ],
)
def test_content_decides_and_not_the_name(client, tmp_path, name, data):
    answer = put(client, begin(client), name, data)
    assert answer.status_code == 415
    assert answer.json()["error"]["code"] == "content-not-taken"
    assert lies(tmp_path) == []


def test_a_recording_under_any_name_is_a_recording(client):
    told = put(client, begin(client), "readings.csv", WAV).json()
    assert told["files"][0]["kind"] == "sound"


def test_a_zip_is_unpacked_without_its_outer_folder(client, tmp_path):
    upload = begin(client)
    told = put(client, upload, "round.zip", zipped({"round/readings.csv": SHEET, "round/recordings/a.wav": WAV,
                                                    "__MACOSX/._x": b"x", "round/.DS_Store": b"x"}))  # fmt: skip
    assert [f["path"] for f in told.json()["files"]] == ["readings.csv", "recordings/a.wav"]


OFFICE = zipped({"[Content_Types].xml": b"<Types/>", "word/document.xml": b"<w:document/>"})


def test_what_a_zip_holds_besides_is_left_out_and_named(client, tmp_path):
    """A folder of a real round holds a PDF, a letter, an older zip, an empty file: none keeps the recordings out."""
    besides = {"manual.pdf": b"%PDF-1.7 ...", "letter.docx": OFFICE, "old.zip": zipped({"x.csv": SHEET})}
    told = put(client, begin(client), "round.zip",
               zipped({"readings.csv": SHEET, **besides, "recordings/a.wav": WAV, "recordings/empty.wav": b"",
                       "x.tmp": b""}))  # fmt: skip
    assert told.status_code == 200, told.text
    assert [f["path"] for f in told.json()["files"]] == [
        "readings.csv", "recordings/a.wav", "recordings/empty.wav", "x.tmp"
    ]  # fmt: skip
    left = {f["path"]: f["why"] for f in told.json()["not_taken"]}
    assert set(left) == set(besides) and all(name in why for name, why in left.items())
    assert not [p for p in lies(tmp_path) if p.endswith((".pdf", ".docx", ".zip"))]


def test_a_zip_with_nothing_to_take_is_refused_with_the_reason(client, tmp_path):
    answer = put(client, begin(client), "z.zip", zipped({"manual.pdf": b"%PDF-1.7 ..."}))
    assert (answer.status_code, answer.json()["error"]["code"]) == (415, "content-not-taken")
    assert "manual.pdf" in answer.json()["error"]["text"] and lies(tmp_path) == []


def test_a_zip_that_unpacks_to_far_more_is_stopped(client, tmp_path, monkeypatch):
    bomb = zipped({"readings.csv": b"a," * 20_000_000})
    assert len(bomb) < 100_000
    answer = put(client, begin(client), "bomb.zip", bomb)
    assert (answer.status_code, answer.json()["error"]["code"]) == (413, "zip-bomb")
    monkeypatch.setattr(archive.Counted.__init__, "__defaults__", (3_000_000,))
    slow = zipped({f"recordings/{n}.wav": WAV + os.urandom(1_000_000) for n in range(5)})
    answer = put(client, begin(client), "big.zip", slow)
    assert (answer.status_code, answer.json()["error"]["code"]) == (413, "zip-bomb")
    assert not [p for p in lies(tmp_path) if uploads.PART in p]


def test_a_zip_whose_directory_lies_about_sizes_is_stopped(client, tmp_path):
    bomb = bytearray(zipped({"readings.csv": b"a," * 20_000_000}))
    at = bomb.rfind(b"PK\x01\x02")
    bomb[at + 24 : at + 28] = struct.pack("<I", 10)  # "unpacks to ten bytes"
    answer = put(client, begin(client), "bomb.zip", bytes(bomb))
    assert answer.status_code in (413, 422)
    assert lies(tmp_path) == []


@pytest.mark.parametrize("name", ["../../evil.csv", "/evil.csv", "a/../../../evil.csv", "C:/evil.csv", "..\\evil.csv"])
def test_no_path_in_a_zip_leads_out(client, tmp_path, name):
    answer = put(client, begin(client), "z.zip", zipped({"readings.csv": SHEET, name: SHEET}))
    assert answer.status_code == 422
    assert lies(tmp_path) == []
    assert not list(tmp_path.glob("**/evil.csv"))


def test_links_locks_and_doubles_in_a_zip_are_refused(client):
    link = zipfile.ZipInfo("recordings/a.wav")
    link.external_attr = 0o120777 << 16
    linked, locked = io.BytesIO(), bytearray(zipped({"readings.csv": SHEET}))
    with zipfile.ZipFile(linked, "w") as packed:
        packed.writestr(link, "/etc/passwd")
    locked[locked.find(b"PK\x03\x04") + 6] |= 1
    locked[locked.find(b"PK\x01\x02") + 8] |= 1
    for data, code in (
        (linked.getvalue(), "zip-link"),
        (bytes(locked), "zip-locked"),
        (zipped({"Readings.csv": SHEET, "readings.csv": SHEET}), "zip-names-twice"),
        (b"PK\x03\x04" + bytes(500), "zip-damaged"),
    ):
        assert put(client, begin(client), "z.zip", data).json()["error"]["code"] == code


def test_too_much_is_not_taken(client, monkeypatch, tmp_path):
    upload = begin(client)
    monkeypatch.setattr(uploads, "MOST_FILE", 1000)
    assert put(client, upload, "recordings/a.wav", WAV + bytes(2000)).status_code == 413
    monkeypatch.setattr(archive, "MOST_ENTRIES", 3)
    many = zipped({f"{n}.csv": SHEET for n in range(5)})
    assert put(client, upload, "z.zip", many).json()["error"]["code"] == "zip-too-many"
    answer = client.post("/api/you", content=b'{"name": "' + b"a" * 1_100_000 + b'"}',
                         headers={"Content-Type": "application/json"})  # fmt: skip
    assert answer.status_code == 413
    assert lies(tmp_path) == []


def test_a_file_that_came_in_part_is_not_there(ledger, tmp_path):
    house = House(ledger)
    upload = house.uploads.begin("somebody")

    async def broken():
        yield WAV[:20]

    with pytest.raises(Refusal, match="only in part"):
        put_there = house.uploads.put(upload.id, "somebody", "recordings/a.wav", broken(), str(len(WAV)))
        with ThreadPoolExecutor(1) as pool:  # a loop of its own, whatever runs in this thread
            pool.submit(asyncio.run, put_there).result()
    assert lies(tmp_path) == []


def test_nobody_sees_the_uploads_of_another(ledger):
    house = House(ledger)
    upload = house.uploads.begin("one")
    with pytest.raises(Refusal):
        house.uploads.state(upload.id, "another")


def test_what_a_killed_server_left_half_is_cleaned_and_what_it_acknowledged_stays(ledger, tmp_path, client_of):
    client = client_of(House(ledger))
    upload = begin(client)
    put(client, upload, "recordings/a.wav", WAV)
    (tmp_path / "site.uploads" / upload / f"{uploads.PART}x").write_bytes(b"half")
    (tmp_path / "site.uploads" / "not-in-the-table").mkdir()
    assert House(ledger).uploads.clean() == 2
    assert lies(tmp_path) == [f"site.uploads/{upload}/survey/recordings/a.wav"]


def test_names_are_kept_as_they_were_sent():
    assert content.safe_path("recordings/Ofen ü 3.wav") == "recordings/Ofen ü 3.wav"
    assert content.safe_path("recordings\\a.wav") == "recordings/a.wav"
