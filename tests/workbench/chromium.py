"""The browser: the one of this machine, else Debian's package where that may be installed, else the test tool's own."""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome")


@cache
def executable() -> str | None:
    """Its path; None for the one that the test tool has brought itself."""
    if found := _found():
        return found
    with (Path(tempfile.gettempdir()) / "earwitness-browser.lock").open("w") as lock:  # one of all test processes
        fcntl.flock(lock, fcntl.LOCK_EX)
        return _found() or _installed()


def _installed() -> str | None:
    if os.geteuid() == 0 and shutil.which("apt-get"):
        quiet = {"stdout": subprocess.DEVNULL, "env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}}
        subprocess.run(["apt-get", "update", "-qq"], check=False, **quiet)
        subprocess.run(["apt-get", "install", "-y", "-qq", "--no-install-recommends", "chromium"], check=False, **quiet)
        if found := _found():
            return found
    subprocess.run([sys.executable, "-m", "playwright", "install", "chromium"], check=True)
    return None


def _found() -> str | None:
    return next((path for name in NAMES if (path := shutil.which(name))), None)
