"""Recordings: found by the name a person writes, never outside the folder, matched by time and sequence where the
receiver named them, and never by a silent guess."""

from __future__ import annotations

import os
import struct
from datetime import UTC, datetime

import pytest

from earwitness.errors import EarwitnessError
from earwitness.intake import read_survey
from tests.intake.survey_folder import TOML, codes, folder, of

ZONED = TOML + '[site]\ntimezone = "Europe/Berlin"\n'


def sheet(*names: str) -> str:
    return "reading\tkind\trecording\n" + "".join(f"A-{n}\tleak\t{name}\n" for n, name in enumerate(names, start=1))


def timed(*times: str) -> str:
    return "reading,kind,taken_at\n" + "".join(f"A-{n},leak,{when}\n" for n, when in enumerate(times, start=1))


@pytest.mark.parametrize("name", [
    "hall/A 1.wav", "recordings/hall/A 1.wav", "A 1.wav", "a 1.WAV", "A 1", "hall\\A 1.wav", "./hall/A 1.wav",
        "A 1.flac",
    '"A 1.wav"', "RECORDINGS/HALL/A 1.WAV",
])  # fmt: skip
def test_a_recording_by_the_name_a_person_writes(tmp_path, name):
    survey = read_survey(folder(tmp_path, sheet(name.replace('"', "'")), recordings=["hall/A 1.wav"]))
    assert survey.readings[0].recording == "recordings/hall/A 1.wav" and codes(survey) == []


@pytest.mark.parametrize(
    "name", ["../secret.wav", "..\\secret.wav", "/etc/passwd", "C:\\rec\\a.wav", "a/../../secret.wav", "~/a.wav"]
)
def test_a_path_out_of_the_folder_is_refused(tmp_path, name):
    (tmp_path / "secret.wav").write_bytes(b"x")
    survey = read_survey(folder(tmp_path / "s", sheet(name)))
    assert codes(survey) == ["path-leaves-folder"] and survey.readings[0].recording is None
    assert survey.readings[0].extra["recording"] == name


def test_a_link_out_of_the_folder_is_no_file_of_it(tmp_path):
    (tmp_path / "secret.wav").write_bytes(b"x")
    place = folder(tmp_path / "s", sheet("a.wav"), recordings=["b.wav"])
    (place / "recordings" / "a.wav").symlink_to(tmp_path / "secret.wav")
    survey = read_survey(place)
    assert codes(survey) == ["file-missing", "file-unused"]


def test_a_missing_recording_names_what_is_near(tmp_path):
    survey = read_survey(folder(tmp_path, sheet("A-104.wav"), recordings=["A-014.wav"]))
    assert "A-014.wav" in of(survey, "file-missing").sentence.text
    assert of(survey, "file-unused").file == "recordings/A-014.wav"
    assert survey.readings[0].recording is None and survey.readings[0].extra == {"recording": "A-104.wav"}


def test_a_name_that_fits_two_files_is_a_problem(tmp_path):
    survey = read_survey(folder(tmp_path, sheet("A1"), recordings=["x/A1.wav", "y/A1.wav"]))
    assert "x/A1.wav" in of(survey, "file-could-be-several").sentence.text and survey.readings[0].recording is None


def test_photos_and_backgrounds_are_found_too(tmp_path):
    place = folder(
        tmp_path, "kind,recording,background_recording,photo\nleak,a,b,P1.JPG\n", recordings=["a.wav", "b.wav"]
    )
    (place / "photos").mkdir()
    (place / "photos" / "p1.jpg").write_bytes(b"jpg")
    survey = read_survey(place)
    reading = survey.readings[0]
    assert codes(survey) == [] and reading.photo == "photos/p1.jpg"
    assert (reading.recording, reading.background_recording) == ("recordings/a.wav", "recordings/b.wav")


def test_matched_by_the_time_in_the_files_names(tmp_path):
    files = ["REC_20261120_100003.wav", "REC_20261120_103015.wav", "REC_20261120_154500.wav"]
    survey = read_survey(folder(tmp_path, timed("2026-11-20T10:30", "2026-11-20T10:00"), ZONED, files))
    by_name = {r.reading: r for r in survey.readings}
    assert by_name["A-1"].recording.endswith("103015.wav") and by_name["A-2"].recording.endswith("100003.wav")
    (note,) = [n for n in by_name["A-1"].notes if n.code == "recording-matched-by-time"]
    assert "matched by time" in note.text and "15 s" in note.text
    assert codes(survey) == ["file-unused"]


def test_matched_by_the_files_own_date(tmp_path):
    place = folder(tmp_path, timed("2026-11-20T10:30", "2026-11-20T11:00"), ZONED, ["one.wav", "two.wav"])
    for name, hour, minute in (("one.wav", 10, 0), ("two.wav", 9, 30)):  # UTC; Berlin is an hour ahead
        seconds = datetime(2026, 11, 20, hour, minute, 20, tzinfo=UTC).timestamp()
        os.utime(place / "recordings" / name, (seconds, seconds))
    survey = read_survey(place)
    assert [r.recording for r in survey.readings] == ["recordings/two.wav", "recordings/one.wav"]
    assert "the file's date" in survey.readings[0].notes[-1].text


def test_matched_by_the_broadcast_header(tmp_path):
    """EBU Tech 3285: OriginationDate and OriginationTime stand 320 and 330 bytes into `bext`."""
    bext = bytes(320) + b"2026-11-20" + b"10:30:05" + bytes(264)
    body = b"WAVE" + b"bext" + struct.pack("<I", len(bext)) + bext
    wav = b"RIFF" + struct.pack("<I", len(body)) + body
    survey = read_survey(folder(tmp_path, timed("2026-11-20T10:30", "2026-11-20T12:00"), ZONED, [("x.wav", wav)]))
    assert survey.readings[0].recording == "recordings/x.wav" and survey.readings[1].recording is None
    assert "broadcast header" in survey.readings[0].notes[-1].text


def test_two_rows_as_near_are_a_doubt_not_a_guess(tmp_path):
    times = timed("2026-11-20T10:00:00", "2026-11-20T10:00:40")
    survey = read_survey(folder(tmp_path, times, ZONED, ["20261120-100020.wav"]))
    assert [r.recording for r in survey.readings] == [None, None]
    assert codes(survey).count("recording-in-doubt") == 2 and "file-unused" in codes(survey)


def test_matched_by_sequence_where_no_row_names_a_recording(tmp_path):
    rows = "reading,kind,level_db\nA-1,leak,40\nA-2,leak,41\nA-3,leak,42\n"
    survey = read_survey(folder(tmp_path, rows, TOML, ["rec10.wav", "rec9.wav", "rec11.wav"]))
    assert [r.recording for r in survey.readings] == [f"recordings/rec{n}.wav" for n in (9, 10, 11)]
    assert all("matched by sequence" in r.notes[-1].text for r in survey.readings) and codes(survey) == []


def test_unequal_numbers_are_not_matched_by_sequence(tmp_path):
    rows = "reading,kind\nA-1,leak\nA-2,leak\nA-3,leak\n"
    survey = read_survey(folder(tmp_path, rows, TOML, ["rec1.wav", "rec2.wav"]))
    assert all(r.recording is None for r in survey.readings)
    assert codes(survey) == ["recordings-not-matched", "file-unused", "file-unused"]


def test_a_clock_that_is_wrong_evenly_still_matches_and_unevenly_does_not(tmp_path):
    times = timed("2026-11-20T10:00", "2026-11-20T10:07", "2026-11-20T10:30")
    even = ["20250101-030000.wav", "20250101-030710.wav", "20250101-033005.wav"]
    uneven = ["20250101-030000.wav", "20250101-050710.wav", "20250101-053005.wav"]
    survey = read_survey(folder(tmp_path / "a", times, ZONED, even))
    assert [r.recording for r in survey.readings] == [f"recordings/{name}" for name in even]
    survey = read_survey(folder(tmp_path / "b", times, ZONED, uneven))
    assert all(r.recording is None for r in survey.readings) and "recordings-not-matched-times" in codes(survey)


def test_a_stray_file_is_not_given_to_a_row_that_has_only_a_level(tmp_path):
    rows = "reading,kind,recording\nA-1,leak,a.wav\nA-2,leak,\n"
    survey = read_survey(folder(tmp_path, rows, TOML, ["a.wav", "stray.wav"]))
    assert survey.readings[1].recording is None and codes(survey) == ["file-unused"]


def test_rows_that_were_not_read_get_no_recording(tmp_path):
    rows = "reading,kind,status\nA-1,leak,not-reached\nA-2,leak,\n"
    survey = read_survey(folder(tmp_path, rows, TOML, ["rec1.wav"]))
    assert [r.recording for r in survey.readings] == [None, "recordings/rec1.wav"]


def test_recordings_without_a_sheet_are_readings_of_their_own(tmp_path):
    survey = read_survey(folder(tmp_path, None, recordings=["b.wav", "a.flac", "notes.txt"]))
    assert [(r.kind, r.recording) for r in survey.readings] == [
        ("other", "recordings/a.flac"), ("other", "recordings/b.wav"),
    ]  # fmt: skip
    assert set(codes(survey)) == {"sheet-missing", "file-unused"}


def test_neither_sheet_nor_recording(tmp_path):
    with pytest.raises(EarwitnessError, match="would do"):
        read_survey(folder(tmp_path))


def test_the_inputs_hash_follows_the_bytes_that_are_named(tmp_path):
    def made(name, **changes):
        arguments = {"sheet": sheet("a.wav"), "recordings": ["a.wav", "unused.wav"]} | changes
        return read_survey(folder(tmp_path / name, **arguments)).inputs_sha256

    first = made("one")
    assert made("two") == first and len(first) == 64
    assert made("three", recordings=["a.wav", "other.wav"]) == first
    assert made("four", recordings=[("a.wav", b"else"), "unused.wav"]) != first
    assert made("five", sheet=sheet("a.wav") + "\n") != first
    assert made("six", toml=TOML + "\n") != first


def test_progress_is_told(tmp_path):
    told = []
    read_survey(folder(tmp_path, sheet("a.wav"), recordings=["a.wav"]), progress=lambda *step: told.append(step))
    assert told[-1] == ("hashing", 3, 3)
