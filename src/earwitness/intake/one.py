"""One reading from its cells alone, without a folder: what a command line or a form gives."""

from __future__ import annotations

from collections.abc import Mapping

from earwitness.intake.columns import heading
from earwitness.intake.row import RowContext, read_row
from earwitness.plant.reading import Reading


def reading_of(cells: Mapping[str, str]) -> Reading:
    """The reading that these cells make; `cells` maps columns of the sheet to text. Its problems are kept with it."""
    known = [(found, text) for name, text in cells.items() if (found := heading(name)) is not None]
    extra = {name: text for name, text in cells.items() if heading(name) is None}
    return read_row(1, known, extra, RowContext(file="given"))
