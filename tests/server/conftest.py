"""A small web application on a fresh ledger: one page with a view and a deed, so that the frame is tested by itself."""

from __future__ import annotations

import shutil
import uuid
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import insert
from starlette.testclient import TestClient

from earwitness.ledger import schema
from earwitness.ledger.database import Ledger, open_ledger
from earwitness.plant.tag import tag_of
from earwitness.server import Ask, House, Page, Went
from earwitness.server.app import make_app
from earwitness.server.entrance import JUDGE


@dataclass(frozen=True)
class Shown:
    """What the probe page shows."""

    site: str
    who: str
    number: float
    days: Sequence[date]


@dataclass(frozen=True)
class Given:
    number: float
    note: str = ""


def probe_page() -> Page:
    page = Page("probe", title="Probe", order=1)

    @page.view("/site/{site}/probe")
    def show(ask: Ask) -> Shown:
        """The probe."""
        return Shown(ask.site.name, ask.who.name, float("nan"), [date(2026, 11, 20)])

    @page.deed("/site/{site}/probe/set", role="plan")
    def set_it(ask: Ask, given: Given) -> Went:
        """Set it."""
        return Went(f"{ask.site.path}/probe", text=f"{given.number} {given.note}")

    @page.view("/breaks", role="look")
    def breaks(ask: Ask) -> Shown:
        """A fault of the program."""
        raise ZeroDivisionError

    @page.job(JUDGE)
    def judge(house: House, asked, progress):
        folder = house.uploads.survey_folder(uuid.UUID(asked["upload"]))
        files = sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())
        progress(len(files), len(files))
        return {"files": files, "address": "/sites"}

    return page


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("ledger") / "empty.ledger"
    open_ledger(path).close()
    return path


@pytest.fixture
def ledger(tmp_path: Path, empty: Path) -> Iterator[Ledger]:
    shutil.copy(empty, tmp_path / "site.ledger")
    opened = open_ledger(tmp_path / "site.ledger")
    yield opened
    opened.close()


@pytest.fixture
def site(ledger: Ledger) -> Callable[[str], uuid.UUID]:
    def make(name: str) -> uuid.UUID:
        made = uuid.uuid5(uuid.NAMESPACE_DNS, name)
        with ledger.writing() as connection:
            connection.execute(insert(schema.site).values(id=made, name=name, settings={}))
        return made

    return make


@pytest.fixture
def client_of(tmp_path: Path) -> Iterator[Callable[..., TestClient]]:
    (tmp_path / "templates").mkdir()
    (tmp_path / "templates" / "probe.html.j2").write_text(
        '{% extends "frame.html.j2" %}{% block content %}<h1>{{ it.site }}</h1>{% endblock %}', "utf-8"
    )
    started: list[TestClient] = []

    def make(house: House, base: str = "http://localhost") -> TestClient:
        app = make_app(house, [probe_page()], templates=[tmp_path / "templates"], static=tmp_path / "static")
        client = TestClient(app, base_url=base, follow_redirects=False, raise_server_exceptions=False)
        started.append(client.__enter__())
        return client

    yield make
    for client in started:
        client.__exit__(None, None, None)


def tag(site_id: uuid.UUID) -> str:
    return tag_of(site_id)
