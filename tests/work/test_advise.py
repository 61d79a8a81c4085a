"""The next step never contradicts the danger that stands above it."""

from __future__ import annotations

from pathlib import Path

import pytest

from earwitness.hearing.evidence import Judgement
from earwitness.plant.reading import Reading
from earwitness.plant.survey import Survey
from earwitness.work.advise import next_step
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


@pytest.mark.parametrize(("kind", "gas"), [("trap", "steam"), ("leak", "air"), ("valve", "air")])
def test_what_escapes_where_no_medium_is_noted_is_steam_at_a_trap(kind, gas):
    found, said = gas_of(Reading("T", 2, kind), Survey(Path(), "", "", "", ""))
    assert found is not None and found.name == gas and gas in said[0].text
