"""A sentence shown to a person: its code and its arguments beside the English text, so that it can be said in
another language later. Everything a person reads in a result (evidence, note, caution, problem, next step) is one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Sentence:
    code: str
    text: str
    args: Mapping[str, Any] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        return {"code": self.code, "args": dict(self.args), "text": self.text}


def say(code: str, template: str, /, **args: Any) -> Sentence:
    """The sentence `code`, its English made from `template` (a str.format pattern) and `args`.

    Examples
    --------
    >>> say("too-short", "The recording lasts {seconds:.1f} s; {needed} s would do.", seconds=0.42, needed=2).text
    'The recording lasts 0.4 s; 2 s would do.'
    """
    return Sentence(code, template.format(**args), args)
