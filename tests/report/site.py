"""An invented paper-sack works, in the contract's shape: what a survey hands to the report, with every kind of ending
that a reading can have. The numbers are made up; nothing here is measured or computed by the program."""

from __future__ import annotations

import io
import json
import wave
from pathlib import Path
from typing import Any

import numpy as np

from earwitness.report import Exhibit
from tests.pictures import traces


def findings() -> dict[str, Any]:
    return json.loads((Path(__file__).parent / "findings.json").read_text("utf-8"))


def tone() -> bytes:
    """A second of faint noise as WAV: what an excerpt is to a report."""
    samples = np.random.default_rng(5).normal(0, 1500, 8000).astype("<i2")
    buffer = io.BytesIO()
    with wave.open(buffer, "wb") as out:
        out.setparams((1, 2, 8000, len(samples), "NONE", ""))
        out.writeframes(samples.tobytes())
    return buffer.getvalue()


def photo(path: Path) -> Path:
    from PIL import Image, ImageDraw

    image = Image.new("RGB", (1600, 1200), "#8d9a94")
    pen = ImageDraw.Draw(image)
    pen.rectangle((200, 500, 1400, 620), fill="#5b646b")
    pen.ellipse((700, 420, 900, 700), fill="#c0b283", outline="#333333", width=8)
    image.save(path, quality=85)
    return path


def exhibits(folder: Path) -> dict[str, Exhibit]:
    return {
        "R-002": Exhibit((traces.spectrogram(),), tone(), "audio/wav"),
        "R-003": Exhibit((traces.level(7, (8.0,)),)),
        "R-007": Exhibit((traces.spectrogram(8),), tone(), "audio/wav", photo(folder / "r007.jpg")),
        "R-009": Exhibit((traces.mains_phase(),)),
        "R-012": Exhibit((traces.envelope_spectrum(),), tone()),
        "R-015": Exhibit((traces.level(),)),
        "R-022": Exhibit((), None, "audio/wav", folder / "missing.jpg"),
    }
