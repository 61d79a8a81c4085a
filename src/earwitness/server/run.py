"""Starting the server: loopback without accounts, any other address only with users and TLS."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from earwitness.errors import EarwitnessError
from earwitness.ledger.database import Ledger
from earwitness.server.app import make_app
from earwitness.server.certificate import certificate_for
from earwitness.server.house import House
from earwitness.server.page import Page
from earwitness.server.users import users


def is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def serve(
    ledger: Ledger,
    pages: Sequence[Page],
    *,
    templates: Sequence[Path],
    static: Path,
    host: str = "127.0.0.1",
    port: int = 8765,
    processes: int = 1,
    tell: Callable[[str], None] = print,
) -> None:
    """Serve until interrupted. `tell` is given the lines for whoever started it.

    Raises
    ------
    EarwitnessError : the browser code is not built, or an address of the network is asked without any user
    """
    import uvicorn

    if not (static / "built").exists():
        raise EarwitnessError("the browser code is not built; run `make bundle` (a released wheel has it inside)")
    near = is_loopback(host)
    house = House(ledger, accounts=not near, port=port if near else None, judging_processes=processes)
    tls: dict[str, Any] = {}
    if not near:
        if not users(ledger):
            raise EarwitnessError(
                f"{host} can be reached by others, so somebody must sign in there: make the first account with "
                "`earwitness user add NAME --role administer --ledger …`, or leave out --host"
            )
        made = certificate_for(ledger.store.folder.with_suffix(".tls"), host)
        tls = {"ssl_certfile": str(made.chain), "ssl_keyfile": str(made.key)}
        tell(f"Fingerprint (SHA-256) of this server's own certificate authority, to compare:\n  {made.fingerprint}")
        tell(f"To trust it on a device, install {made.authority} there.")
    app = make_app(house, pages, templates=templates, static=static)
    shown = f"[{host}]" if ":" in host else host
    tell(f"Earwitness: {'http' if near else 'https'}://{shown}:{port}/  (Ctrl+C ends it)")
    config = uvicorn.Config(
        app, host=host.strip("[]"), port=port, log_level="warning", access_log=False, server_header=False,
        proxy_headers=False, h11_max_incomplete_event_size=32_768, timeout_graceful_shutdown=5, **tls,
    )  # fmt: skip
    uvicorn.Server(config).run()
