"""Work in the background, kept in a table: what was accepted is done, also when the server is killed in the middle.

A job's function may run again from its start, so it must end the same however often it ran; the ledger's own deeds do.
"""

from __future__ import annotations

import logging
import os
import socket
import threading
import time
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import insert, or_, select, update

from earwitness.errors import EarwitnessError
from earwitness.ledger.database import Ledger
from earwitness.sentence import say
from earwitness.server.page import Job
from earwitness.server.refusal import Refusal, not_found
from earwitness.server.tables import job

BEAT_S, SILENT = 2.0, timedelta(seconds=30)
MOST_TRIES = 3  # a job that ended the server so often is not begun again
HOST = socket.gethostname()


@dataclass(frozen=True)
class JobState:
    """How far a job is. `state` is waiting, running, done or failed; `came` is what it gave."""

    id: uuid.UUID
    kind: str
    state: str
    done: int
    of: int
    came: Mapping[str, Any]
    error: Mapping[str, Any] | None
    who: str
    asked: Mapping[str, Any]

    @property
    def ended(self) -> bool:
        return self.state in ("done", "failed")


def enqueue(connection: Any, kind: str, who: str, asked: Mapping[str, Any], site: uuid.UUID | None = None) -> uuid.UUID:
    """Accept a job within a transaction that is open; once that commits, the job will be done."""
    now, made = datetime.now(UTC), uuid.uuid4()
    connection.execute(
        insert(job).values(
            id=made, kind=kind, who=who, site_id=site, asked=dict(asked), state="waiting", asked_at=now, beat_at=now,
            tries=0, done=0, of=0,
        )
    )  # fmt: skip
    return made


def is_waiting(connection: Any, kind: str, asked: Mapping[str, Any]) -> bool:
    """Whether such a job is accepted and not yet done, or was tried and failed."""
    rows = connection.execute(select(job.c.asked).where(job.c.kind == kind, job.c.state != "done"))
    return any(row.asked == dict(asked) for row in rows)


def state_of(ledger: Ledger, of: uuid.UUID) -> JobState:
    with ledger.reading() as connection:
        row = connection.execute(select(job).where(job.c.id == of)).first()
    if row is None:
        raise not_found("job")
    return JobState(row.id, row.kind, row.state, row.done, row.of, row.came or {}, row.error, row.who, row.asked)


def asked_for(ledger: Ledger, text: str | None) -> JobState | None:
    """The job that an address names, if it names one."""
    try:
        return state_of(ledger, uuid.UUID(text)) if text else None
    except (ValueError, Refusal):
        return None


class Worker:
    """One thread that does the jobs in their order."""

    def __init__(self, house: Any, kinds: Mapping[str, Job]) -> None:
        self.house, self.kinds = house, dict(kinds)
        self.ledger: Ledger = house.ledger
        self.me = f"{HOST}:{os.getpid()}:{uuid.uuid4().hex[:6]}"
        self._wake, self._stop = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="earwitness-jobs", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def wake(self) -> None:
        self._wake.set()

    def stop(self, wait_s: float = 5.0) -> None:
        """No new job; the one that runs is left where it is and begun again at the next start."""
        self._stop.set()
        self._wake.set()
        self._thread.join(wait_s)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                claimed = self._claim()
            except Exception:
                logging.getLogger("earwitness").exception("the jobs cannot be read; trying again")
                claimed = None
            if claimed is not None:
                self._do(*claimed)
                continue
            self._wake.wait(BEAT_S)
            self._wake.clear()

    def _claim(self) -> tuple[uuid.UUID, str, dict[str, Any]] | None:
        now = datetime.now(UTC)
        with self.ledger.reading() as connection:  # mostly there is nothing: no writer's lock for that
            if not connection.execute(select(job.c.id).where(job.c.state.in_(("waiting", "running")))).first():
                return None
        with self.ledger.writing() as connection:
            self._take_back(connection, now)
            waiting = select(job).where(job.c.state == "waiting").order_by(job.c.asked_at).limit(1)
            row = connection.execute(waiting.with_for_update(skip_locked=True)).first()
            if row is None:
                return None
            connection.execute(
                update(job)
                .where(job.c.id == row.id)
                .values(state="running", worker=self.me, beat_at=now, tries=row.tries + 1, done=0, of=0)
            )
        return row.id, row.kind, row.asked

    def _take_back(self, connection: Any, now: datetime) -> None:
        """Jobs of a worker that is no more: waiting again, or failed where they end whoever begins them."""
        running = connection.execute(select(job).where(job.c.state == "running")).all()
        for row in running:
            if row.worker == self.me or (now - row.beat_at < SILENT and _lives(row.worker or "")):
                continue
            if row.tries >= MOST_TRIES:
                error = say("job-ends-server", "This work ended the server {times} times and is not begun again.",
                            times=row.tries)  # fmt: skip
                values: dict[str, Any] = {"state": "failed", "error": error.as_json()}
            else:
                values = {"state": "waiting"}
            connection.execute(update(job).where(job.c.id == row.id, job.c.worker == row.worker).values(**values))

    def _do(self, of: uuid.UUID, kind: str, asked: dict[str, Any]) -> None:
        beating = _Beat(self.ledger, of, self.me)
        came: Mapping[str, Any] | None = None
        error = None
        try:
            came = self.kinds[kind](self.house, asked, beating.progress)
        except Refusal as refusal:
            error = refusal.sentence.as_json()
        except EarwitnessError as problem:
            error = say("job-refused", "{reason}", reason=str(problem)).as_json()
        except Exception:
            logging.getLogger("earwitness").exception("job %s %s", kind, of)
            error = say("job-failed", "This work failed for a reason of the program's own; it is in the server's log."
                        ).as_json()  # fmt: skip
        finally:
            beating.end()
        if self._stop.is_set() and error is not None:
            return  # interrupted by the end of the server: begun again at the next start
        values = {"state": "failed", "error": error} if error else {"state": "done", "came": dict(came or {})}
        with self.ledger.writing() as connection:
            connection.execute(update(job).where(job.c.id == of, job.c.worker == self.me).values(**values))


class _Beat:
    """Writes how far a job is every few seconds, which also says that its worker lives."""

    def __init__(self, ledger: Ledger, of: uuid.UUID, me: str) -> None:
        self.ledger, self.of, self.me = ledger, of, me
        self._at = (0, 0)
        self._written: tuple[tuple[int, int], float] = ((0, 0), time.monotonic())
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def progress(self, done: int, of: int) -> None:
        self._at = (done, of)

    def end(self) -> None:
        self._over.set()
        self._thread.join()
        self._write()

    def _run(self) -> None:
        while not self._over.wait(0.5):
            at, when = self._written
            if at != self._at or time.monotonic() - when > BEAT_S:
                self._write()

    def _write(self) -> None:
        done, of = self._at
        self._written = (self._at, time.monotonic())
        with self.ledger.writing() as connection:
            connection.execute(
                update(job)
                .where(job.c.id == self.of, or_(job.c.worker == self.me, job.c.worker.is_(None)))
                .values(done=done, of=of, beat_at=datetime.now(UTC))
            )


def _lives(worker: str) -> bool:
    """Whether the process of a worker is still there, as far as one can see from here."""
    host, _, rest = worker.partition(":")
    if host != HOST:
        return True
    try:
        os.kill(int(rest.partition(":")[0]), 0)
    except (OSError, ValueError):
        return False
    return True
