"""Paper, ink and one accent: the look that every picture shares, and the way to reproducible bytes."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

from earwitness.pictures.marks import rows_without_overlap

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PAPER, INK, GREY, FAINT, ACCENT = "#fdfcf8", "#1d2326", "#6b7378", "#d9d7cf", "#00635d"
WIDTH_IN, HEIGHT_IN = 4.9, 2.7
LEFT, RIGHT, BOTTOM, TOP = 0.15, 0.965, 0.215, 0.985
LABEL_PT = 10.5
LABEL_ROWS = 3
ROW_SHARE = 0.074  # height of one row of labels over the height of the picture
CHARACTER_SHARE = 0.0153  # width of a character of a label over the width of the axes

Format = Literal["svg", "png"]
STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": LABEL_PT,
    "axes.edgecolor": GREY,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "xtick.color": GREY,
    "ytick.color": GREY,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "text.color": INK,
    "svg.hashsalt": "earwitness",
    "text.parse_math": False,  # a $ in a name is a $
    "svg.fonttype": "path",
    "path.simplify": True,
    "path.simplify_threshold": 0.5,
}


def sheet(*, label_rows: int = 0, xlabel: str, ylabel: str) -> tuple[Figure, Axes]:
    """A figure with one pair of axes, and room for rows of labels above them."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), facecolor=PAPER)
    FigureCanvasAgg(figure)
    top = TOP - ROW_SHARE * label_rows
    axes = figure.add_axes((LEFT, BOTTOM, RIGHT - LEFT, top - BOTTOM), facecolor=PAPER)
    axes.set_xlabel(xlabel, labelpad=3)
    axes.set_ylabel(ylabel, labelpad=3)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure, axes


def label_rows_for(count: int) -> int:
    return min(LABEL_ROWS, count)


def label_above(axes: Axes, positions: Sequence[float], names: Sequence[str], *, rows: int) -> None:
    """Names over the axes at their x positions, in rows so that none covers another; a thin leader ties each down."""
    low, high = axes.get_xlim()
    order = sorted(range(len(positions)), key=lambda i: positions[i])
    shares = [(positions[i] - low) / (high - low) for i in order]
    widths = [CHARACTER_SHARE * len(names[i]) * 1.45 + 0.02 for i in order]
    centres = [min(max(s, w / 2), 1 - w / 2) for s, w in zip(shares, widths, strict=True)]
    height = axes.get_position().height
    for row, share, centre, i in zip(rows_without_overlap(centres, widths, rows), shares, centres, order, strict=True):
        if row < 0:
            continue
        y = 1 + (row + 0.2) * ROW_SHARE / height
        axes.plot([share, share], [1, y], transform=axes.transAxes, color=ACCENT, linewidth=0.6, clip_on=False)
        axes.text(
            centre,
            y,
            names[i],
            transform=axes.transAxes,
            ha="center",
            va="bottom",
            color=ACCENT,
            fontsize=LABEL_PT - 1,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.4},
        )


def ink_of(figure: Figure, fmt: Format) -> bytes:
    """The figure as bytes that are the same each time."""
    buffer = io.BytesIO()
    if fmt == "svg":
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None}, facecolor=PAPER)
    else:
        figure.savefig(buffer, format="png", dpi=180, metadata={"Software": None}, facecolor=PAPER)
    return buffer.getvalue()
