"""Readings whose kind the inspector left open: cases of the other kinds, with what the rows give away kept.

Right is the thing that was heard, or an honest `inconclusive`; of what is nothing, any verdict of nothing.
"""

from __future__ import annotations

from importlib import import_module

import numpy as np

from benchmarks.examiner.scene import Case

NOTHING = ("no-leak-heard", "no-passage-heard", "no-fault-heard", "no-discharge-heard", "inconclusive")
CASES = {
    "leak/steady, levels": 4, "leak/swept": 4, "leak/ambient, levels": 3, "leak/beeper": 2,
    "leak/voices and clatter": 2,
    "seal/one": 3, "seal/one, beeping": 3, "bearing/outer-race": 4, "bearing/inner-race": 3, "bearing/sound": 3,
    "bearing/irregular": 2, "electrical/corona, both halves": 3, "electrical/arcing": 3, "electrical/folded tones": 2,
    "electrical/air conditioner": 2, "gear/tooth": 2, "gear/wear": 2,
}  # fmt: skip


def make(rng: np.random.Generator, name: str) -> Case:
    """One case of `name`, which is kind/case."""
    kind, _, inner = name.partition("/")
    case = import_module(f"benchmarks.examiner.{kind}").make(rng, inner)
    accept = set(case.accept) | {"inconclusive"}
    if case.truth.startswith("no-"):
        accept |= set(NOTHING)
    case.name, case.accept = name, frozenset(accept)
    return case
