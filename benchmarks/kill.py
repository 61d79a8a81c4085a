"""Kill a process with SIGKILL at 200 random moments while it imports, verifies and reassesses, half of them on SQLite
and half on PostgreSQL, and check the ledger after each. Then the same to a real server while it files the demo's
survey, at a tenth as many moments: each costs a whole judging.

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
    tests = ["tests/ledger/test_killed.py::test_killed_at_random_moments", "tests/server/test_killed_judging.py"]
    run = [sys.executable, "-m", "pytest", "-q", "-s", "-p", "no:cacheprovider", *tests]
    often = {"EARWITNESS_KILLS": moments, "EARWITNESS_SERVER_KILLS": str(max(3, int(moments) // 10))}
    return subprocess.run(run, cwd=ROOT, env=os.environ | often).returncode


if __name__ == "__main__":
    sys.exit(main())
