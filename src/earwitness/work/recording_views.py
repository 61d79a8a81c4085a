"""A stretch of a recording to see and to hear, without reading the rest of the file.

A picture of ten minutes has a few hundred columns: each shows a short sample of its stretch, read from where it
stands. A short stretch is read whole. What is heard of a wide-band recording is what a tuned receiver would give.
"""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from earwitness import audio
from earwitness.errors import InputError
from earwitness.sound.heterodyne import busiest_centre, fold

Samples = NDArray[np.float32]
FRAME = 1024  # samples behind one column of the spectrum
WHOLE = 6_000_000  # so many samples are read in one piece; of more, samples of each column
FRAMES_A_COLUMN = 4
MOST_HEARD_S = 60.0
HEARD_RATE_HZ = 16_000.0
WIDE_BAND_HZ = 96_000
QUIETEST_DB, SPAN_DB = -140.0, 60.0
COLUMNS_A_PIECE = {"OPUS": 4, "ALAC": 2}  # where a decoder takes long to find a place
CIVIDIS = np.array(  # 21 even steps of matplotlib's cividis (Nuñez, Anderton, Renslow 2018)
    [[0, 34, 78], [0, 43, 98], [8, 51, 112], [36, 60, 110], [53, 69, 108], [67, 78, 108], [79, 87, 108],
     [91, 96, 110], [102, 105, 112], [114, 114, 116], [125, 124, 120], [136, 133, 120], [148, 142, 119],
     [161, 153, 117], [174, 163, 113], [188, 174, 108], [200, 184, 102], [214, 195, 93], [229, 207, 82],
     [243, 219, 66], [254, 232, 56]]
)  # fmt: skip


@dataclass(frozen=True)
class Stretch:
    """Which part of which file: one channel (counted from 1) between two times [s]."""

    path: Path
    channel: int
    rate_hz: float
    seconds: float
    codec: str
    start_s: float
    stop_s: float

    def within(self, start_s: float, stop_s: float) -> Stretch:
        start = min(max(0.0, start_s), max(0.0, self.seconds - 0.01))
        stop = min(self.seconds, max(stop_s, start + 0.01))
        return Stretch(self.path, self.channel, self.rate_hz, self.seconds, self.codec, start, stop)

    @property
    def length_s(self) -> float:
        return self.stop_s - self.start_s

    @property
    def wide(self) -> bool:
        return self.rate_hz >= WIDE_BAND_HZ


@dataclass(frozen=True)
class Seen:
    """Power of a stretch: decibels of full scale squared a column, (rows from low to high, columns)."""

    power_db: NDArray[np.float32]
    level_db: NDArray[np.float32]
    high_hz: float
    shown: float  # the share of the stretch that was looked at


def see(stretch: Stretch, columns: int, rows: int) -> Seen:
    """The stretch as `columns` spectra of `rows` bands each."""
    frames, shown = _frames(stretch, columns)
    window = np.hanning(FRAME).astype(np.float32)
    from scipy import fft

    level = np.empty(columns, np.float32)
    power = np.empty((FRAME // 2, columns), np.float32)
    step = max(1, 2_000_000 // (FRAME * frames.shape[1]))
    for at in range(0, columns, step):
        part = frames[at : at + step]
        level[at : at + step] = np.mean(np.square(part), axis=(1, 2))
        spectra = np.square(np.abs(fft.rfft(part * window, axis=2)[..., 1:])) / (np.sum(window**2) * FRAME / 2)
        power[:, at : at + step] = spectra.max(axis=1).T
    edges = np.linspace(0, FRAME // 2, min(rows, FRAME // 2) + 1).astype(int)[:-1]
    banded = np.maximum.reduceat(power, edges, axis=0)
    floor = np.float32(10 ** (QUIETEST_DB / 10))
    return Seen(10 * np.log10(banded + floor), 10 * np.log10(level + floor), stretch.rate_hz / 2, shown)


def _frames(stretch: Stretch, columns: int) -> tuple[NDArray[np.float32], float]:
    """(columns, frames of a column, FRAME) samples, and the share of the stretch in them."""
    count = round(stretch.length_s * stretch.rate_hz)
    if count <= WHOLE:
        samples = _read(stretch)
        if len(samples) < FRAME:
            samples = np.pad(samples, (0, FRAME - len(samples)))
        hop = len(samples) / columns
        each = int(min(max(1, np.ceil(hop / FRAME)), 8))
        starts = (np.arange(columns)[:, None] * hop + np.arange(each)[None] * hop / each).astype(int)
        starts = np.minimum(starts, len(samples) - FRAME)
        shown = min(1.0, columns * each * FRAME / len(samples))
        return np.lib.stride_tricks.sliding_window_view(samples, FRAME)[starts], shown
    return _samples_of_columns(stretch, columns, count)


def _samples_of_columns(stretch: Stretch, columns: int, count: int) -> tuple[NDArray[np.float32], float]:
    """The middle of each column's time, or of several columns' where finding a place takes long."""
    together = COLUMNS_A_PIECE.get(stretch.codec, 1)
    places = -(-columns // together)
    wanted = FRAMES_A_COLUMN * FRAME
    long_s = wanted / stretch.rate_hz
    middles = stretch.start_s + (np.arange(places) + 0.5) * stretch.length_s / places
    starts = [max(0.0, float(middle) - long_s / 2) for middle in middles]
    frames = np.zeros((places, FRAMES_A_COLUMN, FRAME), np.float32)
    for number, piece in enumerate(audio.pieces(stretch.path, starts, long_s)):
        part = _channel(piece, stretch)[:wanted]
        frames[number].reshape(-1)[: len(part)] = part
    return np.repeat(frames, together, axis=0)[:columns], places * wanted / count


def _read(stretch: Stretch) -> Samples:
    return _channel(next(audio.pieces(stretch.path, [stretch.start_s], stretch.length_s)), stretch)


def _channel(samples: Samples, stretch: Stretch) -> Samples:
    return np.ascontiguousarray(samples[:, min(stretch.channel, samples.shape[1]) - 1])


def picture(seen: Seen) -> bytes:
    """The spectrogram as PNG, the highest frequency on top, from quiet (dark) to loud (bright)."""
    from PIL import Image

    power = seen.power_db
    bottom, top = (float(q) for q in np.quantile(power, [0.05, 0.998]))
    bottom = max(bottom, top - SPAN_DB)
    shades = np.clip((power - bottom) / max(top - bottom, 1.0) * 63, 0, 63).astype(np.uint8)
    image = Image.fromarray(np.ascontiguousarray(shades[::-1]), "P")
    at = np.linspace(0, len(CIVIDIS) - 1, 64)
    palette = np.stack([np.interp(at, np.arange(len(CIVIDIS)), CIVIDIS[:, c]) for c in range(3)], axis=1)
    image.putpalette(np.rint(palette).astype(np.uint8).tobytes())
    out = io.BytesIO()
    image.save(out, "PNG", compress_level=4)
    return out.getvalue()


def hear(stretch: Stretch, tuned_hz: float | None = None) -> bytes:
    """The stretch as WAV, 16 bit: as it is, or as a receiver tuned to `tuned_hz` would give it."""
    if stretch.length_s > MOST_HEARD_S:
        raise InputError("to", stretch.stop_s, f"at most {MOST_HEARD_S:g} s after the start of the stretch")
    samples, rate = _read(stretch), stretch.rate_hz
    if stretch.wide:
        samples = fold(samples, rate, tuned_hz or tuning(stretch), out_hz=HEARD_RATE_HZ)
        rate = HEARD_RATE_HZ
    return _wav(samples, round(rate))


@lru_cache(maxsize=64)
def _busiest(path: Path, channel: int, rate_hz: float) -> float:
    samples = next(audio.pieces(path, [0.0], 2.0))
    return busiest_centre(np.ascontiguousarray(samples[:, min(channel, samples.shape[1]) - 1]), rate_hz)


def tuning(stretch: Stretch) -> float:
    """Where to tune a wide-band recording first [Hz]: where it is busiest."""
    return _busiest(stretch.path, stretch.channel, stretch.rate_hz)


def _wav(samples: Samples, rate: int) -> bytes:
    data = np.rint(np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes()
    head = struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + len(data), b"WAVE", b"fmt ", 16, 1, 1, rate, 2 * rate, 2, 16,
                       b"data", len(data))  # fmt: skip
    return head + data
