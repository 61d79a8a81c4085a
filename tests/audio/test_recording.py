"""Recordings as recorders leave them: every format, told by content; cut short, unfinished, lying, or no sound."""

from __future__ import annotations

import os
import pickle
import struct
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from earwitness.audio import AudioError, blocks, look, read, write_wav

RATE = 16_000
SOUND = (0.2 * np.random.default_rng(0).standard_normal((2 * RATE, 2))).clip(-0.99, 0.99).astype(np.float32)

FORMATS = [  # container, libsndfile's format, sample format, its step, lossy
    ("WAV", "WAV", "PCM_U8", 2**-7, False),
    ("WAV", "WAV", "PCM_16", 2**-15, False),
    ("WAV", "WAV", "PCM_24", 2**-23, False),
    ("WAV", "WAV", "PCM_32", 2**-24, False),
    ("WAV", "WAV", "FLOAT", 0.0, False),
    ("WAV", "WAV", "DOUBLE", 0.0, False),
    ("WAV", "WAVEX", "PCM_24", 2**-23, False),
    ("RF64", "RF64", "PCM_16", 2**-15, False),
    ("W64", "W64", "PCM_24", 2**-23, False),
    ("FLAC", "FLAC", "PCM_24", 2**-23, False),
    ("AIFF", "AIFF", "PCM_16", 2**-15, False),
    ("WAV", "WAV", "ULAW", np.inf, True),
    ("WAV", "WAV", "IMA_ADPCM", np.inf, True),
    ("OGG", "OGG", "VORBIS", np.inf, True),
    ("MP3", "MP3", "MPEG_LAYER_III", np.inf, True),
]


def stored(folder: Path, form: str, sample: str, name: str = "a.xyz") -> Path:
    path = folder / name
    with soundfile.SoundFile(path, "w", RATE, 2, sample, format=form) as file:
        file.write(SOUND)
    return path


@pytest.mark.parametrize(("container", "form", "sample", "step", "lossy"), FORMATS)
def test_every_format_is_told_by_its_content_and_read(tmp_path, container, form, sample, step, lossy):
    path = stored(tmp_path, form, sample)
    info = look(path)
    assert (info.container, info.codec, info.lossy) == (container, sample, lossy)
    assert (info.rate_hz, info.channels) == (RATE, 2) and not info.cut_short and not info.unfinished
    sound = read(path)
    assert sound.dtype == np.float32 and sound.shape[1] == 2
    assert abs(len(sound) - len(SOUND)) <= (600 if lossy else 0)
    assert info.frames == len(sound) == info.frames_promised
    first = min(len(sound), len(SOUND))
    assert np.abs(sound[:first] - SOUND[:first]).max() <= step * 1.01
    assert np.corrcoef(sound[:first, 0], SOUND[:first, 0])[0, 1] > (0.7 if lossy else 0.999)


def test_blocks_and_parts_are_the_whole(tmp_path):
    path = stored(tmp_path, "FLAC", "PCM_16")
    whole = read(path)
    pieces = list(blocks(path, 1000))
    assert max(len(p) for p in pieces) == 1000
    np.testing.assert_array_equal(np.concatenate(pieces), whole)
    np.testing.assert_array_equal(read(path, 0.5, 0.25), whole[RATE // 2 : RATE * 3 // 4])
    np.testing.assert_array_equal(read(path, 1.5, 60), whole[RATE * 3 // 2 :])
    assert read(path, 5.0).shape == (0, 2)


@pytest.mark.parametrize("form", ["WAV", "WAVEX", "RF64", "W64", "AIFF"])
def test_a_truncated_file_reads_as_far_as_it_goes_and_is_found_out(tmp_path, form):
    path = stored(tmp_path, form, "PCM_16")
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    info = look(path)
    assert info.cut_short and info.frames_promised == len(SOUND)
    assert info.frames == len(read(path)) and info.frames == pytest.approx(len(SOUND) / 2, abs=30)


@pytest.mark.parametrize("form", ["FLAC", "MP3"])
def test_a_truncated_stream_gives_fewer_frames_than_it_promised(tmp_path, form):
    path = stored(tmp_path, form, "PCM_16" if form == "FLAC" else "MPEG_LAYER_III")
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 6 // 10])
    sound = read(path)
    assert look(path).frames_promised == len(SOUND)
    assert 0.45 * len(SOUND) < len(sound) < 0.65 * len(SOUND)


def test_an_ogg_without_its_last_page_is_cut_short(tmp_path):
    path = stored(tmp_path, "OGG", "VORBIS")
    assert not look(path).cut_short
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 2 // 3])
    assert look(path).cut_short


@pytest.mark.parametrize(("sample", "length"), [("PCM_16", 0), ("PCM_24", 0), ("PCM_16", 0xFFFFFFFF)])
def test_a_recorder_stopped_hard_wrote_no_length_and_is_read_whole(tmp_path, sample, length):
    path = stored(tmp_path, "WAV", sample)
    whole = read(path)
    data = bytearray(path.read_bytes())
    at = data.find(b"data")
    data[at + 4 : at + 8] = struct.pack("<I", length)
    path.write_bytes(data)
    info = look(path)
    assert info.unfinished and info.frames_promised is None and info.frames == len(SOUND)
    np.testing.assert_array_equal(read(path), whole)
    np.testing.assert_array_equal(read(path, 1.0, 0.5), whole[RATE : RATE * 3 // 2])


def test_an_mp3_that_lies_about_its_length_is_held_to_what_its_size_can_carry(tmp_path):
    path = stored(tmp_path, "MP3", "MPEG_LAYER_III")
    data = bytearray(path.read_bytes())
    at = max(data.find(b"Xing"), data.find(b"Info"))
    assert at > 0
    data[at + 8 : at + 12] = struct.pack(">I", 50_000_000)
    path.write_bytes(data)
    info = look(path)
    assert info.frames <= len(data) * RATE // 1000
    assert len(read(path)) < 3 * RATE


def test_a_damaged_mp3_says_nothing_past_the_program(tmp_path, capfd):
    path = stored(tmp_path, "MP3", "MPEG_LAYER_III")
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 1000] = bytes(1000)
    path.write_bytes(data)
    assert len(read(path)) > 0 and len(read(path, 0.1, 0.1)) > 0
    print("heard again", file=sys.stderr)
    assert capfd.readouterr().err == "heard again\n"


def test_numbers_that_are_none_become_silence(tmp_path):
    path = tmp_path / "a.wav"
    sound = SOUND[:, 0].copy()
    sound[[5, 6, 7]] = np.nan, np.inf, 3e38
    write_wav(path, sound, RATE, "float")
    heard = read(path)[:, 0]
    assert heard[5] == heard[6] == 0 and np.isfinite(heard).all() and np.isfinite(np.dot(heard, heard))


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty-file"),
        (b"PK\x03\x04 a zip", "not-audio"),
        (b"point;level_db\n1;2", "not-audio"),
        (b"RIFF\x24\0\0\0WAVEfmt ", "damaged"),
        (b"fLaC" + bytes(100), "damaged"),
        (b"OggS" + bytes(100), "damaged"),
        (b"\0\0\0\x20ftypM4A " + bytes(100), "damaged"),
        (b"\x1a\x45\xdf\xa3" + bytes(100), "damaged"),
    ],
)
def test_what_is_no_recording_is_refused_in_one_plain_line(tmp_path, content, code):
    path = tmp_path / "round 3.wav"
    path.write_bytes(content)
    for deed in (look, read):
        with pytest.raises(AudioError) as raised:
            deed(path)
        assert raised.value.sentence.code == code and "round 3.wav" in str(raised.value)
        assert "\n" not in str(raised.value) and str(tmp_path) not in str(raised.value)


def test_missing_files_folders_and_pipes_are_refused(tmp_path):
    with pytest.raises(AudioError, match="cannot be opened"):
        look(tmp_path / "gone.wav")
    with pytest.raises(AudioError, match="not a file"):
        look(tmp_path)
    os.mkfifo(tmp_path / "pipe.wav")
    with pytest.raises(AudioError, match="not a file"):
        read(tmp_path / "pipe.wav")
    with pytest.raises(AudioError):
        look("nul\0.wav")


@pytest.mark.parametrize(("channels", "rate"), [(400, 8000), (1, 10), (1, 4_000_000_000)])
def test_absurd_claims_are_refused(tmp_path, channels, rate):
    path = tmp_path / "a.wav"
    fmt = struct.pack("<HHIIHH", 1, channels, rate, 0, 2 * channels, 16)
    path.write_bytes(b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0" + fmt + b"data" + struct.pack("<I", 8000) + bytes(8000))
    with pytest.raises(AudioError) as raised:
        look(path)
    assert raised.value.sentence.code in ("odd-recording", "damaged")


def test_the_hash_is_of_the_file_and_an_error_survives_a_process(tmp_path):
    import hashlib

    path = stored(tmp_path, "WAV", "PCM_16")
    assert look(path).sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    error = AudioError("code", "“{file}” is odd.", file="x")
    again = pickle.loads(pickle.dumps(error))
    assert isinstance(again, AudioError) and again.sentence == error.sentence and str(again) == str(error)
