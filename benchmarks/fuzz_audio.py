"""Mutated and truncated sound files: nothing but AudioError, no crash, no hang, no giant.

    python benchmarks/fuzz_audio.py [SECONDS] [SEED]

Seeds of every format the project reads are mangled (header bytes, lengths, cuts, splices, noise) and looked at, read
and examined in a child process, 100 files at a time; a child that dies or stalls names its file, which is kept under
the folder that is printed.
"""

from __future__ import annotations

import multiprocessing
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np
import soundfile

from earwitness.audio import AudioError, blocks, look
from earwitness.audio.recording import silenced
from earwitness.sound.fitness import Examiner

BATCH, PATIENCE_S = 100, 120
LENGTHS = (0, 1, 2, 0x7F, 0xFF, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFE, 0xFFFFFFFF)


def seeds(folder: Path) -> list[bytes]:
    rng = np.random.default_rng(0)
    sound = (0.2 * rng.standard_normal((6000, 2))).astype(np.float32)
    sound[:, 1] *= np.hanning(6000)
    made = []
    for form, samples in (
        ("WAV", ("PCM_U8", "PCM_16", "PCM_24", "FLOAT", "DOUBLE", "ULAW", "IMA_ADPCM", "MS_ADPCM")),
        ("WAVEX", ("PCM_16",)),
        ("RF64", ("PCM_16",)),
        ("W64", ("PCM_16",)),
        ("AIFF", ("PCM_16", "FLOAT")),
        ("CAF", ("PCM_16",)),
        ("AU", ("PCM_16",)),
        ("FLAC", ("PCM_16", "PCM_24")),
        ("OGG", ("VORBIS", "OPUS")),
        ("MP3", ("MPEG_LAYER_III",)),
    ):
        for sample in samples:
            path = folder / "seed"
            with soundfile.SoundFile(path, "w", 16_000, 2, sample, format=form) as file:
                file.write(sound)
            made.append(path.read_bytes())
    return made + phone_seeds(folder, sound)


def phone_seeds(folder: Path, sound: np.ndarray) -> list[bytes]:
    try:
        import av
    except ImportError:
        return []
    made = []
    for codec, container in (("aac", "ipod"), ("alac", "ipod"), ("libopus", "webm"), ("aac", "adts")):
        path = folder / "seed"
        with av.open(str(path), "w", format=container) as out:
            stream = out.add_stream(codec, rate=48_000)
            stream.layout = "stereo"
            for at in range(0, len(sound), 960):
                part = np.ascontiguousarray(sound[at : at + 960].T)
                frame = av.AudioFrame.from_ndarray(part, "fltp", "stereo")
                frame.sample_rate, frame.pts = 48_000, at
                out.mux(stream.encode(frame))
            out.mux(stream.encode(None))
        made.append(path.read_bytes())
    return made


def mangled(data: bytes, others: list[bytes], rng: np.random.Generator) -> bytes:
    out = bytearray(data)
    for _ in range(int(rng.integers(1, 6))):
        how, head = rng.integers(0, 8), min(len(out), 200)
        if not head:
            break
        at = int(rng.integers(0, head if rng.random() < 0.7 else len(out)))
        if how == 0:
            out[at] = int(rng.integers(256))
        elif how == 1:
            out[at] ^= 1 << int(rng.integers(8))
        elif how == 2:
            width = int(rng.choice([2, 4, 8]))
            value = int(rng.choice(LENGTHS)) & ((1 << 8 * width) - 1)
            out[at : at + width] = value.to_bytes(width, "big" if rng.random() < 0.4 else "little")
        elif how == 3:
            del out[at : at + int(rng.integers(1, 64))]
        elif how == 4:
            del out[int(rng.integers(0, len(out))) :]
        elif how == 5:
            out[at:at] = rng.bytes(int(rng.integers(1, 64)))
        elif how == 6:
            other = others[int(rng.integers(len(others)))]
            cut = int(rng.integers(0, len(other)))
            out[at:] = other[cut:]
        else:
            out[at : at + 16] = bytes(16)
    return bytes(out)


def judged(path: Path) -> str:
    try:
        info = look(path)
        examiner, seen = Examiner(info.rate_hz, frames_promised=info.frames_promised, cut_short=info.cut_short), 0
        for block in blocks(path):
            assert block.dtype == np.float32 and block.shape[1] >= 1 and not np.isinf(block).any()
            assert np.isfinite(silenced(block)).all()
            seen += len(block)
            examiner.add(block[:, 0])
        examiner.report()
    except AudioError as error:
        assert "\n" not in str(error)
        return error.sentence.code
    return "read" if seen else "read, nothing in it"


def child(folder: str, pipe) -> None:
    for path in sorted(Path(folder).glob("*.bin")):
        pipe.send((path.name, None, 0.0))
        began = time.perf_counter()
        try:
            result = judged(path)
        except Exception as error:  # what this hunts for
            result = f"FAILED {type(error).__name__}: {error}"
        pipe.send((path.name, result, time.perf_counter() - began))
    pipe.close()


def main(seconds: float = 180.0, seed: int = 0) -> int:
    folder = Path(tempfile.mkdtemp(prefix="fuzz-audio-"))
    originals = seeds(folder)
    counts: Counter[str] = Counter()
    faults, slowest, files, began = [], 0.0, 0, time.monotonic()
    spawn = multiprocessing.get_context("spawn")
    while time.monotonic() - began < seconds:
        rng = np.random.default_rng([seed, files])
        batch = folder / "batch"
        shutil.rmtree(batch, ignore_errors=True)
        batch.mkdir()
        for i in range(BATCH):
            (batch / f"{i:03}.bin").write_bytes(mangled(originals[int(rng.integers(len(originals)))], originals, rng))
        files += BATCH
        mine, theirs = spawn.Pipe(duplex=False)
        process = spawn.Process(target=child, args=(str(batch), theirs))
        process.start()
        theirs.close()
        name, done = None, 0
        try:
            while done < BATCH:
                if not mine.poll(PATIENCE_S):
                    raise TimeoutError
                name, result, took = mine.recv()
                if result is not None:
                    done += 1
                    slowest = max(slowest, took)
                    counts["FAILED" if result.startswith("FAILED") else result] += 1
                    if result.startswith("FAILED"):
                        faults.append((keep(batch / name, folder, files), result))
        except (EOFError, TimeoutError) as error:
            how = "stalled" if isinstance(error, TimeoutError) else "died"
            faults.append((keep(batch / (name or "000.bin"), folder, files), how))
            process.kill()
        process.join()
    print(f"{files} files in {time.monotonic() - began:.0f} s, the slowest {slowest:.2f} s")
    for result, count in counts.most_common():
        print(f"  {count:6} {result}")
    for path, result in faults:
        print(f"  {path}: {result}")
    if not faults:
        shutil.rmtree(folder)
    return 1 if faults else 0


def keep(path: Path, folder: Path, number: int) -> Path:
    return Path(shutil.copy(path, folder / f"{number}-{path.name}"))


if __name__ == "__main__":
    sys.exit(main(*(float(a) if i == 0 else int(a) for i, a in enumerate(sys.argv[1:3]))))
