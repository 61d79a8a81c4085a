"""Sheets of tags to print, cut and hang: a QR code, the tag in letters, and what is listened to there.

The code holds the tag alone, or a link to the point where the site's own server is named.
"""

from __future__ import annotations

import io
import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from pathlib import Path

from earwitness.errors import EarwitnessError
from earwitness.ledger import Ledger, points, sites

PAGE = 5000
QUIET_ZONE = 4  # modules, ISO/IEC 18004


@dataclass(frozen=True)
class Tag:
    code: str  # in letters
    holds: str  # what the QR code holds
    point: str
    area: str
    kind: str


def tags_of(
    ledger: Ledger, site: str | None = None, *, kind: str | None = None, words: str = "", link: str = ""
) -> list[Tag]:
    """The tags of a site's points, by area and name."""
    with ledger.reading() as c:
        home = sites.site_of(c, site)
        areas = {a.id: a.name for a in sites.areas(c, home.id)}
        listed: list[Tag] = []
        while page := points.points(c, home.id, kind=kind, words=words, limit=PAGE, offset=len(listed)):
            for p in page:
                area = areas.get(p.area_id, "") if p.area_id else ""
                name = f"{p.name}, {p.component}" if p.component else p.name
                listed.append(Tag(p.tag, link + p.tag, name, area, p.kind))
    if not listed:
        raise EarwitnessError(f"{home.name} has no such point; `earwitness points list` shows them")
    return sorted(listed, key=lambda t: (t.area, t.point, t.code))


def write_tags(tags: Sequence[Tag], out: Path) -> None:
    """As .pdf or .html, by the name."""
    makers = {".pdf": tags_pdf, ".html": tags_html}
    maker = makers.get(out.suffix.casefold())
    if maker is None:
        raise EarwitnessError(f"{out} cannot be written; a name that ends in .pdf or .html would do")
    part = out.with_name(out.name + ".part")
    part.write_bytes(maker(tags))
    part.replace(out)


def qr_svg(text: str) -> str:
    """The QR code of a text, error correction Q: a quarter of it may be scratched."""
    import segno

    buffer = io.BytesIO()
    segno.make_qr(text, error="q").save(buffer, kind="svg", border=QUIET_ZONE, xmldecl=False, svgns=True, nl=False)
    return buffer.getvalue().decode()


def tags_html(tags: Sequence[Tag]) -> bytes:
    cards = "\n".join(
        f"<li>{qr_svg(t.holds).replace('<svg ', f'<svg role=img aria-label={chr(34)}{t.code}{chr(34)} ', 1)}"
        f"<div><b>{t.code}</b><p>{escape(t.point)}</p><p>{escape(t.area)}</p><small>{escape(t.kind)}</small></div></li>"
        for t in tags
    )
    page = files("earwitness.work").joinpath("tags.html").read_text("utf-8")
    return page.replace("{{cards}}", cards).encode("utf-8")


def tags_pdf(tags: Sequence[Tag]) -> bytes:
    import typst

    with tempfile.TemporaryDirectory(prefix="earwitness-tags-") as name:
        folder = Path(name)
        cells = [{"code": t.code, "point": t.point, "area": t.area, "kind": t.kind} for t in tags]
        for number, tag in enumerate(tags):
            (folder / f"{number}.svg").write_text(qr_svg(tag.holds), "utf-8")
        (folder / "tags.json").write_text(json.dumps(cells, ensure_ascii=False), "utf-8")
        template = folder / "tags.typ"
        template.write_text(files("earwitness.work").joinpath("tags.typ").read_text("utf-8"), "utf-8")
        made = typst.Compiler(input=str(template), root=str(folder)).compile(format="pdf", timestamp=0)
    assert isinstance(made, bytes)
    return made
