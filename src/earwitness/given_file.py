"""What a file is that was given for another: told by its content, never by its name."""

from __future__ import annotations

import zipfile
from pathlib import Path

from earwitness.errors import EarwitnessError

EMPTY = "empty"
WORKBOOKS = ("a workbook", "a workbook or another office file")  # the second in the form before .xlsx
_BEGINS = (
    (b"%PDF-", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"fLaC", "a recording"),
    (b"OggS", "a recording"),
    (b"ID3", "a recording"),
    (b"SQLite format 3\x00", "a ledger or another database"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", WORKBOOKS[1]),
)


def other_kind(path: Path) -> str | None:
    """What the file at `path` is ("a PDF"), None where its content does not tell."""
    with path.open("rb") as file:
        head = file.read(16)
    if not head:
        return EMPTY
    if head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE":
        return "a recording"
    if head.startswith(b"PK\x03\x04"):
        return _packed(path)
    return next((kind for begin, kind in _BEGINS if head.startswith(begin)), None)


def _packed(path: Path) -> str:
    try:
        with zipfile.ZipFile(path) as archive:
            workbook = any(name.casefold().startswith("xl/") for name in archive.namelist())
    except Exception:  # what is damaged makes the reader raise nearly anything
        return "a damaged workbook or ZIP archive"
    return WORKBOOKS[0] if workbook else "a ZIP archive"


def refuse_no_file(path: Path, would_do: str) -> None:
    """What is not there, or is a folder, in one plain line; `would_do` says what to name instead."""
    if path.is_dir():
        raise EarwitnessError(f"{path} is a folder, not a file; {would_do}")
    if not path.is_file():
        raise EarwitnessError(f"there is no file {path}; {would_do}")
