"""What phones record (M4A/AAC, WebM), through PyAV, which is an extra because it is large."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.audio.error import AudioError

CONTAINERS = ("M4A", "AAC", "WEBM")
_LOSSLESS = ("alac", "flac", "pcm", "wavpack", "tta")


@dataclass(frozen=True)
class PhoneInfo:
    rate_hz: int
    channels: int
    codec: str
    frames: int
    promised: bool  # whether the file said so, or its frames had to be counted
    lossy: bool


def look(path: Path) -> PhoneInfo:
    """What the file says; a page's recorder writes no length into its WebM, so that must be counted."""
    container, stream = opened(path)
    with container:
        rate, channels = int(stream.codec_context.sample_rate or 0), int(stream.codec_context.channels or 0)
        codec = str(stream.codec_context.name or "unknown")
        seconds: float | None = None
        if stream.duration and stream.time_base:
            seconds = float(stream.duration * stream.time_base)
        elif container.duration:
            seconds = container.duration / 1e6
    promised = seconds is not None and 0 < seconds < 1e9
    frames = round((seconds or 0.0) * rate) if promised else sum(len(block) for _, block in blocks(path))
    return PhoneInfo(rate, channels, codec.upper(), frames, promised, _lossy(codec))


def blocks(path: Path) -> Iterator[tuple[int, NDArray[np.float32]]]:
    """(rate, (n, channels) float32) as they are decoded; what is damaged ends the stream."""
    import av

    container, stream = opened(path)
    with container:
        rate, channels = stream.codec_context.sample_rate, stream.codec_context.channels
        plain = as_float(stream)
        try:
            for frame in container.decode(stream):
                for part in plain.resample(frame):
                    block = part.to_ndarray()
                    if block.shape[0] == channels:
                        yield rate, np.ascontiguousarray(block.T, dtype=np.float32)
        except (av.error.FFmpegError, ValueError, EOFError):
            return


def as_float(stream: Any) -> Any:
    """What turns a stream's frames into 32-bit floats, a row a channel."""
    import av

    context = stream.codec_context
    return av.AudioResampler(format="fltp", layout=context.layout, rate=context.sample_rate)


def _lossy(codec: str) -> bool:
    return not codec.lower().startswith(_LOSSLESS)


def opened(path: Path) -> tuple[Any, Any]:
    try:
        import av
    except ImportError:
        raise AudioError(
            "needs-phone-extra",
            '“{file}” is a phone\'s format (M4A/AAC or WebM); to read it: pip install "earwitness[phone]"',
            file=path.name,
        ) from None
    logging.getLogger("libav").setLevel(logging.CRITICAL)
    try:
        container = av.open(str(path), metadata_errors="replace")
    except (av.error.FFmpegError, OSError, ValueError):
        raise _damaged(path) from None
    streams = [s for s in container.streams.audio if s.codec_context is not None]
    if not streams or not streams[0].codec_context.sample_rate or not streams[0].codec_context.channels:
        container.close()
        raise _damaged(path)
    return container, streams[0]


def _damaged(path: Path) -> AudioError:
    return AudioError(
        "damaged",
        "“{file}” holds no sound that can be decoded: damaged, or the recording was broken off before it was closed. "
        "Send it again from the phone.",
        file=path.name,
    )
