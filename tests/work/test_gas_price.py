"""What fuel gas costs where it is sold by its heat, as most of it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from earwitness.work.flow import flow_through_hole
from earwitness.work.survey import run_survey

TOML = '[survey]\ntitle = "t"\nsite = "s"\ndate = 2026-11-20\ninspector = "i"\n[air]\nhours_per_year = 1000\n'


def told(folder: Path, gas: str, price: str, flow: str = "1 kg/h") -> dict:
    (folder / "survey.toml").write_text(f'{TOML}[[gas]]\nname = "{gas}"\nprice = "{price}"\n')
    row = f"L,leak,P,{gas},1 bar(g),{flow},soap,outdoors\n"
    (folder / "readings.csv").write_text("reading,kind,point,medium,pressure,flow,confirmed,place\n" + row)
    return run_survey(folder, folder / "out", reports="none").findings["readings"][0]


# 1 000 kg of methane at 55.5 MJ/kg gross: 15.4 MWh, 52.6 million Btu, 526 therms
@pytest.mark.parametrize(("price", "cost"), [("45 EUR/MWh", 694.0), ("9 USD/MMBtu", 473.0), ("0.9 USD/therm", 473.0)])
def test_a_fuel_gas_priced_by_its_heat_has_a_cost(price, cost, tmp_path):
    reading = told(tmp_path, "methane", price)
    assert reading["quantities"]["cost_per_year"]["value"] == pytest.approx(cost, rel=0.005)
    assert "gross-heat" in {n["code"] for n in reading["notes"]}


def test_a_price_of_heat_is_not_said_to_be_missing_where_the_heat_is_not_known(tmp_path):
    reading = told(tmp_path, "steam", "45 EUR/MWh")
    assert "cost_per_year" not in reading["quantities"]
    assert {n["code"] for n in reading["notes"]} & {"gas-price-of-heat", "no-gas-price"} == {"gas-price-of-heat"}


def test_a_hole_is_priced_alike():
    found = flow_through_hole(gas="methane", pressure="1 bar(g)", hole="1 mm", price="45 EUR/MWh", hours=1000)
    mass = found.quantities["mass_flow"].interval.value * 3600 * 1000
    assert found.quantities["cost_per_year"].interval.value == pytest.approx(mass * 55.5 / 3600 * 45, rel=0.005)
