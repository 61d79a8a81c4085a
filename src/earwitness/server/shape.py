"""A page's dataclasses as JSON, as a schema, and read from what a form or a JSON body gives."""

from __future__ import annotations

import dataclasses
import math
import types
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints
from uuid import UUID

from earwitness.server.refusal import Refusal


def as_plain(value: Any) -> Any:
    """Numbers, texts, lists and dictionaries; a number that is none is absent, as everywhere in this program."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: as_plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(k): as_plain(v) for k, v in value.items()}
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, UUID | Path):
        return str(value)
    if isinstance(value, str | bool | int) or value is None:
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Sequence | set | frozenset):
        return [as_plain(v) for v in value]
    raise TypeError(f"{type(value).__name__} has no JSON form")


def schema_of(kind: Any, parts: dict[str, Any]) -> dict[str, Any]:
    """The JSON schema of a type; dataclasses go into `parts` by name and are referred to."""
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        name = kind.__name__
        if name not in parts:
            parts[name] = {}
            hints = get_type_hints(kind)
            parts[name] = {
                "type": "object",
                "description": (kind.__doc__ or "").strip() if not (kind.__doc__ or "").startswith(name + "(") else "",
                "properties": {f.name: schema_of(hints[f.name], parts) for f in dataclasses.fields(kind)},
                "required": [f.name for f in dataclasses.fields(kind)],
            }
        return {"$ref": f"#/components/schemas/{name}"}
    plain = {
        str: {"type": "string"}, int: {"type": "integer"}, float: {"type": "number"}, bool: {"type": "boolean"},
        datetime: {"type": "string", "format": "date-time"}, date: {"type": "string", "format": "date"},
        UUID: {"type": "string", "format": "uuid"}, type(None): {"type": "null"},
    }  # fmt: skip
    if kind in plain:
        return dict(plain[kind])
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return {"anyOf": [schema_of(k, parts) for k in inner]}
    if origin is Literal:
        return {"enum": list(inner)}
    if origin in (dict, Mapping) or (origin is not None and _is(origin, Mapping)):
        return {"type": "object", "additionalProperties": schema_of(inner[1], parts)}
    if origin is not None and _is(origin, Sequence):
        return {"type": "array", "items": schema_of(inner[0], parts)}
    return {}


def _is(origin: Any, abstract: type) -> bool:
    return isinstance(origin, type) and issubclass(origin, abstract)


def read_shape(cls: type[Any], given: Mapping[str, Any]) -> Any:
    """A dataclass from a form's texts or a JSON body; what cannot be is refused with the field's name."""
    hints = get_type_hints(cls)
    values: dict[str, Any] = {}
    for field in dataclasses.fields(cls):
        if field.name in given:
            values[field.name] = _read(hints[field.name], given[field.name], field.name)
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            raise Refusal(422, "field-missing", "'{field}' is needed and was not given.", field=field.name)
    return cls(**values)


def _read(kind: Any, given: Any, name: str) -> Any:
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        if given is None or (isinstance(given, str) and not given.strip() and str not in inner):
            return None
        return _read(next(k for k in inner if k is not type(None)), given, name)
    try:
        if origin is Literal:
            if given not in inner:
                raise ValueError
            return given
        if dataclasses.is_dataclass(kind) and isinstance(given, Mapping):
            return read_shape(kind, given)  # type: ignore[arg-type]
        if _is(origin, Mapping) and isinstance(given, Mapping):
            return {str(k): _read(inner[1], v, f"{name}.{k}") for k, v in given.items()}
        if origin is not None and _is(origin, Sequence):
            several = given if isinstance(given, list) else [given]
            read = [_read(inner[0], v, name) for v in several]
            return tuple(read) if origin is tuple else read
        return _read_one(kind, given)
    except (ValueError, TypeError, KeyError):
        text = "'{field}' cannot be '{given}'; {allowed} would do."
        allowed = " or ".join(map(str, inner)) if origin is Literal else _WORDS.get(kind, "another form")
        raise Refusal(422, "field-wrong", text, field=name, given=str(given)[:80], allowed=allowed) from None


_WORDS = {
    float: "a number", int: "a whole number", bool: "yes or no", UUID: "an identifier (UUID)", str: "a text",
    date: "a date such as 2026-11-20", datetime: "a moment such as 2026-11-20T09:40Z",
}  # fmt: skip


def _read_one(kind: Any, given: Any) -> Any:
    if kind is bool:
        if isinstance(given, bool):
            return given
        return {"yes": True, "on": True, "true": True, "no": False, "off": False, "false": False}[str(given).lower()]
    if kind is str:
        if not isinstance(given, str) or "\x00" in given:
            raise ValueError
        return given
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise ValueError
    if kind is float:
        number = float(str(given).replace(",", "."))
        if not math.isfinite(number):
            raise ValueError
        return number
    if kind in (date, datetime):
        return kind.fromisoformat(str(given))
    return kind(given)
