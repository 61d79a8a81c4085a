"""The columns are those of the contract, each has a place in the nouns, and the page about them says the same."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

from earwitness import units
from earwitness.intake import read_survey
from earwitness.intake.choices import CHOICES
from earwitness.intake.columns import COLUMNS
from earwitness.plant.reading import Machine, Reading, Repair
from tests.intake.survey_folder import codes, folder

DOCS = Path(__file__).parents[2] / "docs"
CONTRACT = """\
reading point area tag component location kind verifies
sensor signal attachment centre_khz recording background_recording gain_db level_db background_db baseline_db
reference_db distance_m status load_percent taken_at place hazardous_area medium pressure pressure_downstream
temperature_c opening_mm flow hours_per_year cause confirmed speed_rpm bearing rolling_elements element_mm pitch_mm
contact_angle_deg bore_mm outside_mm width_mm teeth mate_teeth mains_hz voltage_v supply upstream_db downstream_db
beyond_db position_commanded trap_type upstream_c downstream_c sweep_length_m sweep_marks room_m3 ventilation
repair_hours repair_cost craft access isolation shutdown parts fixed_now level_after_db reported_to reported_at
photo note
"""


def test_the_columns_are_the_contracts():
    assert sorted(column.name for column in COLUMNS) == sorted(CONTRACT.split())


def test_each_column_has_its_place_in_the_nouns():
    homes = {"": Reading, "machine": Machine, "repair": Repair}
    for column in COLUMNS:
        part, _, name = column.field.rpartition(".")
        assert name in {field.name for field in fields(homes[part])}, column.name
        assert column.holds != "quantity" or column.dimension in units.DIMENSIONS


def test_no_word_stands_for_two_columns():
    words = [word for column in COLUMNS for word in (column.name, *column.also)]
    assert len(words) == len(set(words))


def test_the_page_lists_every_column_and_every_word():
    page = (DOCS / "survey-folder.md").read_text("utf-8")
    tables = re.findall(r"^\| [\w, ]+ \| (`.*) \|$", page, re.MULTILINE)
    assert sorted(name for row in tables for name in re.findall(r"`(\w+)`", row)) == sorted(CONTRACT.split())
    words = dict(re.findall(r"^\| `(\w+)` \| (.+) \|$", page, re.MULTILINE))
    assert {name: tuple(text.split(", ")) for name, text in words.items()} == {
        name: allowed for name, allowed in CHOICES.items() if name != "control"
    }


def test_the_pages_survey_toml_is_read_without_a_problem(tmp_path):
    page = (DOCS / "survey-folder.md").read_text("utf-8")
    toml = re.search(r"```toml\n(.*?)```", page, re.DOTALL)[1]
    survey = read_survey(folder(tmp_path, "kind\nleak\n", toml))
    assert codes(survey) == [] and survey.air.leak_test.kind == "load-unload"
    assert not [note for note in survey.notes if note.code == "part-unknown"]


def test_every_example_on_the_page_of_units_is_read():
    page = (DOCS / "units.md").read_text("utf-8")
    rows = re.findall(r"^\| ([a-z, ]+) \| [^|]+ \| ([^|]*\d[^|]*) \|$", page, re.MULTILINE)
    assert len(rows) >= 11
    readers = {**{name: name for name in units.DIMENSIONS}}
    for names, examples in rows:
        for example in re.split(r"[;,] ", examples):
            assert any(_reads(example.strip(), readers.get(name)) for name in names.split(", ")), example


def _reads(text: str, dimension: str | None) -> bool:
    try:
        if dimension is None:
            units.price(text, where="page")
        elif dimension == "flow":
            units.flow(text, where="page")
        else:
            units.read(text, dimension, where="page")
    except units.UnitError:
        return False
    return True
