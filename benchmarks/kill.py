"""Kill a process with SIGKILL at 200 random moments while it imports, verifies and reassesses, half of them on SQLite
and half on PostgreSQL, and check the ledger after each.

    python benchmarks/kill.py [MOMENTS]
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]


def main() -> int:
    moments = sys.argv[1] if len(sys.argv) > 1 else "200"
    test = "tests/ledger/test_killed.py::test_killed_at_random_moments"
    run = [sys.executable, "-m", "pytest", "-q", "-s", "-p", "no:cacheprovider", test]
    return subprocess.run(run, cwd=ROOT, env=os.environ | {"EARWITNESS_KILLS": moments}).returncode


if __name__ == "__main__":
    sys.exit(main())
