"""What is shown beside the words of a reading: traces to draw, a sound excerpt to play, a photo."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from earwitness.hearing.evidence import Trace
from earwitness.report.model import Image, Sound

PHOTO_MOST_PX = 1000
CAPTIONS = {
    "level": "Level over time",
    "spectrogram": "Spectrogram: bright is loud",
    "envelope-spectrum": "How strongly the loudness beats at each rate (envelope spectrum)",
    "mains-phase": "Loudness over one cycle of the mains",
}


@dataclass(frozen=True)
class Exhibit:
    """For one reading: the numbers behind its verdict, an excerpt of the recording (encoded, playable in a browser),
    and the file of its photo."""

    traces: tuple[Trace, ...] = ()
    sound: bytes | None = None
    sound_mime: str = "audio/wav"
    photo: Path | None = None


def images_of(reading: Mapping[str, Any], exhibit: Exhibit | None) -> tuple[tuple[Image, ...], tuple[str, ...]]:
    """The photo and the pictures of a reading, and what could not be shown, in words."""
    if exhibit is None:
        return (), ()
    from earwitness.pictures import draw

    images: list[Image] = []
    missing: list[str] = []
    if exhibit.photo is not None:
        photo = _photo(exhibit.photo, f"Photo of {reading.get('point') or reading.get('reading', 'the spot')}")
        if photo is None:
            missing.append(f"The photo {exhibit.photo.name} could not be read; a JPEG or PNG file would do.")
        else:
            images.append(photo)
    for trace in exhibit.traces:
        caption = CAPTIONS.get(trace.form, trace.form.replace("-", " "))
        picture = draw(trace, title=f"{caption.partition(':')[0]}, reading {reading.get('reading', '')}")
        images.append(
            Image(picture.data, picture.mime, picture.alt, caption, picture.table.columns, picture.table.rows)
        )
    return tuple(images), tuple(missing)


def sound_of(reading: Mapping[str, Any], exhibit: Exhibit | None) -> tuple[Sound | None, tuple[str, ...]]:
    if exhibit is None or not exhibit.sound:
        return None, ()
    label = f"Sound of reading {reading.get('reading', '')}, an excerpt"
    return Sound(exhibit.sound, exhibit.sound_mime, label), ()


def _photo(path: Path, alt: str) -> Image | None:
    """The photo small enough to send, upright, and without what the phone wrote into it (place and time stay home)."""
    from PIL import Image as Pillow
    from PIL import ImageOps

    try:
        with Pillow.open(path) as opened:
            opened.draft("RGB", (PHOTO_MOST_PX, PHOTO_MOST_PX))
            upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, ValueError, Pillow.DecompressionBombError):
        return None
    upright.thumbnail((PHOTO_MOST_PX, PHOTO_MOST_PX))
    buffer = io.BytesIO()
    upright.save(buffer, format="JPEG", quality=78)
    return Image(buffer.getvalue(), "image/jpeg", alt, "Photo")
