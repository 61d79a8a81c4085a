"""Properties of the main job: what must not change a verdict, and what must never be lost."""

from __future__ import annotations

import csv
import json
import shutil
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import numpy as np
import pytest

import earwitness
from earwitness import audio
from earwitness.errors import EarwitnessError
from earwitness.work.output import replacing
from earwitness.work.survey import run_survey

HEAD = '[survey]\ntitle = "t"\nsite = "s"\ndate = 2026-11-20\ninspector = "i"\n'


def verdicts(folder: Path, out: Path) -> dict[str, str | None]:
    found = run_survey(folder, out, reports="none").findings
    return {r["reading"]: r.get("verdict") for r in found["readings"]}


def sheet_of(folder: Path) -> list[dict[str, str]]:
    with (folder / "readings.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def write_sheet(folder: Path, lines: list[dict[str, str]]) -> None:
    with (folder / "readings.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(lines[0]))
        writer.writeheader()
        writer.writerows(lines)


@pytest.fixture
def folder(demo: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo / "survey", tmp_path / "survey"))


@pytest.fixture(scope="session")
def before(demo: Path) -> dict[str, str | None]:
    found = json.loads((demo / "findings.json").read_text("utf-8"))
    return {r["reading"]: r.get("verdict") for r in found["readings"]}


def test_a_notebook_may_name_the_folders_as_text(folder, tmp_path):
    write_sheet(folder, sheet_of(folder)[:1])
    result = earwitness.run_survey(str(folder), str(tmp_path / "out"), reports="none")
    assert json.loads((tmp_path / "out" / "findings.json").read_text("utf-8")) == result.findings


def test_the_order_of_rows_changes_nothing(folder, before, tmp_path):
    lines = [
        line for line in sheet_of(folder)[:-1]
    ]  # without the row that repeats a name: which one is renamed differs
    write_sheet(folder, lines[::-1])
    after = verdicts(folder, tmp_path / "out")
    assert after == {name: v for name, v in before.items() if name != "A-002~2"}


def test_gain_and_silence_change_no_verdict(folder, before, tmp_path):
    for path in (folder / "recordings").glob("*.wav"):
        if path.stem == "A-011":
            continue  # clipped on purpose
        samples = audio.read(path)[:, 0]
        quiet = np.concatenate([np.zeros(9_600, np.float32), 0.5 * samples, np.zeros(24_000, np.float32)])
        audio.write_wav(path, quiet, 48_000, 24)
    after = verdicts(folder, tmp_path / "out")
    assert {n: v for n, v in after.items() if n != "A-002~2"} == {n: v for n, v in before.items() if n != "A-002~2"}


def test_every_row_is_in_the_output_even_one_that_cannot_be_read(folder, tmp_path):
    lines = sheet_of(folder)
    lines[3]["kind"] = "perpetuum mobile"
    write_sheet(folder, lines)
    (folder / "recordings" / "A-003.wav").write_bytes(b"RIFFxxxxWAVEjunk")
    (folder / "recordings" / "E-001.wav").write_bytes(b"")
    found = run_survey(folder, tmp_path / "out", reports="none").findings
    assert len(found["readings"]) == len(lines)
    assert found["readings"][3]["status"] == "unreadable"
    by_name = {r["reading"]: r for r in found["readings"]}
    assert by_name["A-003"]["fitness"]["fit"] is False and by_name["E-001"]["verdict"] == "inconclusive"
    rows = {p["row"] for p in found["problems"]}
    assert {by_name["A-003"]["row"], by_name["E-001"]["row"], 5} <= rows


@pytest.mark.parametrize(("noise", "hum"), [(0.0, 0.0), (1e-5, 0.0), (1e-4, 0.0), (3e-5, 3e-4)])
def test_a_line_left_open_is_never_the_better_channel(folder, tmp_path, noise, hum):
    path = folder / "recordings" / "A-001.wav"
    good = audio.read(path)[:, 0]
    t = np.arange(len(good)) / 48_000
    line = noise * np.random.default_rng(3).standard_normal(len(good)) + hum * np.sin(2 * np.pi * 50 * t)
    line = (line + hum / 3 * np.sin(2 * np.pi * 150 * t)).astype(np.float32)
    audio.write_wav(path, np.column_stack([line, good]), 48_000, 24)
    found = run_survey(folder, tmp_path / "out", reports="none").findings["readings"][0]
    assert found["recording"]["channel_used"] == 2 and found["verdict"] == "leak"


def test_samples_that_are_no_numbers_are_counted_and_said(folder, tmp_path):
    path = folder / "recordings" / "A-001.wav"
    sound = audio.read(path)[:, 0].copy()
    sound[1000:200_000:1000] = np.nan
    sound[500] = np.inf
    audio.write_wav(path, sound, 48_000, "float")
    found = run_survey(folder, tmp_path / "out", reports="none").findings["readings"][0]
    (problem,) = [p for p in found["fitness"]["problems"] if p["code"] == "not-numbers"]
    assert problem["args"]["count"] == 200 and problem["spoils"] == ["rhythm"]


def test_a_recording_that_several_rows_name_decides_none_and_warns_of_the_worst_of_their_gases(folder, tmp_path):
    lines = sheet_of(folder)
    first = lines[0] | {"medium": "air", "place": "indoors"}
    lines = [first] + [
        first | {"reading": name, "point": name, "tag": "", "medium": medium, "level_db": "", "background_db": ""}
        for name, medium in (("X-1", "acetylene"), ("X-2", "oxygen"), ("X-3", "CO2"))
    ]
    write_sheet(folder, lines)
    result = run_survey(folder, tmp_path / "out", reports="html")
    for reading in result.findings["readings"]:
        assert reading["verdict"] == "inconclusive" and "finding" not in reading and reading["urgent"]
        assert {"flammable", "oxygen-level", "toxic"} <= {h["code"] for h in reading["hazards"]}
        assert reading["hazards"][0]["signal_word"] == reading["signal_word"] == "DANGER"
        assert reading["next_step"]["code"] == "duplicate" and "X-" in reading["next_step"]["text"]
    assert "totals" not in result.findings or "volume_flow" not in result.findings["totals"]
    report = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert "Not decided" in report and "Together:" not in report


def test_an_arc_that_two_panels_share_is_warned_of_at_both(folder, before, tmp_path):
    arc = next(line for line in sheet_of(folder) if before[line["reading"]] == "arcing")
    write_sheet(folder, [arc, arc | {"reading": "X-1", "point": "another panel", "tag": ""}])
    for reading in run_survey(folder, tmp_path / "out", reports="none").findings["readings"]:
        assert reading["verdict"] == "inconclusive" and reading["urgent"]
        assert [(h["code"], h["signal_word"]) for h in reading["hazards"]] == [("arcing", "DANGER")]


def test_one_recording_may_be_asked_of_two_kinds_at_its_point(folder, before, tmp_path):
    first = sheet_of(folder)[0]
    write_sheet(folder, [first, first | {"reading": "X-1", "kind": "valve"}])
    one, other = run_survey(folder, tmp_path / "out", reports="none").findings["readings"]
    assert one["verdict"] == before[first["reading"]] and one["fitness"]["fit"] and other["fitness"]["fit"]


def test_a_row_typed_twice_counts_once_and_leaves_the_other_its_verdict(folder, before, tmp_path):
    write_sheet(folder, (lines := sheet_of(folder))[:1] + lines[:1])
    once, copy = run_survey(folder, tmp_path / "out", reports="none").findings["readings"]
    assert once["verdict"] == before[once["reading"]] == "leak" and once["rank"] == 1
    assert copy["verdict"] == "inconclusive" and "rank" not in copy and "row 2" in copy["next_step"]["text"]


def test_channels_that_say_different_things_decide_nothing(folder, before, tmp_path):
    rows = {line["reading"]: f"recordings/{line['recording']}" for line in sheet_of(folder) if line["recording"]}
    quiet = next(name for name, verdict in before.items() if verdict == "no-fault-heard" and name in rows)
    loud = next(name for name, verdict in before.items() if verdict == "outer-race" and name in rows)
    one, other = (audio.read(folder / rows[name])[:, 0] for name in (quiet, loud))
    length = min(len(one), len(other))
    audio.write_wav(folder / rows[loud], np.column_stack([one[:length], other[:length]]), 48_000, 24)
    found = {r["reading"]: r for r in run_survey(folder, tmp_path / "out", reports="none").findings["readings"]}
    assert found[loud]["verdict"] == "inconclusive"
    assert found[loud]["next_step"]["code"] == "channels-disagree"


def test_the_better_channel_is_used_and_said(folder, tmp_path):
    path = folder / "recordings" / "A-001.wav"
    good = audio.read(path)[:, 0]
    audio.write_wav(path, np.column_stack([np.zeros_like(good), good]), 48_000, 16)
    found = run_survey(folder, tmp_path / "out", reports="none").findings["readings"][0]
    assert found["recording"]["channels"] == 2 and found["recording"]["channel_used"] == 2
    assert found["verdict"] == "leak" and any(n["code"] == "channel-chosen" for n in found["notes"])


def test_an_unknown_level_reference_gives_no_flow_and_no_money(folder, tmp_path):
    toml = (folder / "survey.toml").read_text("utf-8")
    (folder / "survey.toml").write_text(toml.replace('level_ref = "dB re 20 uPa"', ""), "utf-8")
    found = run_survey(folder, tmp_path / "out", reports="none").findings["readings"][0]
    assert found["verdict"] == "leak" and "quantities" not in found
    assert any(n["code"] == "level-reference-unknown" for n in found["notes"])


@pytest.mark.parametrize("dropped", [("room_m3",), ("ventilation",), ("room_m3", "ventilation"), ("distance_m",)])
def test_missing_room_data_lowers_no_signal_word(dropped, folder, tmp_path):
    words = ["NOTICE", "CAUTION", "WARNING", "DANGER"]
    lines = sheet_of(folder)
    full = run_survey(folder, tmp_path / "full", reports="none").findings
    for line in lines:
        line.update(dict.fromkeys(dropped, ""))
    write_sheet(folder, lines)
    less = run_survey(folder, tmp_path / "less", reports="none").findings
    for a, b in zip(full["readings"], less["readings"], strict=True):
        if "signal_word" in a:
            assert words.index(b["signal_word"]) >= words.index(a["signal_word"]), a["reading"]


def test_an_output_is_whole_or_the_old_one(tmp_path):
    (tmp_path / "findings.json").write_text("old")
    (tmp_path / "theirs.txt").write_text("kept")
    with pytest.raises(RuntimeError), replacing(tmp_path) as staging:
        (staging / "findings.json").write_text("new")
        raise RuntimeError
    assert (tmp_path / "findings.json").read_text() == "old"
    with replacing(tmp_path) as staging:
        (staging / "findings.json").write_text("new")
    assert (tmp_path / "findings.json").read_text() == "new"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["findings.json", "theirs.txt"]


def test_interrupting_the_command_leaves_the_old_output(demo, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "findings.json").write_text("old")
    command = [sys.executable, "-m", "earwitness", "survey", str(demo / "survey"), "--out", str(out)]
    # what a shell runs in the background ignores the key, and so would its children
    heed = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    process = subprocess.Popen(command, stderr=subprocess.PIPE, preexec_fn=heed)
    time.sleep(1.5)
    while process.poll() is None:  # pressed again where a library swallowed it
        process.send_signal(signal.SIGINT)
        time.sleep(0.5)
    process.communicate(timeout=60)
    assert process.returncode != 0
    assert [p.name for p in out.iterdir()] == ["findings.json"] and (out / "findings.json").read_text() == "old"


def test_nothing_to_read_is_one_plain_line(tmp_path):
    with pytest.raises(EarwitnessError, match=r"survey\.toml"):
        run_survey(tmp_path, tmp_path / "out")
    (tmp_path / "survey.toml").write_text(HEAD)
    with pytest.raises(EarwitnessError, match="no recording"):
        run_survey(tmp_path, tmp_path / "out")
