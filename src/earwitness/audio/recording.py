"""Read a recording: what it is, block by block, or a part of it whole."""

from __future__ import annotations

import hashlib
import io
import os
import stat
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from earwitness.audio import phone
from earwitness.audio.ahead import Onward, needed_ahead
from earwitness.audio.container import Header, header_of
from earwitness.audio.error import AudioError

Frames = NDArray[np.float32]
BLOCK = 1 << 16
MOST_SECONDS = 24 * 3600  # what a header may claim; longer recordings are read to here
MOST_CHANNELS = 16
RATES_HZ = (1_000, 2_000_000)
_LOUDEST = np.float32(1e9)  # a float file may hold anything; its square must stay a number
_SMALLEST_MP3_BYTE_RATE = 1_000  # 8 kbit/s, the lowest MPEG audio rate: what a file of a given size can hold
_STDERR = threading.Lock()
_LOSSY_CODECS = ("ULAW", "ALAW", "ADPCM", "GSM610", "VOX", "G721", "G723", "NMS", "VORBIS", "OPUS", "MPEG", "DPCM")


@dataclass(frozen=True)
class RecordingInfo:
    """What a sound file says of itself.

    frames : what the file can hold; the count of decoded frames is the last word
    frames_promised : what its header claims; None where it claims nothing
    cut_short : the file itself shows that its end is missing
    unfinished : the recorder never wrote the length (it was stopped hard); all that is there is read
    """

    path: Path
    sha256: str
    seconds: float
    rate_hz: int
    channels: int
    codec: str
    container: str
    lossy: bool
    frames: int
    frames_promised: int | None
    cut_short: bool = False
    unfinished: bool = False


def look(path: str | os.PathLike[str]) -> RecordingInfo:
    """What the recording at `path` is, without decoding it; AudioError where it is none."""
    path = Path(path)
    header, size = _header(path)
    with path.open("rb") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    if header.container in phone.CONTAINERS:
        told = phone.look(path)
        rate, channels, codec, frames, lossy = told.rate_hz, told.channels, told.codec, told.frames, told.lossy
        promised = frames if told.promised else None
    else:
        with _opened(path, header) as file:
            rate, channels, codec, frames = file.samplerate, file.channels, file.subtype, file.frames
        lossy = any(name in codec for name in _LOSSY_CODECS)
        promised = header.promised if header.promised is not None or header.unfinished else frames
        frames = min(frames, promised) if promised is not None else frames
    _checked(path, rate, channels)
    most = MOST_SECONDS * rate
    if "MPEG" in codec:
        most = min(most, size * rate // _SMALLEST_MP3_BYTE_RATE)
    frames = max(0, min(frames, most))
    return RecordingInfo(
        path=path,
        sha256=sha256,
        seconds=frames / rate,
        rate_hz=rate,
        channels=channels,
        codec=codec,
        container=header.container,
        lossy=lossy,
        frames=frames,
        frames_promised=promised,
        cut_short=header.cut_short or (header.container == "AIFF" and promised is not None and promised > frames),
        unfinished=header.unfinished,
    )


def blocks(
    path: str | os.PathLike[str], frames: int = BLOCK, *, start_s: float = 0.0, seconds: float | None = None
) -> Iterator[Frames]:
    """The recording in blocks of at most `frames` frames, each (n, channels) float32, in bounded memory.

    A file that is damaged half-way gives what stands before the damage. Numbers that are none stay NaN, to be counted.
    """
    path = Path(path)
    header, _ = _header(path)
    source = phone.blocks(path) if header.container in phone.CONTAINERS else _decoded(path, header, frames, start_s)
    skip_s = start_s if header.container in phone.CONTAINERS else 0.0
    skip: int | None = None
    left: int | None = None
    for rate, block in source:
        if skip is None:
            skip = round(skip_s * rate)
            left = round(MOST_SECONDS * rate if seconds is None else max(0.0, seconds) * rate)
        assert left is not None
        part = block[skip:][:left]
        skip = max(0, skip - len(block))
        left -= len(part)
        for at in range(0, len(part), frames):
            yield _bounded(part[at : at + frames])
        if left <= 0:
            return


def read(path: str | os.PathLike[str], start_s: float = 0.0, seconds: float | None = None) -> Frames:
    """The recording, or `seconds` of it from `start_s` on, as one (n, channels) float32 array without NaN."""
    parts = [silenced(block) for block in blocks(path, start_s=start_s, seconds=seconds)]
    if not parts:
        return np.zeros((0, look(path).channels), np.float32)
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


def refuse_no_sound(path: Path) -> None:
    """AudioError where the file at `path` cannot be opened, is empty or is of no kind of sound; a damaged one is let
    by, to be read as far as it goes."""
    _header(path)


def _header(path: Path) -> tuple[Header, int]:
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise AudioError("not-a-file", "“{file}” is not a file; name the recording itself.", file=path.name)
        with path.open("rb") as file:
            header = header_of(file, status.st_size)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name cannot be used"
        raise AudioError(
            "no-recording",
            "The recording “{file}” cannot be opened ({reason}); one that you may read would do.",
            file=path.name,
            reason=reason,
        ) from None
    if status.st_size == 0:
        raise AudioError(
            "empty-file", "The recording “{file}” is empty (0 bytes); copy it again from the recorder.", file=path.name
        )
    if header is None:
        raise AudioError(
            "not-audio",
            "“{file}” is not a sound file known here; WAV, FLAC, OGG, MP3, AIFF, M4A or WebM would do.",
            file=path.name,
        )
    return header, status.st_size


def _checked(path: Path, rate: int, channels: int) -> None:
    if not RATES_HZ[0] <= rate <= RATES_HZ[1] or not 1 <= channels <= MOST_CHANNELS:
        raise AudioError(
            "odd-recording",
            "“{file}” claims {channels} channels at {rate_hz} samples a second; "
            "1 to {most} channels at 1,000 to 2,000,000 can be read.",
            file=path.name,
            channels=channels,
            rate_hz=rate,
            most=MOST_CHANNELS,
        )


class _Tail(io.FileIO):
    """A file seen from its byte `start` on."""

    def __init__(self, path: Path, start: int) -> None:
        super().__init__(path)
        self._start = start
        self.seek(0)

    def seek(self, offset: int, whence: int = os.SEEK_SET, /) -> int:
        return super().seek(offset + (self._start if whence == os.SEEK_SET else 0), whence) - self._start

    def tell(self) -> int:
        return super().tell() - self._start


@contextmanager
def _opened(path: Path, header: Header) -> Iterator[soundfile.SoundFile]:
    """libsndfile on the file's content (by descriptor, so that its name says nothing)."""
    start, plain = 0, {}
    if header.unfinished and header.flat is not None:  # no length was written: all that follows the header is sound
        start, name, rate, channels = header.flat
        _checked(path, rate, channels)
        plain = {"format": "RAW", "subtype": name, "samplerate": rate, "channels": channels, "endian": "LITTLE"}
    with _Tail(path, start) as raw:
        try:
            with _hushed(header):
                file = Onward(raw if start else raw.fileno(), closefd=False, **plain)
        except (soundfile.SoundFileError, ValueError, TypeError, RuntimeError):
            raise AudioError(
                "damaged",
                "“{file}” looks like {container} but cannot be decoded: damaged, cut short or of a rare kind. "
                "Copy it again from the recorder, or save it as WAV.",
                file=path.name,
                container=header.container,
            ) from None
        with file:
            _checked(path, file.samplerate, file.channels)
            yield file


def _decoded(path: Path, header: Header, frames: int, start_s: float) -> Iterator[tuple[int, Frames]]:
    """Blocks as libsndfile decodes them. Where it stumbles, once more from there in small steps, then the end."""
    done, step, start = 0, frames, 0
    while True:
        with _opened(path, header) as file:
            if done == 0:
                start = max(0, round(start_s * file.samplerate))
            try:
                if start + done:
                    if file.frames <= start + done:
                        return
                    ahead = 0 if done else min(start, needed_ahead(path, file))  # not over damage again
                    with _hushed(header):
                        file.seek(start + done - ahead)
                    _next(file, ahead, header)
                while len(block := _next(file, step, header)):
                    done += len(block)
                    yield file.samplerate, block
                return
            except (soundfile.SoundFileError, RuntimeError):
                if step <= 1024:
                    return
                step = 1024


def _next(file: soundfile.SoundFile, frames: int, header: Header) -> Frames:
    with _hushed(header):
        block: Frames = file.read(frames, dtype="float32", always_2d=True)
    return block


@contextmanager
def _hushed(header: Header) -> Iterator[None]:
    """The MP3 decoder tells of damage on the process's stderr, past Python, in words that help nobody: what is missing
    in the end is counted by frames. One thread at a time, since the descriptor is the whole process's."""
    if header.container != "MP3" or sys.__stderr__ is None:
        yield
        return
    with _STDERR:
        sys.__stderr__.flush()
        kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, 2)
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)
            os.close(nowhere)


def _bounded(block: Frames) -> Frames:
    """Numbers that are none as NaN, absurd ones bounded."""
    if block.size and not -_LOUDEST < block.min() <= block.max() < _LOUDEST:
        block = np.clip(np.where(np.isfinite(block), block, np.float32(np.nan)), -_LOUDEST, _LOUDEST)
    return block


def silenced(block: Frames) -> Frames:
    """A block with silence where the file has no number."""
    bounded = _bounded(block)
    return bounded if bounded is block else np.nan_to_num(bounded, nan=0.0)
