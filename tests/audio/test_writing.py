"""WAV written here is read by another reader, is the same bytes every time, and excerpts play."""

from __future__ import annotations

import io
import struct

import numpy as np
import pytest
import soundfile
from scipy.io import wavfile

from earwitness.audio import excerpt, look, read, resample, write_wav
from earwitness.errors import InputError

RATE = 48_000
SOUND = (0.3 * np.random.default_rng(1).standard_normal((RATE, 2))).clip(-0.99, 0.99).astype(np.float32)


@pytest.mark.parametrize("bits", [16, 24, 32, "float"])
def test_another_reader_reads_what_was_written(tmp_path, bits):
    """Independent: scipy.io.wavfile."""
    path = tmp_path / "a.wav"
    write_wav(path, SOUND, RATE, bits)
    rate, data = wavfile.read(path)
    full = {16: 2.0**15, 24: 2.0**31, 32: 2.0**31, "float": 1.0}[bits]
    assert rate == RATE
    np.testing.assert_allclose(data / full, SOUND, atol=0.5 / 2**15 if bits == 16 else 2**-23)
    assert look(path).frames_promised == len(SOUND)


def test_equal_sound_gives_equal_bytes_and_louder_than_full_scale_is_clipped(tmp_path):
    write_wav(tmp_path / "a.wav", 5 * SOUND[:, 0], RATE)
    write_wav(tmp_path / "b.wav", 5 * SOUND[:, 0], RATE)
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()
    sound = read(tmp_path / "a.wav")
    assert sound.max() == 32767 / 32768 and sound.min() == -1


def test_an_odd_count_of_bytes_is_padded(tmp_path):
    write_wav(tmp_path / "a.wav", SOUND[:3, 0], RATE, 24)
    data = (tmp_path / "a.wav").read_bytes()
    assert len(data) == 44 + 10 and struct.unpack("<I", data[4:8])[0] == len(data) - 8
    assert len(read(tmp_path / "a.wav")) == 3


def test_other_depths_are_refused(tmp_path):
    with pytest.raises(InputError, match="bits"):
        write_wav(tmp_path / "a.wav", SOUND, RATE, 12)


def test_an_excerpt_is_cut_where_it_is_loudest_small_playable_and_reproducible():
    quiet = 0.01 * SOUND[:, 0]
    sound = np.concatenate([quiet, quiet, quiet, SOUND[:, 0], quiet, quiet])
    piece = excerpt(sound, RATE, seconds=1.0)
    assert piece.start_s == pytest.approx(3.0, abs=0.06) and piece.seconds == 1.0
    heard, rate = soundfile.read(io.BytesIO(piece.data))
    assert len(heard) / rate == pytest.approx(1.0, abs=0.1) and 0.5 < np.abs(heard).max() < 1.0
    assert piece.mime in ("audio/mpeg", "audio/flac") and len(piece.data) < 60_000
    assert excerpt(sound, RATE, seconds=1.0) == piece


def test_an_excerpt_of_silence_or_of_little_is_still_one():
    assert excerpt(np.zeros(RATE, np.float32), RATE).seconds == 1.0
    assert excerpt(SOUND[:100, 0], RATE, start_s=9.0).start_s == 0.0


def test_resampling_keeps_a_tone_and_lets_no_alias_through():
    t = np.arange(2 * RATE) / RATE
    for hz, kept in ((1000, True), (20_000, False)):
        out = resample((0.5 * np.sin(2 * np.pi * hz * t)).astype(np.float32), RATE, 16_000)
        middle = out[8000:24_000]
        assert len(out) == 32_000
        if kept:
            assert np.std(middle) * np.sqrt(2) == pytest.approx(0.5, rel=1e-3)
        else:
            assert np.abs(middle).max() < 1e-5
    with pytest.raises(InputError):
        resample(SOUND, RATE, 0)
