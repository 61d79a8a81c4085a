"""What cannot be answered, as a sentence with the status that the web gives it. One shape for every error."""

from __future__ import annotations

from typing import Any

from earwitness.errors import EarwitnessError
from earwitness.sentence import Sentence, say


class Refusal(EarwitnessError):  # noqa: N818
    def __init__(self, status: int, code: str, template: str, /, **args: Any) -> None:
        self.status = status
        self.sentence: Sentence = say(code, template, **args)
        super().__init__(self.sentence.text)


def not_found(what: str) -> Refusal:
    return Refusal(404, "not-there", "There is no such {what} here.", what=what)


def too_large(most: int) -> Refusal:
    text = "This is larger than the {most_mb:g} MB that are taken at once; send it in smaller parts."
    return Refusal(413, "too-large", text, most_mb=most / 1e6)


def as_json(sentence: Sentence) -> dict[str, Any]:
    return {"error": sentence.as_json()}
