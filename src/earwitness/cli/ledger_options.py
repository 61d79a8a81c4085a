"""What every command on a ledger is told."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from earwitness.ledger import Ledger


def ledger_options(function: Callable[..., Any]) -> Callable[..., Any]:
    recordings = click.option(
        "--recordings", type=click.Path(path_type=Path), help="Folder of recordings; beside a ledger that is a file."
    )
    ledger = click.option("--ledger", required=True, help="A file, or the URL of a PostgreSQL database.")
    return ledger(recordings(function))


def site_option(function: Callable[..., Any]) -> Callable[..., Any]:
    return click.option("--site", help="Name of the site; not needed where the ledger holds one only.")(function)


@contextmanager
def opened(where: str, recordings: Path | None, *, fill_from: Path | None = None) -> Iterator[Ledger]:
    """The ledger, closed at the end; one that is not there is made only where the command fills it from a file."""
    from earwitness.errors import EarwitnessError
    from earwitness.ledger import open_ledger

    if fill_from is not None and not fill_from.is_file():
        raise EarwitnessError(f"there is no file {fill_from}")
    if fill_from is None and "://" not in where and not Path(where).is_file():
        raise EarwitnessError(f"there is no ledger {where}; `earwitness survey FOLDER --ledger {where}` begins one")
    ledger = open_ledger(where, recordings)
    try:
        yield ledger
    finally:
        ledger.close()
