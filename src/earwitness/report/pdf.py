"""The report as PDF, set by Typst. What the survey says goes in as JSON and is never read as code."""

from __future__ import annotations

import json
import re
import tempfile
import unicodedata
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from earwitness.report.model import Image, Report, Sound
from earwitness.report.signs import SIGNS

SUFFIX = {"image/svg+xml": "svg", "image/png": "png", "image/jpeg": "jpg"}
LONG = re.compile(r"[^\s\u200b]{20,}")  # a word that a narrow column could not hold: a file name, say
PIECE = re.compile(r"[^_/\\.:,;-]{12}|[^_/\\.:,;-]{0,11}[_/\\.:,;-]")
SCRIPTS_IN_THE_WHEEL = ("LATIN", "GREEK", "CYRILLIC", "HEBREW")


def pdf(report: Report) -> bytes:
    import typst

    with tempfile.TemporaryDirectory(prefix="earwitness-pdf-") as name:
        folder = Path(name)
        data = json.dumps(_plain(report, folder), ensure_ascii=False)
        (folder / "report.json").write_text(data, "utf-8")
        for word, svg in SIGNS.items():
            (folder / f"{word}.svg").write_text(svg, "utf-8")
        template = folder / "report.typ"
        template.write_text(files("earwitness.report").joinpath("pages/report.typ").read_text("utf-8"), "utf-8")
        compiler = typst.Compiler(
            input=str(template), root=str(folder), ignore_system_fonts=not _needs_other_fonts(data)
        )
        made = compiler.compile(format="pdf", pdf_standards=["ua-1"], timestamp=0)
    assert isinstance(made, bytes)
    return made


def _plain(thing: Any, folder: Path) -> Any:
    """Dataclasses as dictionaries; pictures become files beside the template, sounds stay with the HTML."""
    if isinstance(thing, Sound):
        return {"label": thing.label}
    if is_dataclass(thing) and not isinstance(thing, type):
        out = {f.name: _plain(getattr(thing, f.name), folder) for f in fields(thing) if f.name != "data"}
        if isinstance(thing, Image):
            out["file"] = _kept(thing, folder)
        return out
    if isinstance(thing, tuple | list):
        return [_plain(item, folder) for item in thing]
    if isinstance(thing, Mapping):
        return {str(k): _plain(v, folder) for k, v in thing.items()}
    if isinstance(thing, str) and not thing.startswith("r-"):
        return LONG.sub(lambda word: PIECE.sub("\\g<0>\u200b", word.group()), thing)
    return thing


def _kept(image: Image, folder: Path) -> str:
    number = len(list(folder.glob("picture-*")))
    path = folder / f"picture-{number:04d}.{SUFFIX[image.mime]}"
    path.write_bytes(image.data)
    return path.name


def _needs_other_fonts(text: str) -> bool:
    """True where a letter is in a script that the fonts carried along do not have; then the machine's own are asked."""
    letters = {c for c in text if ord(c) > 0x24F and c.isalpha()}
    return any(not unicodedata.name(c, "LATIN").startswith(SCRIPTS_IN_THE_WHEEL) for c in letters)
