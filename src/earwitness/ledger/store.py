"""Recordings, photos and drawings, byte for byte, each under the hash of what is in it.

A file is written beside, flushed to the disk and only then given its name, so that a name is never half a file. Who
stores holds a lock on the folder until the rows that name the files are committed, and leaves a mark there meanwhile;
a mark without a lock was left by a killed process, and what no row names is then removed by `sweep`.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from earwitness.errors import EarwitnessError

CHUNK = 1 << 20
TEMPORARY = ".part-"
MARK = ".storing-"
LOCK = ".lock"
BATCH = 500


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

    @contextmanager
    def storing(self) -> Iterator[None]:
        """Held around keeping files and committing the rows that name them: nothing is swept meanwhile."""
        self.folder.mkdir(parents=True, exist_ok=True)
        with _lock(self.folder / LOCK, shared=True):
            handle, mark = tempfile.mkstemp(prefix=MARK, dir=self.folder)
            os.close(handle)
            yield  # after an error the mark stays: files were kept that no row names
            Path(mark).unlink(missing_ok=True)

    def keep(self, source: Path) -> Kept:
        """Copy a file in; one that is there already is left alone."""
        sha256, size = _hashed(source)
        if self.path(sha256).is_file():
            return Kept(sha256, size, source.name)
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
        if _hashed(path)[0] != sha256:
            raise EarwitnessError(f"{path} is not what was filed (its hash differs); restore it from a backup")
        return path

    def disturbed(self) -> bool:
        """Whether somebody is storing, or was killed while storing."""
        return any(self.folder.glob(f"{MARK}*"))

    def sweep(self, named: Callable[[list[str]], set[str]]) -> int:
        """Remove what no row names, if nobody is storing; how many files went. `named` tells which of some hashes have
        a row; it is asked after the lock is held."""
        if not self.folder.is_dir():
            return 0
        with _lock(self.folder / LOCK, shared=False) as held:
            if not held:
                return 0
            gone = list(self.folder.glob(f"{TEMPORARY}*"))
            files = list(self.folder.glob("??/*"))
            for first in range(0, len(files), BATCH):
                batch = files[first : first + BATCH]
                known = named([path.name for path in batch])
                gone += [path for path in batch if path.name not in known]
            for path in gone:
                path.unlink(missing_ok=True)
            for mark in self.folder.glob(f"{MARK}*"):
                mark.unlink(missing_ok=True)
            return len(gone)


def _hashed(path: Path) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    with path.open("rb") as stream:
        while chunk := stream.read(CHUNK):
            digest.update(chunk)
            size += len(chunk)
    return digest.hexdigest(), size


@contextmanager
def _lock(path: Path, *, shared: bool) -> Iterator[bool]:
    """Hold a lock that the system takes back when the process dies; whether it is held. A shared one is waited for,
    that of the sweeper is not."""
    with path.open("a+b") as stream:
        if os.name == "posix":
            yield _lock_posix(stream, shared)
        else:
            yield _lock_windows(stream, shared)


def _lock_posix(stream: IO[bytes], shared: bool) -> bool:
    import fcntl

    try:
        fcntl.flock(stream, fcntl.LOCK_SH if shared else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _lock_windows(stream: IO[bytes], shared: bool) -> bool:
    """Windows has no shared lock of this kind: those who store take one byte each, the sweeper needs all of them."""
    import msvcrt  # type: ignore[import-not-found,unused-ignore]
    import random
    import time

    places = 64
    for _ in range(10_000 if shared else 1):
        stream.seek(random.SystemRandom().randrange(places) if shared else 0)
        try:
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1 if shared else places)  # type: ignore[attr-defined,unused-ignore]
        except OSError:
            time.sleep(0.01 if shared else 0)
        else:
            return True
    return False


def _flush_folder(folder: Path) -> None:
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
