"""How much of a lossy recording must be decoded before a place for the sound there to be as in the whole."""

from __future__ import annotations

import math
from pathlib import Path

import soundfile

AHEAD_S = 0.1  # what a lossy decoder must have heard before it gives the sound as it was
_OVERLAPPING = ("VORBIS", "OPUS")  # whose blocks run into each other
_MP3_S = {True: 1.2, False: 0.3}  # at the lower rates, and at 32 kHz and over: where quiet parts have fewer bits


class Onward(soundfile.SoundFile):  # type: ignore[misc]
    """Reads on where it stands. SoundFile seeks after every read to where it is already, and by that an MP3's decoder
    loses the bits that lie in the blocks before."""

    def seek(self, frames: int, whence: int = soundfile.SEEK_SET) -> int:
        if whence == soundfile.SEEK_SET and frames == self.tell():
            return frames
        return int(super().seek(frames, whence))


def needed_ahead(path: Path, file: soundfile.SoundFile) -> int:
    """Frames to decode before a place and to throw away."""
    if file.subtype == "MPEG_LAYER_III":
        return _reservoir(path.stat().st_size, file)
    return round(AHEAD_S * file.samplerate) if file.subtype in _OVERLAPPING else 0


def _reservoir(size: int, file: soundfile.SoundFile) -> int:
    """The bits of an MP3's block may lie up to 511 bytes back, 255 at the lower rates (ISO/IEC 11172-3, 13818-3): the
    fewer bits a second, the more blocks these are."""
    low = file.samplerate < 32_000
    block, most = (576, 255) if low else (1152, 511)
    head = 6 + ((9, 17) if low else (17, 32))[file.channels > 1]  # bytes of a block that hold no sound
    each = size * block / max(file.frames, block) - head
    blocks = 2 + math.ceil(most / max(1.0, each))
    return max(blocks * block, round(_MP3_S[low] * file.samplerate))
