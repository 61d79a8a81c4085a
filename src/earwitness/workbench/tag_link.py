"""Where the QR code of a tag leads: to this workbench as a phone reaches it; else it holds the tag alone."""

from __future__ import annotations

import re
from ipaddress import ip_address
from urllib.parse import urlsplit

from earwitness.server import Ask
from earwitness.work.desk_settings import phone_address

HOST = re.compile(r"[A-Za-z0-9.:\[\]-]{1,250}")


def tag_link(ask: Ask) -> str:
    """What stands before a tag in its code: the address that the settings state; else the one that whoever asks has
    come by, unless that is this machine's name for itself, which means the phone itself to a phone."""
    with ask.ledger.reading() as connection:
        stated = phone_address(connection, ask.site.id)
    if stated:
        return f"{stated}/tag/"
    if not HOST.fullmatch(ask.host) or _is_loopback(urlsplit(f"//{ask.host}").hostname or ""):
        return ""
    return f"{ask.scheme}://{ask.host}/tag/"


def _is_loopback(name: str) -> bool:
    try:
        return ip_address(name).is_loopback
    except ValueError:
        return name.casefold() == "localhost"
