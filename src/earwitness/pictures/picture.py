"""A trace as a picture: bytes, what they are, what they show in words, and a small table of what is marked."""

from __future__ import annotations

from dataclasses import dataclass

from earwitness.errors import InputError
from earwitness.hearing.evidence import Trace
from earwitness.pictures import marks as marking
from earwitness.pictures.forms import FORMS
from earwitness.pictures.paper import STYLE, Format, ink_of

MIME = {"svg": "image/svg+xml", "png": "image/png"}
HEIGHTS = {"level": "level [dB]", "spectrogram": "level [dB]"}


@dataclass(frozen=True)
class Table:
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Picture:
    data: bytes
    mime: str
    alt: str
    title: str
    table: Table


def draw(trace: Trace, *, title: str, fmt: Format = "svg") -> Picture:
    """The picture of `trace`. Arrays that are missing leave out what they would show; the same trace gives the same
    bytes."""
    if trace.form not in FORMS:
        raise InputError("form", trace.form, "one of " + ", ".join(FORMS))
    import matplotlib

    marks = marking.read(trace.marks)
    with matplotlib.rc_context(STYLE):
        drawn = FORMS[trace.form](trace.arrays, marks)
        data = ink_of(drawn.figure, fmt)
    alt = f"{title}. {drawn.says}.{marking.spoken(marks)}"
    return Picture(data, MIME[fmt], alt, title, _table(marks, HEIGHTS.get(trace.form, "height")))


def _table(marks: tuple[marking.Mark, ...], height: str) -> Table:
    """One row a mark; columns in which no mark has anything are left out."""
    heads = ("mark", "where", height, "in the sound")
    rows = [(m.name, m.where, "" if m.height is None else f"{m.height:.3g}", m.shown) for m in marks]
    kept = [i for i in range(len(heads)) if i == 0 or any(row[i] for row in rows)] if rows else []
    return Table(tuple(heads[i] for i in kept), tuple(tuple(row[i] for i in kept) for row in rows))
