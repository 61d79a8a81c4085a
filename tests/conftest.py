"""What several rooms' tests share: the demo, run once."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented site's folder, judged: `survey/` holds what the inspector left, the outputs lie beside it."""
    from earwitness.work.demo import demo_survey
    from earwitness.work.survey import run_survey

    out = tmp_path_factory.mktemp("demo")
    run_survey(demo_survey(out, jobs=2), out, jobs=1)
    return out
