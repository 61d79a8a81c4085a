"""What a sound file that cannot be read raises."""

from __future__ import annotations

from typing import Any

from earwitness.errors import EarwitnessError
from earwitness.sentence import Sentence, say


class AudioError(EarwitnessError):
    """A sound file that cannot be read: its `sentence` says why and what would do."""

    def __init__(self, code: str, template: str, /, **args: Any) -> None:
        self.sentence: Sentence = say(code, template, **args)
        super().__init__(self.sentence.text)

    def __reduce__(self) -> tuple[Any, ...]:  # so that it comes back whole from another process
        return _again, (self.sentence,)


def _again(sentence: Sentence) -> AudioError:
    error = AudioError(sentence.code, "{text}", text=sentence.text)
    error.sentence = sentence
    return error
