"""Files in: decode, channels, blocks. The only room that knows soundfile, soxr and PyAV.

    look(path) -> RecordingInfo       what the file says of itself, its hash, and whether it was cut short
    blocks(path, frames=65536, *, start_s=0, seconds=None) -> Iterator[(n, channels) float32]    in bounded memory
    read(path, start_s=0, seconds=None) -> (n, channels) float32
    refuse_no_sound(path)             an AudioError where it is no recording at all
    pieces(path, starts_s, seconds) -> Iterator[(n, channels) float32]    each from where it stands, to look and hear
    write_wav(path, samples, rate_hz, bits=16 | 24 | 32 | "float")     the same bytes every time
    excerpt(samples, rate_hz, seconds=6, start_s=None) -> Excerpt(data, mime, start_s, seconds)    to play in a page
    resample(samples, from_hz, to_hz) -> float32

Full scale is 1. What cannot be read raises `AudioError`, whose `sentence` says why and what would do.
The kind of a file is told by its content, never by its name. What is damaged half-way is read as far as it goes.
"""

from earwitness.audio.error import AudioError
from earwitness.audio.pieces import pieces
from earwitness.audio.recording import RecordingInfo, blocks, look, read, refuse_no_sound
from earwitness.audio.resampling import resample
from earwitness.audio.writing import Excerpt, excerpt, write_wav

__all__ = [
    "AudioError",
    "Excerpt",
    "RecordingInfo",
    "blocks",
    "excerpt",
    "look",
    "pieces",
    "read",
    "refuse_no_sound",
    "resample",
    "write_wav",
]
