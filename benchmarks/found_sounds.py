"""Real sounds that Debian packages carry, judged by every detector: nothing here was made for this program.

    apt-get download openttd-opensfx sonic-pi-samples sound-theme-freedesktop alsa-utils
    for f in *.deb; do dpkg -x "$f" found; done
    python benchmarks/found_sounds.py found

Among them are a real electric arc (a Jacob's ladder; sped up in editing by about a semitone, so that it beats at
127 Hz, or at 120 Hz when read at 41,625 samples a second), sirens, machines, a saw mill, beeps, bells, voices and
drums. The arc must be an arc; of the rest, no detector may find a leak, a passage, damage or a discharge
(`inconclusive` is allowed). Exit 1 where one does.
"""

from __future__ import annotations

import argparse
import importlib
import io
import struct
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from earwitness.hearing.heard import Heard

ARC = "Electric sparking"
ARC_RATE_HZ = 41_625.0
# kind: module, its state class, what it may say of a sound that is none of its own
DETECTORS = {
    "leak": ("leak", "LeakState", {"no-leak-heard"}),
    "seal": ("seal", "SealState", {"no-passage-heard"}),
    "bearing": ("bearing", "BearingMachine", {"no-fault-heard"}),
    "gear": ("gear", "GearMachine", {"no-fault-heard"}),
    "electrical": ("discharge", "ElectricalState", {"no-discharge-heard", "mains-hum"}),
    "valve": ("valve", "ValveState", {"no-passage-heard"}),
    "trap": ("trap", "TrapState", {"working", "blocked"}),
}


@dataclass(frozen=True)
class Found:
    name: str
    samples: np.ndarray
    rate_hz: float


def sounds(folder: Path) -> Iterator[Found]:
    """Every sound below the folder: plain files, and those in `.cat` archives."""
    for path in sorted(folder.rglob("*")):
        if path.suffix.lower() == ".cat":
            yield from archive(path.read_bytes())
        elif path.suffix.lower() in {".wav", ".flac", ".oga", ".ogg"}:
            yield from _read(path.name, path)


def archive(data: bytes) -> Iterator[Found]:
    """The sounds of a `.cat` archive: a table of offset and length (32 bits each, little-endian, the top bit of an
    offset is a flag), then for each a byte that counts the name's bytes, the name, and a RIFF file."""
    count = (struct.unpack_from("<I", data)[0] & 0x7FFFFFFF) // 8
    for number in range(count):
        start = struct.unpack_from("<I", data, 8 * number)[0] & 0x7FFFFFFF
        length = data[start]
        name = data[start + 1 : start + 1 + length].split(b"\0")[0].decode("utf-8", "replace")
        riff = data.find(b"RIFF", start + 1 + length)
        size = struct.unpack_from("<I", data, riff + 4)[0]
        yield from _read(name, io.BytesIO(data[riff : riff + 8 + size]))


def _read(name: str, source: Path | io.BytesIO) -> Iterator[Found]:
    samples, rate = soundfile.read(source, dtype="float32", always_2d=True)
    loudest = samples[:, int(np.argmax(np.abs(samples).max(axis=0, initial=0)))] if samples.size else samples[:, 0]
    sounding = np.flatnonzero(np.abs(loudest) > 2**-15)
    if len(sounding):
        yield Found(name, np.ascontiguousarray(loudest[sounding[0] : sounding[-1] + 1]), float(rate))


def detectors() -> dict[str, tuple]:
    """The detectors there are: judge function, state, the words allowed of a foreign sound."""
    found = {}
    for kind, (module, state, allowed) in DETECTORS.items():
        try:
            loaded = importlib.import_module(f"earwitness.hearing.{module}")
        except ModuleNotFoundError:
            print(f"{kind}: absent")
            continue
        found[kind] = (loaded.judge, getattr(loaded, state), allowed | {"inconclusive"})
    return found


def wrong(found: Found, kind: str, verdict: str, allowed: set[str]) -> bool:
    """At the archive's rate the arc beats at 127 Hz, which is no mains: there it may also be `inconclusive`."""
    if kind == "electrical" and found.name[1:].startswith(ARC):
        return verdict not in ({"arcing"} if found.rate_hz == ARC_RATE_HZ else {"arcing", "inconclusive"})
    return verdict not in allowed


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--kind", action="append", help="only this detector (may be given more than once)")
    given = parser.parse_args()
    judges = {k: d for k, d in detectors().items() if not given.kind or k in given.kind}
    heard = list(sounds(given.folder))
    heard += [Found(f.name + " read at 41,625 Hz", f.samples, ARC_RATE_HZ) for f in heard if f.name[1:].startswith(ARC)]
    print(f"{len(heard)} sounds")
    table = {kind: {"right": 0, "inconclusive": 0, "wrong": 0} for kind in judges}
    for found in heard:
        for kind, (judge, state, allowed) in judges.items():
            judgement = judge(Heard(found.samples, found.rate_hz, "heterodyned"), state())
            fault = wrong(found, kind, judgement.verdict, allowed)
            if fault and found.name[1:].startswith(ARC) and kind != "electrical":
                continue  # what an arc is to the ear of another trade is not asked here
            mark = "wrong" if fault else "inconclusive" if judgement.verdict == "inconclusive" else "right"
            table[kind][mark] += 1
            if fault or (found.name[1:].startswith(ARC) and kind == "electrical"):
                probability = judgement.probability if judgement.probability is not None else float("nan")
                print(f"{mark:6s} {kind:11s} {judgement.verdict:20s} {probability:.2f}  {found.name[:90]}")
    print(f"{'kind':12s}{'right':>8s}{'unsure':>8s}{'wrong':>8s}")
    for kind, row in table.items():
        print(f"{kind:12s}{row['right']:8d}{row['inconclusive']:8d}{row['wrong']:8d}")
    return 1 if any(row["wrong"] for row in table.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
