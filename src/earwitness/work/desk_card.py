"""The card a fitter takes along, A6 as PDF: the tag as a QR code, the exact spot, what was heard, what comes first."""

from __future__ import annotations

import json
import tempfile
from importlib.resources import files
from pathlib import Path

from earwitness.work.desk_findings import FindingStory
from earwitness.work.tags import qr_svg

ENDINGS = {b"\xff\xd8\xff": "jpg", b"\x89PNG": "png"}


def card_pdf(story: FindingStory, site: str, holds: str, photo: bytes | None) -> bytes:
    """`holds` is what the QR code holds; a photo that is neither JPEG nor PNG is left out."""
    import typst

    ending = next((e for magic, e in ENDINGS.items() if photo and photo.startswith(magic)), None)
    told = {
        "site": site,
        "tag": story.tag or "",
        "where": story.where,
        "spot": story.spot,
        "what": story.what,
        **story.before_work,
        "work": story.work,
        "photo": f"photo.{ending}" if ending else "",
        "qr": bool(holds),
    }
    with tempfile.TemporaryDirectory(prefix="earwitness-card-") as name:
        folder = Path(name)
        if holds:
            (folder / "qr.svg").write_text(qr_svg(holds), "utf-8")
        if ending and photo:
            (folder / f"photo.{ending}").write_bytes(photo)
        (folder / "card.json").write_text(json.dumps(told, ensure_ascii=False), "utf-8")
        template = folder / "card.typ"
        template.write_text(files("earwitness.work").joinpath("desk_card.typ").read_text("utf-8"), "utf-8")
        made = typst.Compiler(input=str(template), root=str(folder)).compile(format="pdf", timestamp=0)
    assert isinstance(made, bytes)
    return made
