"""earwitness serve: the workbench in a browser on this machine."""

from __future__ import annotations

import os
from pathlib import Path

import click

from earwitness.cli.path import PATH

EPILOG = """\b
Examples:
  earwitness serve --ledger site.ledger
  earwitness serve --ledger site.ledger --host 0.0.0.0      (asks for users; makes its own certificate)
"""


@click.command("serve", epilog=EPILOG)
@click.option("--ledger", "where", required=True, help="The ledger's file (made if it is not there), or a URL.")
@click.option("--recordings", type=PATH, help="Folder of recordings, for a ledger on a server.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to answer on.")
@click.option("--port", type=click.IntRange(1, 65535), default=8765, show_default=True, help="Port to answer on.")
@click.option("--jobs", type=click.IntRange(1), help="Recordings judged at once; all cores but one by default.")
def command(where: str, recordings: Path | None, host: str, port: int, jobs: int | None) -> None:
    """Open the workbench on a ledger: loopback without an account; any other address with users and TLS."""
    from earwitness.ledger.database import open_ledger
    from earwitness.server.run import serve
    from earwitness.workbench import STATIC, TEMPLATES, all_pages

    ledger = open_ledger(where, recordings)
    try:
        serve(
            ledger,
            all_pages(),
            templates=[TEMPLATES],
            static=STATIC,
            host=host,
            port=port,
            processes=jobs or max(1, (os.cpu_count() or 1) - 1),
            tell=click.echo,
        )
    finally:
        ledger.close()
