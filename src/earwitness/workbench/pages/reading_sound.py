"""The sound of a reading: to hear (as it is, or tuned), to see (any stretch, however close), and its pictures."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

from starlette.responses import FileResponse, Response

from earwitness.hearing.evidence import Trace
from earwitness.ledger import readings
from earwitness.pictures import Picture, draw
from earwitness.report.exhibit import CAPTIONS
from earwitness.server import Ask, Page
from earwitness.server.content import picture_type
from earwitness.server.guard import FILE_POLICY
from earwitness.server.refusal import not_found
from earwitness.work.correct import try_reading
from earwitness.work.recording_views import MOST_HEARD_S, Stretch, hear, picture, see, tuning
from earwitness.workbench.pages.reading import reading_here, result_of
from earwitness.workbench.reason_charts import curve_table, reason_chart

page = Page("reading-sound", title="Sound")
LEVELS = 24  # rows of the table that says what the picture shows
KEPT = {"Cache-Control": "private, max-age=3600"}


@dataclass(frozen=True)
class LevelAt:
    at_s: float
    level_db: float


@dataclass(frozen=True)
class Levels:
    """The level over a stretch, decibels of full scale, as a table beside the picture."""

    levels: Sequence[LevelAt]
    loudest_s: float
    tuned_khz: float | None
    shown: float


@dataclass(frozen=True)
class Drawn:
    """A picture that shows the reason, with what is marked in it; a curve also as a chart and with its values."""

    address: str
    caption: str
    alt: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    chart: str
    value_columns: Sequence[str]
    values: Sequence[Sequence[str]]


@dataclass(frozen=True)
class Pictures:
    pictures: Sequence[Drawn]


def stretch_here(ask: Ask) -> Stretch:
    """The stretch that the query names, of the channel that was judged."""
    filed = reading_here(ask)
    with ask.ledger.reading() as connection:
        current = readings.current_judgements(connection, [filed.id]).get(filed.id)
    used = result_of(filed, current).get("recording")
    path = ask.ledger.store.path(filed.recording_sha256) if filed.recording_sha256 else None
    if path is None or not used or not path.is_file():
        raise not_found("recording")
    seconds = float(used["seconds"])
    whole = Stretch(path, int(used["channel_used"]), float(used["rate_hz"]), seconds, str(used["codec"]), 0.0, seconds)
    start = ask.number("from", 0.0, 0.0, 1e6)
    return whole.within(start, ask.number("to", seconds, 0.0, 1e6))


@page.raw("/site/{site}/reading/{id}/sound")
def sound(ask: Ask) -> Response:
    """A stretch to hear, up to a minute, as WAV; a wide-band recording as a receiver tuned to `tuned_khz` gives it."""
    stretch = stretch_here(ask)
    stretch = stretch.within(stretch.start_s, min(stretch.stop_s, stretch.start_s + MOST_HEARD_S))
    tuned = ask.number("tuned_khz", 0.0, 0.0, stretch.rate_hz / 2000) * 1000
    return Response(hear(stretch, tuned or None), media_type="audio/wav", headers=KEPT)


@page.raw("/site/{site}/reading/{id}/spectrogram")
def spectrogram(ask: Ask) -> Response:
    """A stretch to see, as PNG of `width` by `height`."""
    width, height = int(ask.number("width", 800, 50, 2000)), int(ask.number("height", 256, 32, 512))
    return Response(picture(see(stretch_here(ask), width, height)), media_type="image/png", headers=KEPT)


@page.view("/site/{site}/reading/{id}/levels", template="reading_levels.html.j2")
def levels(ask: Ask) -> Levels:
    """The level over the stretch, as a table."""
    stretch = stretch_here(ask)
    seen = see(stretch, LEVELS, 32)
    step = stretch.length_s / LEVELS
    rows = [LevelAt(round(stretch.start_s + i * step, 2), round(float(v), 1)) for i, v in enumerate(seen.level_db)]
    loudest = max(rows, key=lambda r: r.level_db)
    tuned = round(tuning(stretch) / 1000, 1) if stretch.wide else None
    return Levels(rows, loudest.at_s, tuned, seen.shown)


@dataclass(frozen=True)
class _Shown:
    form: str
    picture: Picture
    trace: Trace


class _Gallery:
    """The last pictures drawn: a page asks for their words first and for their bytes right after."""

    def __init__(self, most: int = 48) -> None:
        self._kept: OrderedDict[str, tuple[_Shown, ...]] = OrderedDict()
        self._lock, self._most = threading.Lock(), most

    def of(self, ask: Ask) -> tuple[_Shown, ...]:
        filed = reading_here(ask)
        with ask.ledger.reading() as connection:
            current = readings.current_judgements(connection, [filed.id]).get(filed.id)
        key = f"{ask.ledger.store.folder}:{filed.id}:{filed.revision}:{current.id if current else ''}"
        with self._lock:
            if key in self._kept:
                return self._kept[key]
        judged = try_reading(ask.ledger, filed.id, {}).judged
        traces = judged.judgement.traces if judged and judged.judgement else ()
        drawn = tuple(
            _Shown(t.form, draw(t, title=f"{CAPTIONS.get(t.form, t.form)}, reading {filed.name}"), t) for t in traces
        )
        with self._lock:
            self._kept[key] = drawn
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return drawn


gallery = _Gallery()


@page.view("/site/{site}/reading/{id}/pictures", template="reading_pictures.html.j2")
def pictures(ask: Ask) -> Pictures:
    """The pictures that show the reason, each with what it says and its table."""
    here = f"{ask.site.path}/reading/{ask.id()}/picture"
    return Pictures([_drawn(one, f"{here}/{number}", f"chart-{number}") for number, one in enumerate(gallery.of(ask))])


def _drawn(one: _Shown, address: str, key: str) -> Drawn:
    picture = one.picture
    columns, values = curve_table(one.trace)
    return Drawn(
        address, CAPTIONS.get(one.form, one.form), picture.alt, picture.table.columns, picture.table.rows,
        str(reason_chart(one.trace, key, picture.alt)), columns, values,
    )  # fmt: skip


@page.raw("/site/{site}/reading/{id}/picture/{number}")
def one_picture(ask: Ask) -> Response:
    """One of these pictures as SVG."""
    found, number = gallery.of(ask), ask.path["number"]
    if not number.isdigit() or int(number) >= len(found):
        raise not_found("picture")
    drawn = found[int(number)].picture
    return Response(drawn.data, media_type=drawn.mime, headers={**KEPT, "Content-Security-Policy": FILE_POLICY})


@page.raw("/site/{site}/reading/{id}/photo")
def photo(ask: Ask) -> Response:
    """The photo of the spot."""
    filed = reading_here(ask)
    path = ask.ledger.store.path(filed.photo_sha256) if filed.photo_sha256 else None
    if path is None or not path.is_file():
        raise not_found("photo")
    with path.open("rb") as file:
        kind = picture_type(file.read(64))
    if kind is None:
        raise not_found("photo")
    return FileResponse(path, media_type=kind, headers={**KEPT, "Content-Security-Policy": FILE_POLICY})
