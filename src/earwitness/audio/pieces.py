"""Short pieces of a long recording, each read from where it stands and not from the beginning: for looking and hearing.

A phone's container tells times to the millisecond at best, so a piece may stand a millisecond beside; what is judged is
read by `read` and `blocks`, to the sample.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from earwitness.audio import phone
from earwitness.audio.ahead import AHEAD_S, needed_ahead
from earwitness.audio.error import AudioError
from earwitness.audio.recording import Frames, _header, _next, _opened, silenced

_UNINDEXED = ("AAC",)  # where a place can only be found by counting what stands before it, without decoding that


def pieces(path: str | os.PathLike[str], starts_s: Sequence[float], seconds: float) -> Iterator[Frames]:
    """Of each start, in rising order, `seconds` of the recording as (n, channels) float32; less, or nothing, where the
    recording ends or is damaged."""
    path = Path(path)
    header, _ = _header(path)
    if header.container in phone.CONTAINERS:
        yield from _from_phone(path, starts_s, seconds, indexed=header.container not in _UNINDEXED)
        return
    with _opened(path, header) as file:
        frames = max(1, round(seconds * file.samplerate))
        before = needed_ahead(path, file)
        for start in starts_s:
            block = np.zeros((0, file.channels), np.float32)
            try:
                place = round(start * file.samplerate)
                if place < file.frames:
                    ahead = min(before, place)
                    file.seek(place - ahead)
                    block = silenced(_next(file, min(frames, file.frames - place) + ahead, header))[ahead:]
            except (soundfile.SoundFileError, RuntimeError):
                pass
            yield block


def _from_phone(path: Path, starts_s: Sequence[float], seconds: float, *, indexed: bool) -> Iterator[Frames]:
    import av

    container, stream = phone.opened(path)
    with container:
        rate, channels = int(stream.codec_context.sample_rate), int(stream.codec_context.channels)
        packets = None if indexed else container.demux(stream)
        for start in starts_s:
            block = np.zeros((0, channels), np.float32)
            try:
                if indexed:
                    ahead = start - AHEAD_S  # before the first sound lies what a decoder throws away
                    container.seek(int((ahead + _begin(stream)) / stream.time_base), stream=stream)
                    packets = container.demux(stream)
                assert packets is not None
                block = _decoded(packets, stream, start, round(seconds * rate), rate)
            except (av.error.FFmpegError, AudioError, ValueError, EOFError):
                pass
            yield block


def _begin(stream: Any) -> float:
    return float((stream.start_time or 0) * stream.time_base)


def _decoded(packets: Iterator[Any], stream: Any, start_s: float, frames: int, rate: int) -> Frames:
    """From packets that begin before `start_s`, those that are needed decoded, and of them the piece."""
    begin, plain = _begin(stream), None
    found: list[Frames] = []
    missing = frames
    for packet in packets:
        if packet.pts is None:
            continue
        if float(packet.pts * stream.time_base) - begin < start_s - 2 * AHEAD_S:
            continue
        for frame in packet.decode():
            at = round((float(frame.pts * stream.time_base) - begin - start_s) * rate)
            plain = plain or phone.as_float(stream)
            for part in plain.resample(frame):
                block = np.ascontiguousarray(part.to_ndarray().T, dtype=np.float32)
                block = block[max(0, -at) :][:missing]
                if len(block):
                    found.append(block)
                    missing -= len(block)
        if missing <= 0:
            break
    channels = int(stream.codec_context.channels)
    return silenced(np.concatenate(found)) if found else np.zeros((0, channels), np.float32)
