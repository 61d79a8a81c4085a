"""A piece read from where it stands is the same sound as in the recording read from its beginning."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from earwitness import audio

SECONDS = 20
FORMATS = {  # name: rate, libsndfile's subtype or the codec and container of FFmpeg
    "a.wav": (192_000, "PCM_16", ""),
    "a24.wav": (96_000, "PCM_24", ""),
    "a.aiff": (48_000, "PCM_16", ""),
    "a.flac": (192_000, "PCM_24", ""),
    "a.ogg": (48_000, "VORBIS", ""),
    "opus.ogg": (48_000, "OPUS", ""),
    "a.mp3": (44_100, "MPEG_LAYER_III", ""),
    "aac.m4a": (48_000, "aac", "mp4"),
    "alac.m4a": (96_000, "alac", "mp4"),
    "raw.aac": (48_000, "aac", "adts"),
    "opus.webm": (48_000, "libopus", "webm"),
}


def sound(rate: int) -> np.ndarray:
    """A tone that rises from 500 Hz, 300 Hz a second, so that every place is told from every other."""
    time = np.arange(rate * SECONDS) / rate
    return (0.5 * np.sin(2 * np.pi * (500 + 150 * time) * time)).astype(np.float32)


def written(path: Path, rate: int, codec: str, container: str) -> Path:
    samples = sound(rate)
    if not container:
        with soundfile.SoundFile(path, "w", rate, 1, codec) as file:
            for at in range(0, len(samples), rate // 10):
                file.write(samples[at : at + rate // 10])
        return path
    with av.open(str(path), "w", format=container) as out:
        stream = out.add_stream(codec, rate=rate, layout="mono")
        fitting = av.AudioResampler(format=stream.format.name, layout="mono", rate=rate)
        frame = av.AudioFrame.from_ndarray(samples[None], format="fltp", layout="mono")
        frame.sample_rate, frame.pts = rate, 0
        for part in (*fitting.resample(frame), *fitting.resample(None), None):
            for packet in stream.encode(part):
                out.mux(packet)
    return path


@pytest.mark.parametrize("name", FORMATS)
def test_a_piece_is_what_stands_there(tmp_path, name):
    rate, codec, container = FORMATS[name]
    path = written(tmp_path / name, rate, codec, container)
    starts = [0.0, 0.7, 7.123, 12.5, 18.99]
    whole = audio.read(path)[:, 0]
    found = list(audio.pieces(path, starts, 0.5))
    slack = 0 if container != "webm" else round(0.001 * rate)  # which tells times in milliseconds
    for start, piece in zip(starts, found, strict=True):
        assert piece.shape == (rate // 2, 1) and piece.dtype == np.float32
        there = round(start * rate)
        near = [
            np.sqrt(np.mean(np.square(piece[: rate // 4, 0] - whole[at : at + rate // 4])))
            for at in range(max(0, there - slack), there + slack + 1)
        ]
        loud = np.sqrt(np.mean(np.square(piece)))
        assert min(near) < 0.05 * loud, (name, start)


@pytest.mark.parametrize("name", ["a.wav", "a.flac", "a.mp3", "opus.ogg", "aac.m4a", "raw.aac", "opus.webm"])
def test_beyond_the_end_there_is_nothing(tmp_path, name):
    path = written(tmp_path / name, *FORMATS[name])
    last, none = audio.pieces(path, [SECONDS - 0.05, SECONDS + 5.0], 0.5)
    assert 0 < len(last) < 0.2 * audio.look(path).rate_hz
    assert len(none) == 0


def test_what_is_damaged_gives_what_is_left(tmp_path):
    path = written(tmp_path / "a.flac", *FORMATS["a.flac"])
    data = bytearray(path.read_bytes())
    path.write_bytes(bytes(data[: len(data) // 2]))
    first, later = audio.pieces(path, [1.0, 15.0], 0.5)
    assert len(first) == 96_000 and len(later) == 0


STEADY = {  # rate, channels, bit rate, compression (1 the most): the fewer bits, the further back a block's bits lie
    "usual": (44_100, 1, "CONSTANT", 0.5),
    "small": (48_000, 2, "VARIABLE", 0.99),
    "low rate": (16_000, 1, "VARIABLE", 0.5),
    "few bits": (16_000, 2, "VARIABLE", 0.5),
}


@pytest.mark.parametrize("name", STEADY)
def test_a_steady_tone_in_an_mp3_has_no_break(tmp_path, name):
    """Neither where a piece begins nor between the blocks in which the whole is read."""
    rate, channels, mode, compression = STEADY[name]
    path, tone = tmp_path / "a.mp3", 0.3 * np.sin(2 * np.pi * 1000 * np.arange(12 * rate) / rate)
    with soundfile.SoundFile(
        path, "w", rate, channels, "MPEG_LAYER_III", format="MP3", compression_level=compression, bitrate_mode=mode
    ) as file:
        file.write(np.stack([tone] * channels, axis=1))
    heard = {"whole": audio.read(path)[rate : 11 * rate], "from 5 s": audio.read(path, 5.0, 2.0)}
    starts = np.linspace(0.5, 10.0, 25)
    heard |= {f"at {s:.2f} s": p for s, p in zip(starts, audio.pieces(path, starts, 0.5), strict=True)}
    for where, samples in heard.items():
        time = np.arange(len(samples)) / rate
        waves = np.stack([np.sin(2 * np.pi * 1000 * time), np.cos(2 * np.pi * 1000 * time)], axis=1)
        fitted, *_ = np.linalg.lstsq(waves, samples[:, 0], rcond=None)
        assert np.hypot(*fitted) == pytest.approx(0.3, rel=0.1), where
        assert np.abs(samples[:, 0] - waves @ fitted).max() < 0.03, where
