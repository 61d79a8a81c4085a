"""A zip taken apart with suspicion: real bytes are counted while they come out, whatever its directory claims."""

from __future__ import annotations

import lzma
import stat
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from typing import IO

from earwitness.server.content import safe_path
from earwitness.server.refusal import Refusal

MOST_ENTRIES = 20_000
MOST_BYTES = 8_000_000_000  # unpacked, of one zip
MOST_RATIO = 200  # unpacked over packed; silence as FLAC or a sheet of commas stays below it
FREE_BYTES = 5_000_000  # up to here the ratio says nothing
CHUNK = 1 << 20
DAMAGE = (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, lzma.LZMAError, NotImplementedError, EOFError, OSError,
          ValueError)  # fmt: skip


def entries(path: Path) -> Iterator[tuple[str, IO[bytes], int]]:
    """(path in the survey folder, stream, packed size) of each file of the zip; a folder round all of them is left out.

    Raises
    ------
    Refusal : it is no zip, it is locked, it holds links or paths that lead out, or more than would ever be unpacked
    """
    try:
        with zipfile.ZipFile(path) as packed:
            files = [entry for entry in packed.infolist() if not entry.is_dir() and not _is_litter(entry.filename)]
            _check(files)
            names = _without_common_folder([safe_path(entry.filename) for entry in files])
            if len({name.casefold() for name in names}) != len(names):
                raise Refusal(422, "zip-names-twice", "The zip holds two files of the same name; pack it anew.")
            for entry, name in zip(files, names, strict=True):
                with packed.open(entry) as stream:
                    yield name, stream, entry.compress_size
    except DAMAGE as error:
        raise _damaged(error) from error


def _read(stream: IO[bytes]) -> bytes:
    try:
        return stream.read(CHUNK)
    except DAMAGE as error:
        raise _damaged(error) from error


def _damaged(error: BaseException) -> Refusal:
    reason = str(error)[:80]
    return Refusal(422, "zip-damaged", "The zip cannot be unpacked ({reason}); pack it anew.", reason=reason)


def _check(files: list[zipfile.ZipInfo]) -> None:
    if len(files) > MOST_ENTRIES:
        text = "The zip holds {count} files; up to {most} are taken at once."
        raise Refusal(413, "zip-too-many", text, count=len(files), most=MOST_ENTRIES)
    for entry in files:
        if entry.flag_bits & 0x1:
            raise Refusal(422, "zip-locked", "The zip is locked with a password; pack it without one.")
        mode = entry.external_attr >> 16
        if mode and stat.S_IFMT(mode) not in (0, stat.S_IFREG):
            text = "The zip holds “{name}”, a link and no file; pack it anew with the files themselves."
            raise Refusal(422, "zip-link", text, name=entry.filename[:80])


class Counted:
    """Counts what comes out of a zip and stops what would fill the disk."""

    def __init__(self, most: int = MOST_BYTES) -> None:
        self.most, self.whole = most, 0

    def chunks(self, stream: IO[bytes], packed: int) -> Iterator[bytes]:
        size = 0
        while chunk := _read(stream):
            size += len(chunk)
            self.whole += len(chunk)
            if self.whole > self.most or (size > FREE_BYTES and size > MOST_RATIO * max(packed, 1)):
                text = "The zip unpacks to far more than it is; such files are not taken. Send the folder itself."
                raise Refusal(413, "zip-bomb", text)
            yield chunk


def _is_litter(name: str) -> bool:
    parts = PurePosixPath(name.replace("\\", "/")).parts
    return "__MACOSX" in parts or bool(
        parts and (parts[-1].startswith(".") or parts[-1] in ("Thumbs.db", "desktop.ini"))
    )


def _without_common_folder(names: list[str]) -> list[str]:
    heads = {name.partition("/")[0] for name in names}
    folder = next(iter(heads)) + "/" if len(heads) == 1 else ""
    if folder and folder != "recordings/" and all(name.startswith(folder) for name in names):
        return [name.removeprefix(folder) for name in names]
    return names
