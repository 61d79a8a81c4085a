"""Recordings, photos and drawings, byte for byte, each under the hash of what is in it.

A file is written beside, flushed to the disk and only then given its name, so that a name is never half a file. What a
killed process leaves behind (a temporary file, a file that no row names) is removed by `sweep` at the next start.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from earwitness.errors import EarwitnessError

CHUNK = 1 << 20
TEMPORARY = ".part-"


@dataclass(frozen=True)
class Kept:
    sha256: str
    size: int
    name: str


class Store:
    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        return self.folder / sha256[:2] / sha256

    def keep(self, source: Path) -> Kept:
        """Copy a file in; one that is there already is left alone."""
        with source.open("rb") as stream:
            return self._write(iter(lambda: stream.read(CHUNK), b""), source.name)

    def keep_bytes(self, data: bytes, name: str) -> Kept:
        return self._write(iter([data]), name)

    def _write(self, chunks: Iterable[bytes], name: str) -> Kept:
        self.folder.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=TEMPORARY, dir=self.folder)
        digest, size = hashlib.sha256(), 0
        try:
            with os.fdopen(handle, "wb") as out:
                for chunk in chunks:
                    digest.update(chunk)
                    size += len(chunk)
                    out.write(chunk)
                out.flush()
                os.fsync(out.fileno())
            kept = Kept(digest.hexdigest(), size, name)
            target = self.path(kept.sha256)
            if not target.exists():
                target.parent.mkdir(exist_ok=True)
                Path(temporary).replace(target)
                _flush_folder(target.parent)
            return kept
        finally:
            Path(temporary).unlink(missing_ok=True)

    def verified(self, sha256: str) -> Path:
        """Where the file lies, after reading it and comparing its hash."""
        path = self.path(sha256)
        if not path.is_file():
            raise EarwitnessError(f"recording {sha256[:12]}… is missing from {self.folder}; restore it from a backup")
        digest = hashlib.sha256()
        with path.open("rb") as stream:
            while chunk := stream.read(CHUNK):
                digest.update(chunk)
        if digest.hexdigest() != sha256:
            raise EarwitnessError(f"{path} is not what was filed (its hash differs); restore it from a backup")
        return path

    def sweep(self, named: set[str]) -> int:
        """Remove temporary files and files that no row names; how many went."""
        gone = 0
        if not self.folder.is_dir():
            return 0
        for path in [*self.folder.glob(f"{TEMPORARY}*"), *self.folder.glob("??/*")]:
            if path.name not in named:
                path.unlink(missing_ok=True)
                gone += 1
        return gone


def _flush_folder(folder: Path) -> None:
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
