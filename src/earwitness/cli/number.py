"""Numbers as options take them."""

from __future__ import annotations

import math
from typing import Any

import click


class Number(click.FloatRange):
    """A number within a range; never NaN or infinity, which click's own types take."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        number = super().convert(value, param, ctx)
        if not math.isfinite(number):
            self.fail(f"'{value}' is not a number.", param, ctx)
        return number


LEVEL_DB = Number(-300, 300)  # as the field sheet takes them
