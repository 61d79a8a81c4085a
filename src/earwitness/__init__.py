"""Earwitness: from what an inspector hears with an ultrasonic receiver to a repair that is made, proven and paid for.

For a notebook, three functions stand at the root; each is loaded when it is first asked for:

    earwitness.judge(samples, rate_hz, kind="leak", …)      what an array of samples is
    earwitness.flow_through_hole(gas=…, pressure=…, hole=…)   gas through an opening
    earwitness.run_survey(folder, out)                        the main job
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
__all__ = ["__version__", "flow_through_hole", "judge", "run_survey"]

_WHERE = {"judge": "diagnose", "flow_through_hole": "flow", "run_survey": "survey"}

if TYPE_CHECKING:
    from earwitness.work.diagnose import judge
    from earwitness.work.flow import flow_through_hole
    from earwitness.work.survey import run_survey


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        from importlib import import_module

        return getattr(import_module(f"earwitness.work.{_WHERE[name]}"), name)
    raise AttributeError(f"module 'earwitness' has no attribute {name!r}")
