"""The files of a survey folder: found by the name that a row gives, never outside the folder; hashed in a stream."""

from __future__ import annotations

import difflib
import hashlib
import os
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from earwitness.sentence import say
from earwitness.units import UnitError

Progress = Callable[[str, int, int], None]  # what is done, how many of it are done, of how many
AUDIO = frozenset(
    (".wav", ".wave", ".w64", ".rf64", ".bwf", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".aif", ".aiff", ".aifc",
     ".m4a", ".mp4", ".aac", ".webm", ".3gp", ".amr", ".caf", ".wma")
)  # fmt: skip
_BLOCK = 1 << 20
_HIDDEN = ("thumbs.db", "desktop.ini")


@dataclass(frozen=True)
class Files:
    """The files below a folder, as paths with forward slashes from the survey folder."""

    folder: Path
    paths: tuple[str, ...]
    below: str  # the sub-folder that names are looked for in first: "recordings"
    odd: tuple[str, ...] = ()  # files whose names are no text, as far as they can be shown

    @classmethod
    def below_folder(cls, folder: Path, below: str) -> Files:
        """Every file of the survey folder that does not lead out of it."""
        root = folder.resolve()
        paths: list[str] = []
        odd: list[str] = []
        for place, folders, names in os.walk(folder):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            for name in names:
                path = Path(place) / name
                if name.startswith(".") or name.casefold() in _HIDDEN or not _stays(path, root):
                    continue
                shown = path.relative_to(folder).as_posix()
                text = shown.encode("utf-8", "replace").decode("utf-8")
                (paths if text == shown else odd).append(text)
        return cls(folder, tuple(sorted(paths)), below, tuple(sorted(odd)))

    @property
    def inside(self) -> tuple[str, ...]:
        """Those in the sub-folder of this kind of file, whatever the case of its name."""
        return tuple(path for path in self.paths if path.casefold().startswith(self.below + "/"))

    def named(self, text: str, *, where: str) -> str:
        """The path of the file that `text` names: exactly, or whatever its case, extension and sub-folder.

        Raises
        ------
        UnitError : it leads out of the folder, there is no such file, or there are several
        """
        wanted = re.sub(r"/+", "/", text.strip().strip("\"'").replace("\\", "/"))
        if wanted.startswith(("/", "~")) or re.match(r"^[A-Za-z]:", wanted) or ".." in wanted.split("/"):
            raise UnitError(
                say("path-leaves-folder", "{where}: '{given}' leads out of the survey folder; put the file into "
                    "{below}/ and write its name alone.", where=where, given=text[:80], below=self.below)
            )  # fmt: skip
        wanted = wanted.removeprefix("./")
        for exact in (f"{self.below}/{wanted}", wanted):
            if exact in self.paths:
                return exact
        for pool in (self.inside, self.paths):
            found = _matching(wanted, pool)
            if len(found) == 1:
                return found[0]
            if found:
                raise UnitError(
                    say("file-could-be-several", "{where}: '{given}' could be {choices}; write the whole name.",
                        where=where, given=text[:80], choices=" or ".join(found[:4]))
                )  # fmt: skip
        names = {PurePosixPath(path).name: path for path in self.inside or self.paths}
        near = difflib.get_close_matches(PurePosixPath(wanted).name[:80], names, 1, 0.75)
        raise UnitError(
            say("file-missing",
                "{where}: there is no file '{given}' in {below}/" + ("; '{near}' is near." if near else "."),
                where=where, given=text[:80], below=self.below, near=near[0] if near else "")
        )  # fmt: skip


def _stays(path: Path, root: Path) -> bool:
    """Whether a path is a file, and no link out of the folder."""
    try:
        return path.is_file() and path.resolve().is_relative_to(root)
    except (OSError, RuntimeError):
        return False


def _matching(wanted: str, pool: Sequence[str]) -> list[str]:
    """The files that a name could mean, by the strictest of: path, name, name without extension; case aside."""
    wanted = wanted.casefold()
    name = PurePosixPath(wanted).name
    stem = PurePosixPath(wanted).stem if PurePosixPath(wanted).suffix in AUDIO else name
    tests: tuple[Callable[[PurePosixPath], bool], ...] = (
        lambda path: str(path) == wanted or str(path).endswith("/" + wanted),
        lambda path: path.name == name,
        lambda path: path.stem == name or path.stem == stem,
    )
    for test in tests:
        found = [path for path in pool if test(PurePosixPath(path.casefold()))]
        if found:
            return found
    return []


def sha256(path: Path) -> str:
    """The hash of a file's bytes, read in blocks."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def inputs_sha256(folder: Path, paths: Iterable[str], progress: Progress | None = None) -> str:
    """One hash over the named files, whatever their order: each path with the hash of its bytes."""
    wanted = sorted(set(paths))
    digest = hashlib.sha256()
    for number, path in enumerate(wanted, start=1):
        try:
            content = sha256(folder / path)
        except OSError:
            content = "unreadable"
        digest.update(f"{path}\0{content}\n".encode("utf-8", "surrogateescape"))
        if progress:
            progress("hashing", number, len(wanted))
    return digest.hexdigest()


def hashed(parts: Mapping[str, str] | Sequence[str]) -> str:
    """Ten digits that stand for some texts."""
    texts = [f"{k}={v}" for k, v in parts.items()] if isinstance(parts, Mapping) else list(parts)
    return hashlib.sha256("\0".join(texts).encode("utf-8", "surrogatepass")).hexdigest()[:10]
