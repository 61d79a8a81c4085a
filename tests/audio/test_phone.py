"""What phones record, and what is said where the extra that reads it is missing."""

from __future__ import annotations

import builtins

import numpy as np
import pytest

from earwitness.audio import AudioError, look, read

av = pytest.importorskip("av")


def stored(path, codec: str, rate: int, seconds: float = 2.0, container: str | None = None):
    t = np.arange(round(seconds * rate)) / rate
    sound = np.stack([0.4 * np.sin(2 * np.pi * 440 * t), 0.2 * np.sin(2 * np.pi * 1000 * t)]).astype(np.float32)
    with av.open(str(path), "w", format=container) as out:
        stream = out.add_stream(codec, rate=rate)
        stream.layout = "stereo"
        for at in range(0, sound.shape[1], 960):
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(sound[:, at : at + 960]), "fltp", "stereo")
            frame.sample_rate, frame.pts = rate, at
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def tone(samples: np.ndarray, hz: float, rate: int) -> float:
    t = np.arange(len(samples)) / rate
    return float(2 * abs(np.mean(samples * np.exp(-2j * np.pi * hz * t))))


@pytest.mark.parametrize(
    ("codec", "rate", "container", "lossy"),
    [
        ("aac", 44_100, "ipod", True),
        ("alac", 48_000, "ipod", False),
        ("libopus", 48_000, "webm", True),
        ("aac", 48_000, "adts", True),
    ],
)
def test_phone_formats_are_read(tmp_path, codec, rate, container, lossy):
    path = stored(tmp_path / "memo", codec, rate, container=container)
    info = look(path)
    assert (info.rate_hz, info.channels, info.lossy) == (rate, 2, lossy)
    assert info.seconds == pytest.approx(2.0, abs=0.3)
    sound = read(path)
    middle = sound[rate // 2 : rate * 3 // 2]
    assert tone(middle[:, 0], 440, rate) == pytest.approx(0.4, rel=0.05)
    assert tone(middle[:, 1], 1000, rate) == pytest.approx(0.2, rel=0.05)
    assert len(read(path, 0.5, 1.0)) == rate


def test_a_page_that_writes_no_length_is_counted(tmp_path):
    """A browser's recorder streams its WebM and leaves the duration out."""
    whole = stored(tmp_path / "memo", "libopus", 48_000, container="webm").read_bytes()
    at = whole.find(b"\x44\x89\x88")  # Duration, eight bytes long
    assert at > 0
    path = tmp_path / "live"
    path.write_bytes(whole[:at] + b"\xec\x89" + bytes(9) + whole[at + 11 :])  # the element Void in its place
    info = look(path)
    assert info.frames_promised is None and info.seconds == pytest.approx(2.0, abs=0.1)


def test_a_memo_cut_off_before_its_index_is_refused_in_words(tmp_path):
    path = stored(tmp_path / "memo.m4a", "aac", 44_100, container="ipod")
    path.write_bytes(path.read_bytes()[:5000])
    with pytest.raises(AudioError, match="Send it again"):
        look(path)


def test_without_the_extra_one_line_says_how_to_get_it(tmp_path, monkeypatch):
    path = stored(tmp_path / "memo.m4a", "aac", 44_100, container="ipod")
    real = builtins.__import__

    def without_av(name, *rest, **named):
        if name == "av":
            raise ImportError(name)
        return real(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", without_av)
    with pytest.raises(AudioError) as raised:
        look(path)
    assert raised.value.sentence.code == "needs-phone-extra"
    assert 'pip install "earwitness[phone]"' in str(raised.value) and "\n" not in str(raised.value)
