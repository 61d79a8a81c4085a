"""What is filed, in the shape that sums are made from: the same code adds up a survey that was just judged and one
that lies in the ledger."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from earwitness.gas.gases import reference_density
from earwitness.interval import Interval, Uncertain
from earwitness.ledger import Ledger
from earwitness.plant.assessment import Assessment, Quantity
from earwitness.plant.reading import Reading, Repair
from earwitness.plant.survey import Survey
from earwitness.work.economy import Economy
from earwitness.work.size import currency_of, gas_of, yearly
from earwitness.work.stand_in import read_at_site

NO_READINGS = "reading,kind\n"


def settings_as_filed(ledger: Ledger, toml: str) -> Survey:
    """A survey's settings, with what the site says where they say nothing, and no readings."""
    with tempfile.TemporaryDirectory(prefix="earwitness-") as made:
        folder = Path(made)
        (folder / "survey.toml").write_text(toml, "utf-8")
        (folder / "readings.csv").write_text(NO_READINGS, "utf-8")
        return read_at_site(ledger, folder)


def amounts_as_filed(result: Mapping[str, Any], survey: Survey, economy: Economy) -> Assessment:
    """Of a filed judgement what the totals draw from: the flow with its spread, and what that costs a year."""
    reading = _reading(result)
    counted = result.get("counts_in_totals") or {}
    quantities = {name: _quantity(q) for name, q in (result.get("quantities") or {}).items()}
    gas, _ = gas_of(reading, survey)
    flow = _mass_flow(result)
    amounts: dict[str, Uncertain] = {}
    currency = "" if gas is None else currency_of(gas, survey, economy)
    if flow is not None and gas is not None:
        more, _ = yearly(flow, gas, reading, survey, economy)
        amounts = {"volume_flow": flow * (1 / reference_density(gas)), **more}
    return Assessment(
        reading,
        quantities=quantities,
        amounts=amounts,
        currency=currency,
        of_air=gas is not None and gas.name == "air",
        counts=bool(counted.get("yes")),
        counts_why=str(counted.get("why") or ""),
    )


def _reading(result: Mapping[str, Any]) -> Reading:
    hours = ((result.get("conditions") or {}).get("hours_per_year") or {}).get("value")
    repair = result.get("repair") or {}
    return Reading(
        str(result["reading"]),
        int(result.get("row") or 0),
        str(result.get("kind") or "other"),
        medium=result.get("medium"),
        hours_per_year=None if hours is None else float(hours),
        repair=Repair(cost=repair.get("cost"), cost_currency=repair.get("cost_currency")),
    )


def _mass_flow(result: Mapping[str, Any]) -> Uncertain | None:
    quantity = (result.get("quantities") or {}).get("mass_flow")
    if not quantity:
        return None
    spread = result.get("spread") or {}
    return Uncertain(float(quantity["value"]), float(spread.get("own", 0.0)), dict(spread.get("shared", {})))


def _quantity(q: Mapping[str, Any]) -> Quantity:
    interval = Interval(q["value"], q["low"], q["high"], q["mean"], q["coverage"])
    return Quantity(interval, q["unit"], q["method"], q.get("reference"))
