"""What kind of sound file this is, told by its first bytes, and how many frames its header promises.

libsndfile reads a truncated WAV without a word, so the header is counted here: RIFF/WAVE (Microsoft/IBM 1991),
RF64 (EBU Tech 3306), Wave64, AIFF, Ogg (RFC 3533).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import BinaryIO

_W64_RIFF = bytes.fromhex("726966662e91cf11a5d628db04c10000")
_W64_FMT = bytes.fromhex("666d7420f3acd3118cd100c04f8edb8a")
_W64_DATA = bytes.fromhex("64617461f3acd3118cd100c04f8edb8a")
_MOST_CHUNKS = 500
_FLAT_FORMATS = {1: "PCM", 3: "FLOAT", 6: "ALAW", 7: "ULAW"}  # one frame is `block align` bytes


@dataclass(frozen=True)
class Header:
    """What a header says. `promised` counts frames; `flat` is set where the samples stand uncompressed in the file:
    (first byte, libsndfile's name of the sample format, rate, channels)."""

    container: str
    promised: int | None = None
    cut_short: bool = False
    unfinished: bool = False  # the recorder never wrote the length
    flat: tuple[int, str, int, int] | None = None


def sniff(head: bytes) -> str | None:
    """The container's name from the first 64 bytes or so; None where it is no sound file known here."""
    if head[8:12] == b"WAVE" and head[:4] in (b"RIFF", b"RF64", b"RIFX"):
        return "RF64" if head[:4] == b"RF64" else "WAV"
    for magic, name in (
        (_W64_RIFF, "W64"),
        (b"fLaC", "FLAC"),
        (b"OggS", "OGG"),
        (b"caff", "CAF"),
        (b".snd", "AU"),
        (b"ID3", "MP3"),
        (b"\x1a\x45\xdf\xa3", "WEBM"),
    ):
        if head.startswith(magic):
            return name
    if head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
        return "AIFF"
    if head[4:8] == b"ftyp":
        return "M4A"
    if head[:2] == b"\xff\xfe" and head[3:4] == b"\x00":
        return None  # a text in UTF-16
    if len(head) > 1 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0:  # sync word of an MPEG audio frame
        return "AAC" if head[1] & 0x06 == 0 else "MP3"
    return None


def header_of(file: BinaryIO, size: int) -> Header | None:
    """Read the header of an open file of `size` bytes; None where the content is no sound known here."""
    head = file.read(64)
    container = sniff(head)
    if container is None:
        return None
    try:
        if container in ("WAV", "RF64") and head[:4] != b"RIFX":
            return _wave(file, size, container)
        if container == "W64":
            return _wave64(file, size)
        if container == "AIFF":
            return _aiff(file)
        if container == "OGG":
            return Header("OGG", cut_short=not _ogg_ends(file, size))
    except struct.error:  # the file ends inside its header; the decoder will say what it makes of it
        pass
    return Header(container)


def _format(body: bytes) -> tuple[int, str | None, int, int, int]:
    tag, channels, rate, _, align, bits = struct.unpack("<HHIIHH", body[:16])
    if tag == 0xFFFE and len(body) >= 26:
        (tag,) = struct.unpack("<H", body[24:26])
    name = _FLAT_FORMATS.get(tag)
    if name == "PCM":
        name = {8: "PCM_U8", 16: "PCM_16", 24: "PCM_24", 32: "PCM_32"}.get(bits)
    elif name == "FLOAT":
        name = {32: "FLOAT", 64: "DOUBLE"}.get(bits)
    return align, name, rate, channels, tag


def _counted(
    container: str, fmt: tuple[int, str | None, int, int, int] | None, start: int, data: int, size: int
) -> Header:
    if fmt is None or fmt[4] not in _FLAT_FORMATS or fmt[0] <= 0:  # compressed: only the count of bytes is known
        return Header(container, cut_short=data != 0xFFFFFFFF and data > size - start)
    align, name, rate, channels, _ = fmt
    there = max(0, size - start) // align
    unfinished = data == 0xFFFFFFFF or (data == 0 and there > 0)
    promised = None if unfinished else data // align
    flat = (start, name, rate, channels) if name and align * 8 == channels * _width(name) else None
    return Header(container, promised, promised is not None and promised > there, unfinished, flat)


def _width(name: str) -> int:
    return {"PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 32, "DOUBLE": 64}.get(name, 8)


def _wave(file: BinaryIO, size: int, container: str) -> Header:
    at, fmt, long_data = 12, None, None
    for _ in range(_MOST_CHUNKS):
        file.seek(at)
        name, length = struct.unpack("<4sI", file.read(8))
        if name == b"ds64":
            (long_data,) = struct.unpack("<8xQ", file.read(16))
        elif name == b"fmt ":
            fmt = _format(file.read(min(length, 64)))
        elif name == b"data":
            if length == 0xFFFFFFFF and container == "RF64" and long_data is not None:
                length = long_data
            return _counted(container, fmt, at + 8, length, size)
        at += 8 + length + (length & 1)
    return Header(container)


def _wave64(file: BinaryIO, size: int) -> Header:
    at, fmt = 40, None
    for _ in range(_MOST_CHUNKS):
        file.seek(at)
        name, length = struct.unpack("<16sQ", file.read(24))
        if name == _W64_FMT:
            fmt = _format(file.read(min(max(0, length - 24), 64)))
        elif name == _W64_DATA:
            return _counted("W64", fmt, at + 24, max(0, length - 24), size)
        if length < 24:
            break
        at += (length + 7) & ~7
        if at > size:
            break
    return Header("W64")


def _aiff(file: BinaryIO) -> Header:
    at = 12
    for _ in range(_MOST_CHUNKS):
        file.seek(at)
        name, length = struct.unpack(">4sI", file.read(8))
        if name == b"COMM":
            (frames,) = struct.unpack(">2xI", file.read(6))
            return Header("AIFF", frames)
        at += 8 + length + (length & 1)
    return Header("AIFF")


def _ogg_ends(file: BinaryIO, size: int) -> bool:
    """Whether the last page that stands in the file is marked as the last of its stream."""
    file.seek(max(0, size - 0x20000))
    tail = file.read(0x20000)
    at = tail.rfind(b"OggS")
    return at >= 0 and at + 5 < len(tail) and bool(tail[at + 5] & 0x04)
