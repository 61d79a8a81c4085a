"""What is written comes back the same from SQLite and PostgreSQL: moments in UTC, texts without NUL, numbers that JSON
can hold. Each database refuses, or quietly alters, something that the other takes."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, Float, Text, TypeDecorator
from sqlalchemy.engine import Dialect


def cleaned(value: Any) -> Any:
    """`value` without what a database refuses: NUL and half characters in texts, NaN and infinity among numbers."""
    if isinstance(value, str):
        return value.replace("\x00", "").encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, dict):
        return {cleaned(str(k)): cleaned(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [cleaned(v) for v in value]
    return value


def as_stored(value: Any) -> Any:
    """`value` as it will come back from a Json column, to compare with what is there."""
    return json.loads(json.dumps(cleaned(value), ensure_ascii=False))


class Moment(TypeDecorator[datetime]):
    """A moment in UTC, aware on both databases; a moment without a zone is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment without a time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Words(TypeDecorator[str]):
    """Text as people write it."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        return cleaned(value)


class Number(TypeDecorator[float]):
    """A number that is known, else nothing."""

    impl = Float
    cache_ok = True

    def process_bind_param(self, value: float | None, dialect: Dialect) -> float | None:
        return None if value is None else cleaned(float(value))


class Json(TypeDecorator[Any]):
    """Kept as text on both databases, so that order and digits come back as they were written."""

    impl = JSON
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> Any:
        return cleaned(value)
