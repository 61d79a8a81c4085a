"""What the fitness check says of a recording: the faults found, and which conclusions each of them spoils."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from earwitness.sentence import Sentence

Spoiled = Literal["level", "spectrum", "rhythm"]
ALL: frozenset[Spoiled] = frozenset({"level", "spectrum", "rhythm"})
NONE: frozenset[Spoiled] = frozenset()


@dataclass(frozen=True)
class FitnessProblem:
    """One fault: its code, what it means in words, and which conclusions it spoils (maybe none)."""

    code: str
    sentence: Sentence
    spoils: frozenset[Spoiled] = NONE


@dataclass(frozen=True)
class FitnessReport:
    """The faults found, what they spoil together, and the part of the samples to judge.

    start, stop : the samples without digital silence at either end
    measures : what was measured, by name (seconds, rms, peak, …), for choosing a channel and for the record
    """

    problems: tuple[FitnessProblem, ...]
    start: int
    stop: int
    measures: Mapping[str, float] = field(default_factory=dict)

    @property
    def spoiled(self) -> frozenset[Spoiled]:
        return frozenset().union(*(p.spoils for p in self.problems))

    @property
    def fit(self) -> bool:
        """Whether anything at all can be judged."""
        return self.spoiled != ALL

    @property
    def codes(self) -> tuple[str, ...]:
        return tuple(p.code for p in self.problems)
