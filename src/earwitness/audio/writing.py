"""Write sound: WAV with the same bytes every time, and short excerpts for a page."""

from __future__ import annotations

import io
import os
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from earwitness.audio.resampling import resample
from earwitness.errors import InputError

_CHUNK = 1 << 18
_EXCERPT_RATE_HZ = 24_000
_EXCERPT_PEAK = 0.7


@dataclass(frozen=True)
class Excerpt:
    """A playable piece of a recording: the file's bytes, its MIME type, and where it was cut."""

    data: bytes
    mime: str
    start_s: float
    seconds: float


def write_wav(
    path: str | os.PathLike[str],
    samples: NDArray[np.floating],
    rate_hz: int,
    bits: Literal[16, 24, 32, "float"] = 16,
) -> None:
    """Write (n,) or (n, channels), full scale 1, as WAV (RF64 from 4 GB on). Louder than full scale is clipped,
    except in "float". The file holds nothing but the sound, so equal sound gives equal bytes."""
    if bits not in (16, 24, 32, "float"):
        raise InputError("bits", bits, '16, 24, 32 or "float"')
    frames = samples[:, None] if samples.ndim == 1 else samples
    width = 4 if bits == "float" else int(bits) // 8
    align = width * frames.shape[1]
    size = len(frames) * align
    fmt = struct.pack(
        "<HHIIHH", 3 if bits == "float" else 1, frames.shape[1], rate_hz, rate_hz * align, align, 8 * width
    )
    with Path(path).open("wb") as file:
        if size < 2**32 - 64:
            file.write(struct.pack("<4sI4s", b"RIFF", 36 + size + (size & 1), b"WAVE"))
        else:
            file.write(struct.pack("<4sI4s", b"RF64", 0xFFFFFFFF, b"WAVE"))
            file.write(struct.pack("<4sIQQQI", b"ds64", 28, 72 + size + (size & 1), size, len(frames), 0))
        file.write(struct.pack("<4sI", b"fmt ", 16) + fmt)
        file.write(struct.pack("<4sI", b"data", min(size, 0xFFFFFFFF)))
        for at in range(0, len(frames), _CHUNK):
            file.write(_encoded(frames[at : at + _CHUNK], bits))
        if size & 1:
            file.write(b"\0")


def _encoded(frames: NDArray[np.floating], bits: int | str) -> bytes:
    if bits == "float":
        return frames.astype("<f4").tobytes()
    full = 2.0 ** (int(bits) - 1)
    whole = np.clip(np.rint(frames.astype(np.float64) * full), -full, full - 1).astype("<i4")
    if bits == 24:
        return np.ascontiguousarray(whole).view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    return whole.astype("<i2" if bits == 16 else "<i4").tobytes()


def excerpt(
    samples: NDArray[np.float32], rate_hz: float, seconds: float = 6.0, start_s: float | None = None
) -> Excerpt:
    """`seconds` of one channel (n,) for a page to play, at one loudness, small.

    Without `start_s` it is cut where the sound is loudest. For listening only: every number is taken from the
    recording itself. Wide-band sound must be brought into hearing before (`sound.heterodyne`).
    """
    length = min(len(samples), max(1, round(seconds * rate_hz)))
    start = _loudest(samples, length) if start_s is None else min(round(start_s * rate_hz), len(samples) - length)
    cut = resample(np.ascontiguousarray(samples[max(0, start) :][:length]), rate_hz, _EXCERPT_RATE_HZ)
    peak = float(np.abs(cut).max(initial=0.0))
    cut = cut * np.float32(_EXCERPT_PEAK / peak) if peak > 0 else cut
    data, mime = _compressed(cut)
    return Excerpt(data, mime, max(0, start) / rate_hz, length / rate_hz)


def _loudest(samples: NDArray[np.float32], length: int) -> int:
    if len(samples) <= length:
        return 0
    step = max(1, length // 20)
    power = np.add.reduceat(np.square(samples, dtype=np.float64), np.arange(0, len(samples), step))
    total = np.convolve(power, np.ones(max(1, length // step)), "valid")
    return min(int(np.argmax(total)) * step, len(samples) - length)


def _compressed(samples: NDArray[np.float32]) -> tuple[bytes, str]:
    """MP3 where libsndfile can write it (small, plays everywhere, the same bytes every time), else FLAC."""
    import soundfile

    out = io.BytesIO()
    if "MP3" in soundfile.available_formats():
        soundfile.write(out, samples, _EXCERPT_RATE_HZ, format="MP3", subtype="MPEG_LAYER_III")
        return out.getvalue(), "audio/mpeg"
    soundfile.write(out, samples, _EXCERPT_RATE_HZ, format="FLAC", subtype="PCM_16")
    return out.getvalue(), "audio/flac"
