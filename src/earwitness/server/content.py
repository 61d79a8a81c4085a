"""What a file is, told by what is in it; and what a path may be that somebody sends."""

from __future__ import annotations

import re
import unicodedata
import zipfile
from pathlib import Path
from typing import Literal

from earwitness.audio.container import sniff
from earwitness.server.refusal import Refusal

Kind = Literal["sound", "picture", "sheet", "text", "zip", "empty"]
PICTURES = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))
LONGEST_PATH, DEEPEST = 240, 6
WORKBOOK_PARTS = ("xl/workbook.xml", "content.xml")
DOCUMENT_PART = "[Content_Types].xml"  # of an office document, which is a zip too
NEVER_TEXT = (b"<!doctype", b"<html", b"<svg", b"<script", b"<?xml", b"%pdf", b"mz", b"\x7felf", b"#!", b"{\\rtf")


def picture_type(head: bytes) -> str | None:
    """The media type of a JPEG, PNG or WebP picture; None where the content is none of these."""
    for magic, name in PICTURES:
        if head.startswith(magic):
            return name
    return "image/webp" if head[:4] == b"RIFF" and head[8:12] == b"WEBP" else None


def kind_of(path: Path, name: str) -> Kind:
    """What the file at `path` is; `name` is only said where it is refused. One of no bytes is taken: it can do nothing,
    and the judging says which recording is empty.

    Raises
    ------
    Refusal : it is neither a sound, a picture, a sheet, settings in TOML nor a zip
    """
    with path.open("rb") as file:
        head = file.read(4096)
    if not head:
        return "empty"
    if picture_type(head):
        return "picture"
    packed = _packed(path) if head.startswith(b"PK\x03\x04") else None
    if packed is not None:
        return packed
    if head.startswith(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        return "sheet"
    if _is_text(head):
        return "text"
    if sniff(head):
        return "sound"
    raise Refusal(
        415, "content-not-taken",
        "“{name}” is no recording, photo, sheet, survey.toml or zip by its content, and is not taken.", name=name[:80],
    )  # fmt: skip


def _packed(path: Path) -> Kind | None:
    """A workbook or a zip; None for another office document."""
    try:
        with zipfile.ZipFile(path) as parts:
            names = parts.namelist()
    except (zipfile.BadZipFile, OSError, ValueError):
        return "zip"
    if any(part in names for part in WORKBOOK_PARTS):
        return "sheet"
    return None if DOCUMENT_PART in names else "zip"


def _is_text(head: bytes) -> bool:
    """Text in UTF-8, UTF-16 or cp1252, and none of the texts that a browser or a system would run."""
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return b"<" not in head[:64]
    plain = head.lstrip(b"\xef\xbb\xbf \t\r\n")
    if plain.lower().startswith(NEVER_TEXT):
        return False
    control = sum(byte < 32 and byte not in (9, 10, 13) for byte in head)
    return control == 0


def safe_path(given: str) -> str:
    """A path below a survey folder with forward slashes, as it was sent.

    Raises
    ------
    Refusal : it leads out of the folder, is too long, or could not be a file's name everywhere
    """
    text = unicodedata.normalize("NFC", given.replace("\\", "/"))
    parts = text.split("/")
    wrong = (
        not text
        or len(text) > LONGEST_PATH
        or len(parts) > DEEPEST
        or text.startswith(("/", "~"))
        or re.match(r"^[A-Za-z]:", text) is not None
        or any(part in ("", ".", "..") or part != part.strip() or part.endswith(".") for part in parts)
        or any(unicodedata.category(c) in ("Cc", "Cs", "Cf") or c in '<>:"|?*' for c in text)
    )
    if wrong:
        shown = "".join(c if c.isprintable() else "�" for c in given)[:80]
        text = "“{path}” cannot be the name of a file in a survey folder; letters, digits and sub-folders would do."
        raise Refusal(422, "path-refused", text, path=shown)
    return text
