"""Whatever is in the folder: a survey with its problems, or one plain line; never a traceback."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from earwitness.errors import EarwitnessError
from earwitness.intake import read_survey
from earwitness.intake.columns import COLUMNS
from tests.intake.survey_folder import TOML, folder, workbook

MANY = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
WORDS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["", "leak", "7 bar", "7", "1,5", "25 cm", "2026-11-20", "03/04/2026", "yes", "A-1", "../x",
                     "a.wav", "0:0 1:1", "1e400 bar", "1e300", "-", "=1+1", '"', "vacuum", "9" * 50, "{given}",
                     "\u202e", "NaN"]),
)  # fmt: skip
CELLS = st.lists(st.lists(WORDS, max_size=12), max_size=8)
HEADERS = st.lists(st.one_of(st.sampled_from([c.name for c in COLUMNS]), WORDS), min_size=1, max_size=12)


def check(sheet, toml=TOML, name="readings.csv", recordings=("a.wav",)):
    with tempfile.TemporaryDirectory() as place:
        try:
            survey = read_survey(folder(Path(place), sheet, toml, recordings, name))
        except EarwitnessError as error:
            assert "\n" not in str(error)
            return
        names = [reading.reading for reading in survey.readings]
        assert len(set(names)) == len(names) and all(names)
        for problem in survey.problems:
            assert problem.sentence.text and problem.sentence.code
        json.dumps([problem.as_json() for problem in survey.problems], allow_nan=False)
        for reading in survey.readings:
            said = [note.as_json() for note in (*survey.notes, *reading.notes)]
            given_ = [condition.as_json() for condition in reading.conditions.values()]
            json.dumps([said, given_, dict(reading.extra)], allow_nan=False).encode("utf-8")
        listed = set(map(id, survey.problems))
        assert all(id(p) in listed for r in survey.readings for p in r.problems)
        for reading in survey.readings:
            for path in (reading.recording, reading.background_recording, reading.photo):
                assert path is None or ".." not in path.split("/")


@MANY
@given(st.binary(max_size=400))
def test_any_bytes_as_a_sheet(data):
    check(data)


@MANY
@given(HEADERS, CELLS, st.sampled_from(",;\t|"), st.sampled_from(["utf-8", "utf-16", "cp1252"]))
def test_any_cells_under_any_headers(headers, rows, separator, encoding):
    text = "\n".join(separator.join(row) for row in [headers, *rows])
    check(text.encode(encoding, "replace"))


@MANY
@given(HEADERS, CELLS)
def test_any_cells_in_a_workbook(headers, rows):
    check(workbook({"S": [[c[:200] for c in row] for row in [headers, *rows]]}), name="readings.xlsx")


@MANY
@given(st.integers(0, 5000), st.binary(min_size=1, max_size=8))
def test_a_damaged_workbook(at, damage):
    data = bytearray(workbook({"S": [["reading", "kind"], ["A-1", "leak"]]}))
    at %= len(data)
    data[at : at + len(damage)] = damage
    check(bytes(data), name="readings.xlsx")


@MANY
@given(st.binary(max_size=300))
def test_any_bytes_as_survey_toml(data):
    check("reading,kind\nA-1,leak\n", toml=data)


TABLES = ["[survey]", "[site]", "[energy]", "[air]", "[air.leak_test]", "[[compressor]]", "[[gas]]",
    "[instrument]", "[gas]",
          "[compressor]", "[[air]]", "[survey", "survey = 1", "[[survey]]", "air = [1]", "[a.b.c]"]  # fmt: skip
KEYS = ["title", "date", "pressure", "temperature", "price", "carbon", "name", "mains_hz", "timezone", "hours_per_year",
        "storage", "per", "kind", "flow", "leak_test", "humidity", "a.b", '"x y"']  # fmt: skip
VALUES = ['"7 bar"', "7", "0.5", "true", "[]", "{}", '"20 degC"', "2026-11-20", "nan", "inf", "0.2 EUR/kWh", '"', "'''",
          '"0.2 EUR/kWh"', "{a=1}", "[[1]]", "10:00:00", "1e400", '"../../etc"', '"Europe/Berlin"',
              '"/etc/passwd"']  # fmt: skip


@MANY
@given(st.lists(st.one_of(
    st.sampled_from(TABLES),
    st.tuples(st.sampled_from(KEYS), st.sampled_from(VALUES)).map(lambda kv: f"{kv[0]} = {kv[1]}"),
), max_size=14))  # fmt: skip
def test_any_parts_in_survey_toml(lines):
    check("reading,kind\nA-1,leak\n", toml="\n".join(lines))
