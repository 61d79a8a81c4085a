"""What a simulator hands out: a reading as a detector is given it, the truth, and what was varied.

Each `simulate/KIND.py` has `draw(rng: np.random.Generator, *, held_out: bool = False) -> Simulated`. With
`held_out` it draws from a part of the variety (plants, receivers, emitters, tempers) that no weight was fitted on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from earwitness.hearing.heard import Heard


@dataclass(frozen=True)
class Simulated:
    """One simulated reading.

    heard : the sound and the levels
    state : what else the detector of that kind is told (its own state class)
    truth : the verdict that is right; `inconclusive` where no listener could tell
    places : seconds into the recording where the sound comes through, of a sweep
    variety : what was drawn (receiver, noise, level, decoy …), for tables of where a detector fails
    """

    heard: Heard
    state: Any
    truth: str
    places: tuple[float, ...] = ()
    variety: Mapping[str, Any] = field(default_factory=dict)
