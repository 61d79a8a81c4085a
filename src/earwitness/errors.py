"""What this program raises, all under one root."""

from __future__ import annotations


class EarwitnessError(Exception):
    """Something the user can mend; its text is one plain line that says what was wrong and what would do."""


class InputError(EarwitnessError, ValueError):
    """A value that cannot be: names the argument, the value and what is allowed."""

    def __init__(self, argument: str, value: object, allowed: str) -> None:
        self.argument, self.value, self.allowed = argument, value, allowed
        super().__init__(f"{argument} cannot be {value!s}: {allowed}")
