"""The invented site's survey folder, recorded anew each time with the same bytes."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from earwitness.simulate.site import write_site


def demo_survey(out: Path, *, jobs: int = 1, seed: int = 0, progress: Callable[[int, int], None] | None = None) -> Path:
    """Write the demo's survey folder below `out` and say where it is."""
    folder = out / "survey"
    shutil.rmtree(folder, ignore_errors=True)
    write_site(folder, seed=seed, jobs=jobs, progress=progress)
    return folder
