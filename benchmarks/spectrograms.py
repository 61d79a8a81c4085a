"""How long ten minutes take to be seen, in every format that is taken; bar: 2 s, and a closer look reads little of it.

python benchmarks/spectrograms.py FOLDER        (makes the recordings there if they are not: 1.3 GB)
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import av
import numpy as np
import soundfile

from earwitness import audio
from earwitness.work.recording_views import Stretch, hear, picture, see

SECONDS = 600
FORMATS = {  # name: rate, subtype or codec, container (of FFmpeg, else libsndfile writes it)
    "pcm16.wav": (192_000, "PCM_16", ""),
    "pcm24.wav": (192_000, "PCM_24", ""),
    "pcm16.aiff": (192_000, "PCM_16", ""),
    "flac.flac": (192_000, "PCM_16", ""),
    "vorbis.ogg": (192_000, "VORBIS", ""),
    "alac.m4a": (192_000, "alac", "mp4"),
    "aac96.m4a": (96_000, "aac", "mp4"),
    "aac48.m4a": (48_000, "aac", "mp4"),
    "raw.aac": (48_000, "aac", "adts"),
    "mp3.mp3": (48_000, "MPEG_LAYER_III", ""),
    "opus.ogg": (48_000, "OPUS", ""),
    "opus.webm": (48_000, "libopus", "webm"),
}
BAR_S = 2.0


def make(path: Path, rate: int, codec: str, container: str) -> None:
    noise = (0.05 * np.random.default_rng(3).standard_normal(rate * 10)).astype(np.float32)
    if not container:
        with soundfile.SoundFile(path, "w", rate, 1, codec) as file:
            for _ in range(SECONDS // 10):
                for at in range(0, len(noise), rate // 10):
                    file.write(noise[at : at + rate // 10])
        return
    with av.open(str(path), "w", format=container) as out:
        stream = out.add_stream(codec, rate=rate, layout="mono")
        fitting = av.AudioResampler(format=stream.format.name, layout="mono", rate=rate)
        for number in range(SECONDS // 10):
            frame = av.AudioFrame.from_ndarray(noise[None], format="fltp", layout="mono")
            frame.sample_rate, frame.pts = rate, number * len(noise)
            for part in fitting.resample(frame):
                out.mux(stream.encode(part))
        for part in (*fitting.resample(None), None):
            out.mux(stream.encode(part))


def main() -> int:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    met = True
    for name, how in FORMATS.items():
        path = folder / name
        if not path.exists():
            make(path, *how)
        told = audio.look(path)
        whole = Stretch(path, 1, told.rate_hz, told.seconds, told.codec, 0.0, told.seconds)
        took = []
        for stretch in (whole, whole.within(100, 500), whole.within(299, 302)):
            start = time.perf_counter(), time.process_time()
            picture(see(stretch, 800, 256))
            took.append((time.perf_counter() - start[0], time.process_time() - start[1]))
        start = time.perf_counter(), time.process_time()
        hear(whole.within(300, 320))
        took.append((time.perf_counter() - start[0], time.process_time() - start[1]))
        met &= took[0][1] < BAR_S and took[2][1] < BAR_S / 4
        names = ("whole", "100 to 500 s", "299 to 302 s", "20 s to hear")
        said = "  ".join(f"{n} {wall:5.2f} s ({cpu:4.2f})" for n, (wall, cpu) in zip(names, took, strict=True))
        print(f"{name:11} {told.rate_hz / 1000:3.0f} kHz  {said}", flush=True)
    print("in brackets the processor's time")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
