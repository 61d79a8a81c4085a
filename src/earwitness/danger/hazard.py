"""A hazard: what it can do, its signal word and why, and what comes first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from earwitness.errors import InputError
from earwitness.sentence import Sentence

SignalWord = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
SIGNAL_WORDS: tuple[SignalWord, ...] = ("DANGER", "WARNING", "CAUTION", "NOTICE")  # worst first
Place = Literal["indoors", "outdoors", "confined"]
PLACES = ("indoors", "outdoors", "confined")


@dataclass(frozen=True)
class Hazard:
    """`code` names the family, `sentence` says it, `basis` is the rule that gave the word; `urgent`: act from the
    floor, now."""

    code: str
    signal_word: SignalWord
    sentence: Sentence
    basis: str
    first_actions: tuple[Sentence, ...] = ()
    urgent: bool = False
    args: Mapping[str, Any] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        return {
            "code": self.code,
            "args": dict(self.args),
            "signal_word": self.signal_word,
            "text": self.sentence.text,
            "text_code": self.sentence.code,
            "basis": self.basis,
            "first_actions": [action.as_json() for action in self.first_actions],
        }


def severity(word: SignalWord) -> int:
    """How bad a signal word is: 4 for DANGER down to 1 for NOTICE.

    Examples
    --------
    >>> severity("DANGER"), severity("NOTICE")
    (4, 1)
    """
    return len(SIGNAL_WORDS) - SIGNAL_WORDS.index(word)


def known_place(place: str | None) -> Place:
    """The place a leak is at; not stated counts as indoors.

    Examples
    --------
    >>> known_place(None)
    'indoors'
    """
    if place is None or place == "":
        return "indoors"
    if place not in PLACES:
        raise InputError("place", repr(place), "indoors, outdoors or confined")
    return place  # type: ignore[return-value]
