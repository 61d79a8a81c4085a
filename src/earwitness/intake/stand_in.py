"""The site's settings stand in where survey.toml says nothing; what survey.toml says, right or wrong, wins."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from earwitness import units
from earwitness.intake.toml_lines import Parts

SiteSettings = Callable[[str], Mapping[str, Any]]  # by the site's name, in the words of survey.toml
_DIMENSIONS: Mapping[tuple[str, str], str] = {  # of keys that may carry another unit at their end
    ("energy", "carbon"): "carbon", ("air", "pressure"): "pressure", ("air", "hours_per_year"): "hours",
    ("air", "average_load"): "fraction", ("air", "specific_power"): "specific power",
    ("site", "mains_hz"): "frequency", ("site", "temperature"): "temperature", ("site", "humidity"): "fraction",
    ("site", "ambient_pressure"): "absolute pressure",
}  # fmt: skip


def standing_in(parts: Parts, site_settings: SiteSettings) -> Parts:
    """The parts with the site's own where they are left out; `from_site` says which these are."""
    survey = parts.tables.get("survey")
    name = str(survey.get("site") or "").strip() if isinstance(survey, dict) else ""
    own = site_settings(name) if name else {}
    tables, taken = dict(parts.tables), dict[str, str]()
    for table in ("energy", "air", "site"):
        stated = tables.get(table, {})
        if not isinstance(stated, dict):
            continue
        for key, value in (own.get(table) or {}).items():
            if not _is_stated(parts.tables, table, key):
                stated = {**stated, key: value}
                taken[f"[{table}] {key}"] = str(value)
        if stated:
            tables[table] = stated
    gases, stated_gases = _gases(tables.get("gas"), own.get("gas") or {})
    if stated_gases:
        tables["gas"] = gases
        taken |= {f"[gas] {gas}": str(price) for gas, price in stated_gases.items()}
    return replace(parts, tables=tables, from_site=taken)


def _is_stated(tables: Mapping[str, Any], table: str, key: str) -> bool:
    """Whether survey.toml says so itself: under this name, with a unit at its end, or by what says the same."""
    stated: Mapping[str, Any] = tables.get(table) or {}
    if key in stated:
        return True
    if (table, key) == ("air", "average_load") and "load_profile" in stated:
        return True
    if (table, key) == ("air", "specific_power") and _machines_say_power(tables.get("compressor")):
        return True
    dimension = _DIMENSIONS.get((table, key))
    base = {"mains_hz": "mains", "hours_per_year": "hours_per"}.get(key, key)
    return dimension is not None and any(
        name.startswith(base + "_") and units.fits(dimension, name[len(base) + 1 :]) for name in stated
    )


def _machines_say_power(given: Any) -> bool:
    machines = given if isinstance(given, list) else [given]
    return any(
        isinstance(m, dict) and any(k.startswith(("specific_power", "rated_power")) for k in m) for m in machines
    )


def _gases(given: Any, prices: Mapping[str, Any]) -> tuple[list[Any], dict[str, Any]]:
    """The tables with the site's prices of the gases that have none, and which these are."""
    tables: list[Any] = given if isinstance(given, list) else [given] if isinstance(given, dict) else []
    found = [g for g in tables if isinstance(g, dict)]
    known = {str(g.get("name", "")).casefold(): g for g in found}
    wanted = {n: p for n, p in prices.items() if "price" not in known.get(n.casefold(), {})}
    lower = {n.casefold(): p for n, p in wanted.items()}
    out = [
        {**g, "price": lower[n]} if isinstance(g, dict) and (n := str(g.get("name", "")).casefold()) in lower else g
        for g in tables
    ]
    return [*out, *({"name": n, "price": p} for n, p in wanted.items() if n.casefold() not in known)], wanted
