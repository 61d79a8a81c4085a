"""A picture shows what decided, says it in words, and is the same each time."""

from __future__ import annotations

import io
import time
import xml.etree.ElementTree as ET
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from earwitness.errors import InputError
from earwitness.hearing.evidence import Trace
from earwitness.pictures import draw, forms, marks
from tests.pictures import traces

FORMS = {
    "level": traces.level,
    "spectrogram": traces.spectrogram,
    "envelope-spectrum": traces.envelope_spectrum,
    "mains-phase": traces.mains_phase,
}


@pytest.mark.parametrize("form", FORMS)
def test_the_same_trace_gives_the_same_bytes_as_svg_and_png(form):
    trace = FORMS[form]()
    for fmt in ("svg", "png"):
        assert draw(trace, title="t", fmt=fmt).data == draw(trace, title="t", fmt=fmt).data


@pytest.mark.parametrize("form", FORMS)
def test_a_picture_can_be_opened_and_holds_nothing_foreign(form):
    trace = FORMS[form]()
    svg = draw(trace, title="t")
    root = ET.fromstring(svg.data)
    links = [v for e in root.iter() for k, v in e.attrib.items() if k.endswith("href")]
    assert all(v.startswith(("#", "data:")) for v in links)
    png = draw(trace, title="t", fmt="png")
    assert Image.open(io.BytesIO(png.data)).size[0] > 600


@pytest.mark.parametrize("form", FORMS)
def test_every_mark_is_in_the_table_and_in_the_alt_text(form):
    trace = FORMS[form]()
    picture = draw(trace, title="Reading 7")
    assert picture.alt.startswith("Reading 7. ")
    assert len(picture.table.rows) == len(trace.marks)
    for mark, row in zip(trace.marks, picture.table.rows, strict=True):
        assert row[0] == mark["name"]
        assert mark["name"] in picture.alt
        assert len(row) == len(picture.table.columns)


@pytest.mark.parametrize("form", FORMS)
def test_what_is_missing_is_left_out(form):
    whole = FORMS[form]()
    for dropped in (*whole.arrays, None):
        kept = {k: v for k, v in whole.arrays.items() if dropped is not None and k != dropped}
        assert draw(Trace(form, kept, whole.marks), title="t").data
    strange = ({"name": "nowhere"}, {"at_s": "soon", "hz": None, "found": None}, {"at_s": float("nan")})
    assert draw(Trace(form, whole.arrays, strange), title="t").data
    assert draw(Trace(form, whole.arrays, ()), title="t").table.columns == ()


def test_arrays_full_of_nan_are_no_picture_of_anything_but_no_error():
    blank = {k: np.full_like(v, np.nan) for k, v in traces.level().arrays.items()}
    assert draw(Trace("level", blank, ()), title="t").data


def test_a_spectrogram_turned_on_its_side_is_the_same_picture():
    trace = traces.spectrogram()
    turned = Trace("spectrogram", {**trace.arrays, "power_db": trace.arrays["power_db"].T}, trace.marks)
    assert draw(trace, title="t").data == draw(turned, title="t").data


def test_a_click_of_one_cell_survives_the_coarser_grid():
    power = np.full((2000, 5000), -90.0)
    power[777, 3210] = -10.0
    coarse = forms._coarse(power)
    assert coarse.max() == -10.0
    assert coarse.shape[0] <= forms.ROWS_MOST and coarse.shape[1] <= forms.COLUMNS_MOST


def test_a_narrow_line_survives_thinning():
    xs = np.arange(100_000, dtype=float)
    ys = np.zeros(100_000)
    ys[54_321] = 1.0
    thin_x, thin_y = forms._thinned(xs, ys)
    assert thin_y.max() == 1.0 and thin_x[int(np.argmax(thin_y))] == 54_321
    assert len(thin_x) <= 1600


def test_labels_in_one_row_never_touch():
    rng = np.random.default_rng(11)
    positions = np.sort(rng.uniform(0, 1, 40)).tolist()
    widths = rng.uniform(0.02, 0.2, 40).tolist()
    rows = marks.rows_without_overlap(positions, widths, 3)
    for row in range(3):
        spans = [(p - w / 2, p + w / 2) for p, w, r in zip(positions, widths, rows, strict=True) if r == row]
        assert all(a[1] <= b[0] + 1e-12 for a, b in pairwise(spans))
    assert rows.count(0) > 0 and -1 in rows  # forty labels do not fit in three rows: some stay with the table


def test_found_and_not_found_are_said():
    picture = draw(traces.envelope_spectrum(), title="t")
    assert [row[-1] for row in picture.table.rows] == ["found", "found", "found", "not found"]
    assert "107.4 Hz ± 2.1 Hz" in picture.alt.replace("\u00a0", " ")


def test_a_name_with_signs_of_formulas_is_only_a_name():
    trace = Trace("level", traces.level().arrays, ({"at_s": 2.0, "name": r"$\frac{1}{0}$ <b>&"},))
    picture = draw(trace, title="t")
    assert picture.table.rows[0][0] == r"$\frac{1}{0}$ <b>&"
    ET.fromstring(picture.data)


def test_an_unknown_form_is_refused_with_what_would_do():
    with pytest.raises(InputError, match="spectrogram"):
        draw(Trace("pie", {}, ()), title="t")


def test_pictures_are_quick():
    """Drawn in well under a second each of processor time (about 0.06 s where this was written)."""
    made = [make() for make in FORMS.values()]
    for trace in made:
        draw(trace, title="warm")
    start = time.process_time()
    for trace in made:
        draw(trace, title="t")
    assert (time.process_time() - start) / len(made) < 0.4


def test_marks_without_a_name_are_called_by_their_kind():
    raw = (
        {"kind": "place", "at_s": 1.0},
        {"kind": "place", "at_s": 2.0},
        {"kind": "tone", "freq_hz": 1700.0},
        {"view": "log"},
    )
    read = marks.read(raw)
    assert [m.name for m in read] == ["place 1", "place 2", "tone"]
    assert read[2].hz == 1700.0


def test_a_steady_level_is_drawn_as_steady():
    """Ripples of half a decibel must not fill the height of the picture."""
    time_s = np.linspace(0, 8, 200)
    drawn = forms.level({"time_s": time_s, "level_db": 0.5 * np.sin(9 * time_s)}, ())
    low, high = drawn.figure.axes[0].get_ylim()
    assert high - low >= forms.LEVEL_SPAN_DB
