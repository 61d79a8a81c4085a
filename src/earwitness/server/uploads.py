"""Files on their way in. Each is acknowledged only when it lies on the disk and the table says so.

An upload is a survey folder in the making, below a folder beside the recordings: UPLOADS/ID/survey/... A file is
written under a temporary name, flushed, given its name, and then noted; what a killed server leaves under a temporary
name goes at the next start.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
import uuid
from collections.abc import AsyncIterator, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import delete, insert, select, update
from starlette.concurrency import run_in_threadpool

from earwitness.ledger.database import Ledger
from earwitness.server import archive, jobs
from earwitness.server.content import kind_of, safe_path
from earwitness.server.refusal import Refusal, not_found, too_large
from earwitness.server.tables import job, upload, upload_file

MOST_FILE = 4_000_000_000  # bytes of one file: 48 minutes of 192 kHz, 24 bit, stereo fit
MOST_FILES = 20_000
PART = ".part-"


@dataclass(frozen=True)
class FileUp:
    path: str
    sha256: str
    size: int
    kind: str


@dataclass(frozen=True)
class NotTaken:
    """A file of a zip that is left out, and why."""

    path: str
    why: str


@dataclass(frozen=True)
class UploadState:
    """What lies on the server's disk of an upload, and the job that judges it once it is complete; what was not taken
    is told once, in answer to the zip that held it."""

    id: uuid.UUID
    who: str
    files: Sequence[FileUp]
    job: uuid.UUID | None
    not_taken: Sequence[NotTaken] = ()


class Uploads:
    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger
        self.folder = ledger.store.folder.with_suffix(".uploads")

    def begin(self, who: str) -> UploadState:
        made = uuid.uuid4()
        self.survey_folder(made).mkdir(parents=True)
        with self.ledger.writing() as connection:
            connection.execute(insert(upload).values(id=made, who=who, begun_at=datetime.now(UTC)))
        return UploadState(made, who, (), None)

    def survey_folder(self, of: uuid.UUID) -> Path:
        return self.folder / str(of) / "survey"

    def state(self, of: uuid.UUID, who: str) -> UploadState:
        """What is there; nobody sees the uploads of another."""
        with self.ledger.reading() as connection:
            row = connection.execute(select(upload).where(upload.c.id == of, upload.c.who == who)).first()
            if row is None:
                raise not_found("upload")
            files = connection.execute(
                select(upload_file).where(upload_file.c.upload_id == of).order_by(upload_file.c.path)
            ).all()
        return UploadState(of, who, [FileUp(f.path, f.sha256, int(f.size), f.kind) for f in files], row.job_id)

    async def put(
        self, of: uuid.UUID, who: str, path: str, body: AsyncIterator[bytes], said: str | None
    ) -> UploadState:
        """Take one file; a zip is unpacked where it arrives. `said` is the length that was promised."""
        name = safe_path(path)
        before = await run_in_threadpool(self.state, of, who)
        self._open_for_files(before)
        if said is not None and said.isdigit() and int(said) > MOST_FILE:
            raise too_large(MOST_FILE)
        folder = self.survey_folder(of).parent
        handle, temporary = tempfile.mkstemp(prefix=PART, dir=folder)
        part = Path(temporary)
        try:
            with os.fdopen(handle, "wb") as out:
                size = 0
                async for chunk in body:
                    size += len(chunk)
                    if size > MOST_FILE:
                        raise too_large(MOST_FILE)
                    await run_in_threadpool(out.write, chunk)
            if said is not None and said.isdigit() and int(said) != size:
                raise Refusal(400, "cut-short", "“{name}” came only in part; send it again.", name=name[-80:])
            not_taken = await run_in_threadpool(self._take, of, name, part)
        finally:
            part.unlink(missing_ok=True)
        return replace(await run_in_threadpool(self.state, of, who), not_taken=not_taken)

    def _open_for_files(self, state: UploadState) -> None:
        if state.job is not None:
            raise Refusal(409, "upload-closed", "This upload is being judged already; begin another.")
        if len(state.files) >= MOST_FILES:
            raise Refusal(413, "too-many-files", "An upload holds up to {most} files.", most=MOST_FILES)

    def _take(self, of: uuid.UUID, name: str, part: Path) -> list[NotTaken]:
        """Note the file, or those of the zip; what a zip holds besides. Refuses what holds nothing to take."""
        kind = kind_of(part, name)
        if kind != "zip":
            with part.open("r+b") as file:
                os.fsync(file.fileno())
            self._note(of, [self._place(of, name, part, kind)])
            return []
        counted, taken, left = archive.Counted(), list[FileUp](), list[NotTaken]()
        for inner, stream, packed in archive.entries(part):
            written = self._write(part.parent, counted.chunks(stream, packed))
            try:
                inner_kind = kind_of(written, inner)
                if inner_kind == "zip":
                    raise Refusal(415, "zip-in-zip", "“{name}” is a zip within the zip; unpack it first.", name=inner)
                taken.append(self._place(of, inner, written, inner_kind))
            except Refusal as error:
                if error.status != 415:
                    raise
                left.append(NotTaken(inner, error.sentence.text))
            finally:
                written.unlink(missing_ok=True)
        if left and not taken:
            text = "Nothing in “{zip}” is taken. {why}"
            raise Refusal(415, "content-not-taken", text, zip=name[-80:], why=left[0].why)
        self._note(of, taken)
        return left

    def _write(self, folder: Path, chunks: Iterable[bytes]) -> Path:
        handle, temporary = tempfile.mkstemp(prefix=PART, dir=folder)
        try:
            with os.fdopen(handle, "wb") as out:
                for chunk in chunks:
                    out.write(chunk)
                out.flush()
                os.fsync(out.fileno())
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
        return Path(temporary)

    def _place(self, of: uuid.UUID, name: str, part: Path, kind: str) -> FileUp:
        """Give a file that is on the disk its name in the survey folder."""
        target = self.survey_folder(of) / name
        size, sha256 = part.stat().st_size, hashed(part)
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            part.replace(target)
        except OSError as error:
            text = "“{name}” cannot lie there: a file and a folder have the same name, or the name is too long."
            raise Refusal(422, "path-refused", text, name=name[-80:]) from error
        flush_folder(target.parent)
        return FileUp(name, sha256, size, kind)

    def _note(self, of: uuid.UUID, files: Sequence[FileUp]) -> None:
        with self.ledger.writing() as connection:
            for file in files:
                here = (upload_file.c.upload_id == of) & (upload_file.c.path == file.path)
                connection.execute(delete(upload_file).where(here))
                connection.execute(
                    insert(upload_file).values(
                        upload_id=of, path=file.path, sha256=file.sha256, size=file.size, kind=file.kind
                    )
                )

    def put_text(self, of: uuid.UUID, path: str, text: str) -> None:
        """A file that was written here and not sent."""
        written = self._write(self.survey_folder(of).parent, [text.encode("utf-8")])
        try:
            self._note(of, [self._place(of, safe_path(path), written, "text")])
        finally:
            written.unlink(missing_ok=True)

    def close(self, of: uuid.UUID, who: str, kind: str, may: Sequence[str]) -> uuid.UUID:
        """The upload is complete: a job of `kind` begins with it, in the same transaction. Twice gives the same job,
        unless that failed: then another begins. `may` are the sites where it may be filed, or "all"."""
        state = self.state(of, who)
        if state.job is not None and jobs.state_of(self.ledger, state.job).state != "failed":
            return state.job
        if not state.files:
            raise Refusal(422, "upload-empty", "Nothing has come up yet; drop a survey folder, a zip or files.")
        with self.ledger.writing() as connection:
            made = jobs.enqueue(connection, kind, who, {"upload": str(of), "may": list(may)})
            connection.execute(update(upload).where(upload.c.id == of).values(job_id=made))
        return made

    def discard_filed(self) -> None:
        """The files of uploads whose job is done, and so has filed them elsewhere. Not before: a job that a killed
        server began is begun again from these files."""
        here = {p.name for p in self.folder.iterdir()} if self.folder.is_dir() else set()
        with self.ledger.reading() as connection:
            done = select(upload.c.id).join(job, job.c.id == upload.c.job_id).where(job.c.state == "done")
            filed = [str(row.id) for row in connection.execute(done) if str(row.id) in here]
        for name in filed:
            shutil.rmtree(self.folder / name, ignore_errors=True)

    def clean(self) -> int:
        """What a killed server left under temporary names, and folders that no row knows."""
        if not self.folder.is_dir():
            return 0
        self.discard_filed()
        with self.ledger.reading() as connection:
            known = {str(row.id) for row in connection.execute(select(upload.c.id))}
        gone = [p for p in self.folder.iterdir() if p.name not in known]
        for path in gone:
            shutil.rmtree(path, ignore_errors=True)
        parts = list(self.folder.glob(f"*/{PART}*"))
        for path in parts:
            path.unlink(missing_ok=True)
        return len(gone) + len(parts)


def hashed(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def flush_folder(folder: Path) -> None:
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
