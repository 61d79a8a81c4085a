"""Opening a ledger: SQLite in one file beside its recordings, or PostgreSQL by URL for a team.

A ledger of an older schema is upgraded with its data; one that is newer than the program is refused. What a killed
process left among the recordings is removed when the ledger is next opened.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, select, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError

from earwitness.errors import EarwitnessError
from earwitness.given_file import other_kind
from earwitness.ledger.schema import recording
from earwitness.ledger.store import Store

SQLITE = "sqlite:///"
BUSY_MS = 30_000  # how long one writer waits for another
LOCK = 0x6561_7277  # the advisory lock under which a schema is made or upgraded on PostgreSQL
STORING = 0x6561_7278  # shared by those who commit rows that name files


@dataclass(frozen=True)
class Ledger:
    engine: Engine
    store: Store

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        with self.engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self, *, storing: bool = False) -> Iterator[Connection]:
        """One transaction: all of it or nothing. On SQLite the writer's lock is taken at the start. `storing` where
        rows will name files that were kept under `Store.storing`."""
        with self.engine.connect() as connection:
            if connection.dialect.name == "sqlite":
                connection.exec_driver_sql("BEGIN IMMEDIATE")
            try:
                if storing and connection.dialect.name == "postgresql":
                    connection.execute(text("SELECT pg_advisory_xact_lock_shared(:key)"), {"key": STORING})
                yield connection
            except BaseException:
                connection.rollback()
                raise
            connection.commit()

    def close(self) -> None:
        self.engine.dispose()


def open_ledger(where: str | Path, recordings: Path | None = None) -> Ledger:
    """The ledger at a path (SQLite) or a PostgreSQL URL; made if it is not there, upgraded if it is older.

    `recordings` is the folder of files; beside a SQLite ledger where it is not stated, and needed with a URL.
    """
    url = str(where)
    if "://" not in url:
        path = Path(where)
        path.parent.mkdir(parents=True, exist_ok=True)
        url = f"{SQLITE}{path}"
        recordings = recordings or path.with_suffix(".recordings")
    engine = _engine(url)
    if recordings is None:
        raise EarwitnessError("a ledger on a server needs a folder for its recordings; state --recordings FOLDER")
    try:
        ledger = Ledger(engine, Store(recordings))
        _upgrade(engine)
        if ledger.store.disturbed():
            with ledger.writing() as connection:
                ledger.store.sweep(partial(_named, connection))
    except DBAPIError as error:
        raise _not_opened(url, error) from error
    return ledger


def _named(connection: Connection, hashes: list[str]) -> set[str]:
    if connection.dialect.name == "postgresql":  # a killed client's commit may still be under way on the server
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": STORING})
    return set(connection.scalars(select(recording.c.sha256).where(recording.c.sha256.in_(hashes))))


def _engine(url: str) -> Engine:
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise _no_ledger(url) from error
    if parsed.drivername in ("postgresql", "postgres"):
        parsed = parsed.set(drivername="postgresql+psycopg")
    if parsed.get_backend_name() not in ("sqlite", "postgresql"):
        raise _no_ledger(parsed.render_as_string(hide_password=True))
    if parsed.get_backend_name() == "postgresql":
        try:
            return create_engine(parsed, pool_pre_ping=True)
        except ImportError as error:
            raise EarwitnessError("PostgreSQL needs one more package: pip install 'earwitness[team]'") from error
    engine = create_engine(parsed, connect_args={"timeout": BUSY_MS / 1000, "check_same_thread": False})
    event.listen(engine, "connect", _prepare_sqlite)
    return engine


def _not_opened(url: str, error: DBAPIError) -> EarwitnessError:
    path = Path(url.removeprefix(SQLITE))
    would_do = "the file of a ledger, or a new name in a folder that you may write to, would do"
    if not url.startswith(SQLITE):
        reason = str(error.orig).strip().splitlines()[0] if error.orig else str(error)
        return EarwitnessError(f"the ledger {_shown(url)} cannot be opened: {reason}")
    if path.is_dir():
        return EarwitnessError(f"{path} is a folder, not a ledger; {would_do}")
    if "not a database" in str(error.orig):
        return EarwitnessError(f"{path} is {other_kind(path) or 'another file'}, not a ledger; {would_do}")
    return EarwitnessError(f"the ledger {path} cannot be opened ({error.orig}); {would_do}")


def _no_ledger(url: str) -> EarwitnessError:
    return EarwitnessError(f"{url} is no ledger: name a file, or a URL postgresql://user@host/name")


def _prepare_sqlite(connection: Any, record: Any) -> None:
    connection.isolation_level = None  # transactions are begun by `writing`, not by the driver
    cursor = connection.cursor()
    for pragma in ("journal_mode=WAL", "foreign_keys=ON", "synchronous=FULL", f"busy_timeout={BUSY_MS}"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _upgrade(engine: Engine) -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    scripts = ScriptDirectory.from_config(config)
    with engine.connect() as connection:
        _lock_schema(connection)
        now = MigrationContext.configure(connection).get_current_revision()
        known = {script.revision for script in scripts.walk_revisions()}
        if now is not None and now not in known:
            raise EarwitnessError(
                f"this ledger is newer than this program (its schema is {now}); install a newer earwitness"
            )
        if now is None and inspect(connection).get_table_names():
            raise EarwitnessError("this database holds other tables and no ledger; name an empty one")
        if now != scripts.get_current_head():
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
        connection.commit()


def _lock_schema(connection: Connection) -> None:
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": LOCK})
    else:
        connection.exec_driver_sql("BEGIN IMMEDIATE")


def _shown(url: str) -> str:
    return make_url(url).render_as_string(hide_password=True)
