"""What every command on a ledger is told."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from earwitness.cli.path import PATH

if TYPE_CHECKING:
    from earwitness.ledger import Ledger

CLOCKS_DIFFER = timedelta(minutes=1)


def ledger_options(function: Callable[..., Any]) -> Callable[..., Any]:
    recordings = click.option("--recordings", type=PATH, help="Folder of recordings; beside a ledger that is a file.")
    ledger = click.option("--ledger", required=True, help="A file, or the URL of a PostgreSQL database.")
    return ledger(recordings(function))


def site_option(function: Callable[..., Any]) -> Callable[..., Any]:
    return click.option("--site", help="Name of the site; not needed where the ledger holds one only.")(function)


def at_option(function: Callable[..., Any]) -> Callable[..., Any]:
    words = "When, in the computer's time; now where it is not stated."
    return click.option("--at", type=click.DateTime(), callback=_moment, help=words)(function)


def _moment(context: click.Context, option: click.Parameter, at: datetime | None) -> datetime:
    """In UTC. Nothing that is filed has yet to happen."""
    from earwitness.errors import EarwitnessError

    now = datetime.now(UTC)
    moment = now if at is None else at.astimezone(UTC)
    if moment > now + CLOCKS_DIFFER:
        raise EarwitnessError(f"--at {at} is still to come; state when it was done")
    return moment


@contextmanager
def opened(where: str, recordings: Path | None, *, made: bool = False) -> Iterator[Ledger]:
    """The ledger, closed at the end; one that is not there is refused unless it is to be `made`."""
    from earwitness.errors import EarwitnessError
    from earwitness.ledger import open_ledger

    if not made and "://" not in where and not Path(where).exists():
        raise EarwitnessError(f"there is no ledger {where}; `earwitness survey FOLDER --ledger {where}` begins one")
    if not made and "://" not in where and Path(where).is_file() and not Path(where).stat().st_size:
        raise EarwitnessError(f"{where} is empty, not a ledger; `earwitness survey FOLDER --ledger FILE` begins one")
    ledger = open_ledger(where, recordings)
    try:
        yield ledger
    finally:
        ledger.close()
