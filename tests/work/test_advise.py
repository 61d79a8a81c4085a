"""The next step never contradicts the danger that stands above it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from earwitness.hearing.evidence import Judgement
from earwitness.plant.reading import Reading
from earwitness.plant.survey import Survey
from earwitness.work.advise import next_step
from earwitness.work.diagnose import judge
from earwitness.work.size import gas_of
from earwitness.work.survey import run_survey

TOML = '[survey]\ntitle = "t"\nsite = "s"\ndate = 2026-11-20\ninspector = "i"\n'
HEAD = "reading,kind,point,medium,pressure,level_db,background_db,cause,fixed_now\n"


def judged(folder: Path, row: str) -> dict:
    (folder / "survey.toml").write_text(TOML)
    (folder / "readings.csv").write_text(HEAD + row + "\n")
    return run_survey(folder, folder / "out", reports="none").findings["readings"][0]


@pytest.mark.parametrize("cause", ["", "deliberate"])
@pytest.mark.parametrize("name", ["steam", "Steam"])
def test_steam_to_the_open_is_kept_clear_of(name, cause, tmp_path):
    found = judged(tmp_path, f"L,leak,P,{name},12 bar(g),60,40,{cause},")
    assert found["hazards"][0]["signal_word"] == "DANGER"
    assert found["next_step"]["code"] == "next-steam-leak"
    assert "steam" in [c["code"] for c in found["cautions"]]


def test_a_gas_leak_that_was_mended_on_the_spot_is_proven_with_a_detector(tmp_path):
    found = judged(tmp_path, "L,leak,P,natural gas,2 bar(g),60,40,,yes")
    assert found["next_step"]["code"] == "next-prove-with-detector" and "gas detector" in found["next_step"]["text"]
    assert judged(tmp_path, "L,leak,P,air,7 bar(g),60,40,,yes")["next_step"]["code"] == "next-prove"


def test_no_leak_heard_clears_no_gas_that_burns():
    quiet = Judgement("no-leak-heard", 0.9, {}, (), "leak", "1")
    said = next_step(Reading("L", 2, "leak", medium="natural gas"), quiet)
    assert said.code == "next-clears-nothing" and "gas detector" in said.text
    assert next_step(Reading("L", 2, "leak", medium="air"), quiet).code == "next-no-leak-heard"


def test_what_is_planned_is_not_told_now(tmp_path):
    """Carbon dioxide outdoors stands in the list: its step tells the responsible person, its word says when."""
    (tmp_path / "survey.toml").write_text(TOML)
    head = "reading,kind,point,medium,pressure,level_db,background_db,place,location\n"
    rows = "A,leak,P,CO2,2 bar(g),60,40,outdoors,behind the tank\nB,leak,Q,CO2,2 bar(g),60,40,indoors,\n"
    (tmp_path / "readings.csv").write_text(head + rows)
    outdoors, indoors = run_survey(tmp_path, tmp_path / "out", reports="none").findings["readings"]
    assert not outdoors["urgent"] and "person and confirm" in outdoors["next_step"]["text"]
    assert indoors["urgent"] and "person now and confirm" in indoors["next_step"]["text"]
    assert "(behind the tank)" in outdoors["next_step"]["text"]


@pytest.mark.parametrize("kind", ["bearing", "gear", "electrical"])
def test_without_a_recording_the_step_is_to_make_one(kind, tmp_path):
    """Not to "record again", nor that "this lasts 0.00 s": there is none."""
    (tmp_path / "survey.toml").write_text(TOML)
    (tmp_path / "readings.csv").write_text(f"reading,kind,point,level_db\nA,{kind},P,42\n")
    (reading,) = run_survey(tmp_path, tmp_path / "out", reports="none").findings["readings"]
    assert reading["next_step"]["code"] == "no-sound" and "no recording" in reading["next_step"]["text"]
    alone = judge(np.zeros(0, np.float32), 48_000.0, kind)
    assert alone.settle is not None and alone.settle.text == reading["next_step"]["text"]


@pytest.mark.parametrize(("kind", "gas"), [("trap", "steam"), ("leak", "air"), ("valve", "air")])
def test_what_escapes_where_no_medium_is_noted_is_steam_at_a_trap(kind, gas):
    found, said = gas_of(Reading("T", 2, kind), Survey(Path(), "", "", "", ""))
    assert found is not None and found.name == gas and gas in said[0].text
