"""Every command that takes a file, given each kind of wrong one: one plain line says what it is, which, and what would
do; nothing is left behind."""

from __future__ import annotations

import os
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import xlsxwriter
from PIL import Image

from earwitness.audio import write_wav
from earwitness.cli import main

SURVEY = '[survey]\ntitle = "Round"\nsite = "Oat works"\ndate = "2026-03-01"\ninspector = "A. Name"\n'


def _workbook(path: Path, *rows: list[str | int]) -> None:
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet()
        for number, row in enumerate(rows):
            sheet.write_row(number, 0, row)


def _zip(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("notes.txt", "hello")


MADE: dict[str, tuple[Callable[[Path], object], str]] = {  # file: (how it is made, what it is called)
    "a.pdf": (lambda p: p.write_bytes(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n<</Type/Catalog>>\nendobj\n"), "a PDF"),
    "a.png": (lambda p: Image.new("RGB", (9, 9)).save(p), "a picture"),
    "a.jpg": (lambda p: Image.new("RGB", (9, 9)).save(p), "a picture"),
    "a.zip": (_zip, "a ZIP archive"),
    "cut.zip": (lambda p: p.write_bytes(b"PK\x03\x04\x14\x00\x80"), "a damaged workbook or ZIP archive"),
    "a.wav": (lambda p: write_wav(p, np.zeros(4800), 48_000, 16), "a recording"),
    "a.xlsx": (lambda p: _workbook(p, ["point", "kind"], ["Pump 3", "bearing"]), "a workbook"),
    "no-header.xlsx": (lambda p: _workbook(p, [1, 2, 3]), "a workbook"),
    "empty": (lambda p: p.write_bytes(b""), "empty"),
    "utf-16.csv": (lambda p: p.write_bytes("point,kind\nPump 3,bearing\n".encode("utf-16")), ""),
    "no-header.csv": (lambda p: p.write_text("1,2,3\n4,5,6\n"), ""),
    "bytes.bin": (lambda p: p.write_bytes(bytes(range(256)) * 9), ""),
    "folder": (lambda p: p.mkdir(), "a folder"),
    "absent": (lambda p: None, "no file"),
}
COMMANDS: dict[str, tuple[list[str], tuple[str, ...]]] = {  # words, files it can read
    "import": (["import", "{}", "--ledger", "new.db"], ()),
    "points import": (["points", "import", "{}", "--ledger", "new.db", "--site", "S"], ("a.xlsx", "utf-16.csv")),
    "calibrate": (["calibrate", "{}"], ()),
    "diagnose": (["diagnose", "{}"], ("a.wav",)),
    "what-if": (["what-if", "{}", "--pressure", "6 bar(g)"], ()),
    "survey": (["survey", "{}", "--out", "out"], ()),
    "findings list": (["findings", "list", "--ledger", "{}"], ()),
    "serve": (["serve", "--ledger", "{}"], ("empty", "absent")),
}


def told(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> str:
    """What a command that is refused says on stderr."""
    monkeypatch.setattr(sys, "argv", ["earwitness", *words])
    with pytest.raises(SystemExit) as stopped:
        main()
    said = capsys.readouterr()
    assert stopped.value.code == 2 and not said.out
    (line,) = said.err.strip().splitlines()
    assert line.startswith("earwitness: ")
    for raw in ("should not have happened", "codec", "Errno", "file is not a database", "sqlite:", "Usage"):
        assert raw not in line
    return line


@pytest.mark.parametrize("file", MADE)
@pytest.mark.parametrize("command", COMMANDS)
def test_a_wrong_file_is_refused_in_one_line(command, file, tmp_path, capsys, monkeypatch):
    words, reads = COMMANDS[command]
    make, called = MADE[file]
    if file in reads:
        pytest.skip("this one it can read")
    monkeypatch.chdir(tmp_path)
    make(Path(file))
    line = told(capsys, monkeypatch, *(word.format(file) for word in words))
    assert file in line and ";" in line
    if command == "survey" or (command, file) == ("findings list", "absent"):  # asked for a folder; for a ledger
        called = {"folder": "survey.toml", "absent": "there is no"}.get(file, "a file")
    if command == "diagnose" and file not in ("empty", "folder", "absent"):
        called = "is not a sound file known here"
    if (command, file) == ("what-if", "folder"):
        called = "survey.toml"
    header = "no-header" in file or (command, file) == ("calibrate", "a.xlsx")
    if header and command in ("points import", "calibrate"):
        called = "names of the columns" if file != "a.xlsx" else "no usable row"
    assert called in line
    assert sorted(p.name for p in tmp_path.iterdir()) == ([file] if file != "absent" else [])


@pytest.mark.parametrize("part", ["readings.csv", "calibration.csv"])
@pytest.mark.parametrize("file", ["a.pdf", "a.png", "a.zip", "a.wav"])
def test_a_survey_with_a_part_of_another_kind_is_refused(part, file, tmp_path, capsys, monkeypatch):
    (tmp_path / "survey.toml").write_text(SURVEY)
    (tmp_path / "readings.csv").write_text("point,kind\nHose,leak\n")
    make, called = MADE[file]
    made = tmp_path / file
    make(made)
    made.replace(tmp_path / part)
    line = told(capsys, monkeypatch, "survey", str(tmp_path), "--out", str(tmp_path / "out"), "--reports", "none")
    assert f"{part} is {called}" in line and "would do" in line


@pytest.mark.parametrize(
    "words",
    [
        ["export", "--ledger", "plant.db", "--out", "file/plant.json"],
        ["export", "--ledger", "plant.db", "--out", "file/plant.xlsx"],
        ["export", "--ledger", "plant.db", "--out", "file"],
        ["tags", "--ledger", "plant.db", "--out", "file/tags.pdf"],
        ["points", "import", "points.csv", "--ledger", "file/new.db", "--site", "S"],
        ["demo", "--out", "file"],
        ["survey", "round", "--out", "file"],
    ],
    ids=" ".join,
)
def test_where_nothing_can_be_written_the_place_is_told(words, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("points.csv").write_text("point,kind\nHose,leak\n")
    Path("file").write_text("stands in the way")
    Path("round").mkdir()
    Path("round/survey.toml").write_text(SURVEY)
    Path("round/readings.csv").write_text("point,kind\nHose,leak\n")
    made = ["earwitness", "points", "import", "points.csv", "--ledger", "plant.db", "--site", "S"]
    monkeypatch.setattr(sys, "argv", made)
    main()
    capsys.readouterr()
    assert "file" in told(capsys, monkeypatch, *words)
    assert Path("file").read_text() == "stands in the way"


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="whoever owns the machine may read everything")
@pytest.mark.parametrize("command", [c for c in COMMANDS if c != "survey"])
def test_a_file_that_may_not_be_read_is_told_as_such(command, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("shut").write_text("point,kind\nHose,leak\n")
    Path("shut").chmod(0)
    line = told(capsys, monkeypatch, *(word.format("shut") for word in COMMANDS[command][0]))
    assert "shut" in line and ("permission denied" in line.casefold() or "cannot be opened" in line)
