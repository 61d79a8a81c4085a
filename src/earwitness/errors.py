"""What this program raises, all under one root."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager


class EarwitnessError(Exception):
    """Something the user can mend; its text is one plain line that says what was wrong and what would do."""


class InputError(EarwitnessError, ValueError):
    """A value that cannot be: names the argument, the value and what is allowed."""

    def __init__(self, argument: str, value: object, allowed: str) -> None:
        self.argument, self.value, self.allowed = argument, value, allowed
        super().__init__(f"{argument} cannot be {value!s}: {allowed}")


@contextmanager
def as_asked(**given: tuple[str, object]) -> Iterator[None]:
    """What is refused within, under the name and with the text that the user gave: argument=(name, text)."""
    try:
        yield
    except InputError as error:
        name, text = given.get(error.argument, (error.argument, error.value))
        raise InputError(name, text, error.allowed) from None
