"""The workbench in a real browser, at a desk and on a phone, on a ledger with the demo's survey filed."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, Page, sync_playwright

from earwitness.intake import read_survey
from earwitness.ledger import open_ledger
from earwitness.plant.tag import tag_of
from earwitness.server import House
from earwitness.server.app import make_app
from earwitness.work.file_survey import file_survey
from earwitness.work.survey import judge_survey
from earwitness.workbench import STATIC, TEMPLATES, all_pages

from .chromium import executable

ROOT = Path(__file__).parents[2]
DESK, PHONE = {"width": 1600, "height": 1000}, {"width": 390, "height": 844}
AXE = ROOT / "node_modules" / "axe-core" / "axe.min.js"


@dataclass(frozen=True)
class Served:
    address: str
    site: str  # the site's address, "" where nothing is filed
    house: House

    def id_of(self, reading: str) -> str:
        """The address of a reading by the name that its sheet gave it."""
        from earwitness.ledger import readings, sites

        with self.house.ledger.reading() as connection:
            (one,) = sites.sites(connection)
            found = readings.readings_named(connection, one.id, reading)
        return f"{self.site}/reading/{found[0].id}"


@contextmanager
def serving(where: Path, accounts: bool = False) -> Iterator[Served]:
    """The workbench on this ledger, on a free port of this machine; with accounts one must sign in."""
    assert (STATIC / "built").exists(), "the browser code is not built: make bundle"
    ledger = open_ledger(where)
    listening = socket.create_server(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    house = House(ledger, accounts=accounts, port=port)
    app = make_app(house, all_pages(), templates=[TEMPLATES], static=STATIC)
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", timeout_graceful_shutdown=2))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    sites = house.sites(house.at_this_machine("Test inspector"))
    address = f"http://localhost:{port}"
    try:
        yield Served(address, f"{address}/site/{tag_of(sites[0].id)}" if sites else "", house)
    finally:
        server.should_exit = True
        thread.join(10)
        ledger.close()


@pytest.fixture(scope="session")
def filed(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with the demo's survey in it, not to be written: see `served`."""
    path = tmp_path_factory.mktemp("filed") / "site.ledger"
    ledger = open_ledger(path)
    file_survey(ledger, judge_survey(read_survey(demo / "survey"), exhibits=False))
    ledger.close()
    return path


@pytest.fixture
def served(filed: Path, tmp_path: Path) -> Iterator[Served]:
    """The workbench on a copy of that ledger, which a test may change."""
    shutil.copy(filed, tmp_path / "site.ledger")
    shutil.copytree(filed.with_suffix(".recordings"), tmp_path / "site.recordings")
    with serving(tmp_path / "site.ledger") as here:
        yield here


@pytest.fixture
def served_empty(tmp_path: Path) -> Iterator[Served]:
    with serving(tmp_path / "empty.ledger") as here:
        yield here


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as play:
        launched = play.chromium.launch(
            executable_path=executable(), args=["--no-sandbox", "--autoplay-policy=no-user-gesture-required"]
        )
        yield launched
        launched.close()


@pytest.fixture(params=[DESK, PHONE], ids=["desk", "phone"])
def size(request: pytest.FixtureRequest) -> dict[str, int]:
    return request.param


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Callable[..., Page]]:
    """A page of a browser of its own; whatever the page complains of fails the test."""
    contexts: list[Any] = []
    complaints: list[str] = []

    def make(size: dict[str, int] = DESK, *, complain: bool = True, **how: Any) -> Page:
        """`complain` False where the test asks for what is refused: the browser says so on its console."""
        context = browser.new_context(viewport=size, accept_downloads=True, **how)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(15_000)
        if complain:
            page.on("console", lambda m: complaints.append(f"{m.type}: {m.text}") if m.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        return page

    yield make
    for context in contexts:
        context.close()
    assert not complaints, complaints


def faults_for_assistive_technology(page: Page) -> list[str]:
    """What axe-core calls serious or critical on the page as it stands."""
    page.wait_for_load_state()
    page.evaluate(AXE.read_text("utf-8"))
    found = page.evaluate("async () => (await axe.run(document, {resultTypes: ['violations']})).violations")
    return [
        f"{v['id']}: {v['help']}: {v['nodes'][0]['html'][:160]} {v['nodes'][0]['failureSummary'][:300]}"
        for v in found
        if v["impact"] in ("serious", "critical")
    ]


def overflows(page: Page) -> bool:
    """Whether the page must be moved sideways to be read."""
    page.wait_for_load_state()  # with its style sheets, also where a form has loaded it again
    return bool(page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth + 1"))


def wait_until(page: Page, says: str, seconds: float = 15.0) -> None:
    """Wait until JavaScript says so. (The test tool's own waiting would be refused by the page's policy.)"""
    end = time.monotonic() + seconds
    while not page.evaluate(says):
        assert time.monotonic() < end, f"never came true: {says}"
        page.wait_for_timeout(50)
