"""What a leak wastes and what comes back, from the sheet to the file, against sums by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from earwitness.work.survey import run_survey

TOML = """
[survey]
title = "t"
site = "s"
date = 2026-11-20
inspector = "i"
[energy]
price = "0.20 EUR/kWh"
carbon = "0.4 kg/kWh"
carbon_marginal = "0.7 kg/kWh"
{energy}
[air]
pressure = "7 bar(g)"
hours_per_year = 8760
average_load = 0.7
{air}
[[compressor]]
name = "one"
capacity = "10 m3/min"
specific_power = "6 kW/(m3/min)"
control = "{control}"
storage = "3 m3"
"""
SHEET = "reading,kind,medium,flow,confirmed,repair_cost\nL1,leak,air,100 l/min,meter,100 EUR\n"


def judged(folder: Path, *, energy: str = "", air: str = "", control: str = "start-stop") -> dict:
    (folder / "survey.toml").write_text(TOML.format(energy=energy, air=air, control=control))
    (folder / "readings.csv").write_text(SHEET)
    return run_survey(folder, folder / "out", reports="none").findings


def test_waste_is_flow_times_specific_power_times_hours(tmp_path):
    """0.1 m3/min · 6 kW/(m3/min) · 8760 h = 5256 kWh; · 0.20 = 1051 EUR; · 0.4 = 2102 kg."""
    q = judged(tmp_path)["readings"][0]["quantities"]
    assert q["energy_per_year"]["value"] == pytest.approx(5256, rel=1e-3)
    assert q["cost_per_year"]["value"] == pytest.approx(1051, rel=1e-3)
    assert q["carbon_per_year"]["value"] == pytest.approx(2102, rel=1e-3)
    assert q["carbon_marginal_per_year"]["value"] == pytest.approx(3679, rel=1e-3)


def test_start_stop_gives_all_of_it_back_and_modulation_little(tmp_path):
    """A machine that stands still when no air is needed saves in proportion; inlet modulation well under half."""
    full = judged(tmp_path)["totals"]
    assert full["saving_per_year"]["value"] == pytest.approx(full["cost_per_year"]["value"], rel=0.02)
    little = judged(tmp_path, control="inlet-modulation")["totals"]
    assert little["saving_per_year"]["value"] < 0.4 * little["cost_per_year"]["value"]


def test_payback_is_cost_over_saving(tmp_path):
    q = judged(tmp_path)["readings"][0]["quantities"]
    assert q["payback"]["unit"] == "a"
    assert q["payback"]["value"] == pytest.approx(100 / q["saving_per_year"]["value"], rel=1e-3)


def test_a_leak_pays_the_mean_of_the_bands(tmp_path):
    """8 of 24 hours at 0.10 and 16 at 0.20: 0.1667 a kWh."""
    band = '[[energy.band]]\nfrom = "22:00"\nto = "06:00"\nprice = "0.10 EUR/kWh"'
    q = judged(tmp_path, energy=band)["readings"][0]["quantities"]
    assert q["cost_per_year"]["value"] == pytest.approx(5256 * (16 * 0.20 + 8 * 0.10) / 24, rel=1e-3)


def test_a_saving_lowers_the_demand_charge_by_its_peak(tmp_path):
    """0.1 m3/min less at 6 kW/(m3/min) is 0.6 kW less in each of 12 months."""
    without = judged(tmp_path)["totals"]["saving_per_year"]["mean"]
    charged = judged(tmp_path, energy='demand_charge = "9 EUR/kW"')["totals"]["saving_per_year"]["mean"]
    assert charged - without == pytest.approx(0.6 * 12 * 9, rel=0.05)


@pytest.mark.parametrize(
    ("energy", "air", "column"),
    [
        ('demand_charge = "9 EUR"', "", "kW"),
        ('[[energy.band]]\nfrom = "22:00"\nprice = "0.1 EUR/kWh"', "", "from"),
        ("", "load_profile = [0.5, 1.7]", "fractions"),
    ],
)
def test_a_wrong_part_is_named_and_the_rest_goes_on(energy, air, column, tmp_path):
    found = judged(tmp_path, energy=energy, air=air)
    assert any(column in p["text"] for p in found["problems"])
    assert found["readings"][0]["quantities"]["cost_per_year"]["value"] == pytest.approx(1051, rel=1e-3)


def test_a_load_profile_stands_for_the_average(tmp_path):
    flat = judged(tmp_path)["totals"]["saving_per_year"]["value"]
    shaped = judged(tmp_path, air="load_profile = [0.4, 1.0]")["totals"]["saving_per_year"]["value"]
    assert shaped == pytest.approx(flat, rel=0.05)  # start-stop: in proportion at any load


def test_without_price_hours_or_machines_what_is_left_out_is_said(tmp_path):
    (tmp_path / "survey.toml").write_text('[survey]\ntitle="t"\nsite="s"\ndate=2026-11-20\ninspector="i"\n')
    (tmp_path / "readings.csv").write_text(SHEET)
    found = run_survey(tmp_path, tmp_path / "out", reports="none").findings
    assert {"no-energy-price", "no-specific-power"} <= {n["code"] for n in found["notes"]}
    assert "no-hours" in {n["code"] for n in found["readings"][0]["notes"]}
    assert set(found["totals"]) == {"volume_flow"}


def test_without_the_control_type_nothing_is_said_to_come_back(tmp_path):
    judged(tmp_path)
    toml = (tmp_path / "survey.toml").read_text().replace('control = "start-stop"\n', "")
    (tmp_path / "survey.toml").write_text(toml)
    found = run_survey(tmp_path, tmp_path / "out", reports="none").findings
    assert "no-control" in {n["code"] for n in found["notes"]}
    assert "saving_per_year" not in found["totals"] and "cost_per_year" in found["totals"]


def test_no_sum_exceeds_what_the_compressors_make(tmp_path):
    """Three meters that together show more than 70 % of 10 m3/min: the sum is held below it."""
    judged(tmp_path)
    rows = "".join(f"L{n},leak,air,{flow} m3/min,meter,\n" for n, flow in enumerate([2.6, 2.4, 2.3]))
    (tmp_path / "readings.csv").write_text("reading,kind,medium,flow,confirmed,repair_cost\n" + rows)
    found = run_survey(tmp_path, tmp_path / "out", reports="none").findings
    assert found["totals"]["volume_flow"]["high"] <= 7.0 / 60


def test_the_present_value_of_the_repairs(tmp_path):
    """1051 EUR a year for 3 years at 10 % is 2.4869 times as much, less the 100 EUR that the repair costs."""
    worth = "horizon_years = 3\ndiscount_rate = 0.10"
    totals = judged(tmp_path, energy=worth)["totals"]
    expected = 2.48685 * totals["saving_per_year"]["value"] - 100
    assert totals["present_value"]["value"] == pytest.approx(expected, rel=2e-3)


def test_a_machines_own_curve_goes_before_its_controls(tmp_path):
    """A flat curve gives nothing back, whatever the control is called."""
    flat = judged(tmp_path, control='start-stop"\npart_load = [[0, 1], [1, 1]]\nname2 = "')["totals"]
    assert flat["saving_per_year"]["high"] == 0


@pytest.mark.parametrize("known", [True, False])
def test_carbon_by_the_average_alone_says_so(tmp_path, known):
    toml = TOML.format(energy="", air="", control="start-stop")
    marginal = 'carbon_marginal = "0.7 kg/kWh"\n'
    assert marginal in toml
    (tmp_path / "survey.toml").write_text(toml if known else toml.replace(marginal, ""))
    (tmp_path / "readings.csv").write_text(SHEET)
    codes = [n["code"] for n in run_survey(tmp_path, tmp_path / "out", reports="none").findings["notes"]]
    assert codes.count("carbon-average") == (not known)


def test_what_a_gas_is_made_of_counts(tmp_path):
    """Pure methane in the place of the usual natural gas: LFL 4.4 %, and its own density."""
    judged(tmp_path)
    toml = (tmp_path / "survey.toml").read_text()
    (tmp_path / "readings.csv").write_text(
        "reading,kind,medium,opening_mm,pressure,confirmed,ventilation\n"
        "G,leak,natural gas,1 mm,2 bar(g),soap,100 m3/h\n"
    )
    usual = run_survey(tmp_path, tmp_path / "out", reports="none").findings["readings"][0]
    (tmp_path / "survey.toml").write_text(toml + '\n[[gas]]\nname = "natural gas"\ncomposition = { methane = 1.0 }\n')
    pure = run_survey(tmp_path, tmp_path / "out", reports="none").findings["readings"][0]
    assert pure["quantities"]["mass_flow"]["value"] < usual["quantities"]["mass_flow"]["value"]
    assert "burns from 4.1 %" in usual["hazards"][0]["text"] and "burns from 4.4 %" in pure["hazards"][0]["text"]


def test_what_lines_save_adds_up_to_what_all_save(tmp_path):
    """Of 7 m3/min a load-unload machine makes 4 for ten leaks: closing one gives back another part of its waste than
    closing all does, and a planner adds the lines up."""
    (tmp_path / "survey.toml").write_text(TOML.format(energy="", air="", control="load-unload"))
    rows = [f"L{n},leak,air,{80 * n} l/min,meter,100 EUR\n" for n in range(1, 10)]
    (tmp_path / "readings.csv").write_text(SHEET.splitlines()[0] + "\n" + "".join(rows))
    found = run_survey(tmp_path, tmp_path / "out", reports="none").findings
    lines = sum(r["quantities"]["saving_per_year"]["mean"] for r in found["readings"])
    assert lines == pytest.approx(found["totals"]["saving_per_year"]["mean"], rel=0.02)
    assert found["totals"]["saving_per_year"]["mean"] < 0.9 * found["totals"]["cost_per_year"]["mean"]


@pytest.mark.parametrize(("hours", "said"), [("", True), ("4000", False)])
def test_hours_that_are_those_of_the_air_are_said(tmp_path, hours, said):
    toml = TOML.format(energy="", air="", control="start-stop")
    (tmp_path / "survey.toml").write_text(toml + '[[gas]]\nname = "natural gas"\nprice = "0.8 EUR/kg"\n')
    sheet = f"reading,kind,medium,flow,confirmed,hours_per_year\nG1,leak,natural gas,100 l/min,meter,{hours}\n"
    (tmp_path / "readings.csv").write_text(sheet)
    (leak,) = run_survey(tmp_path, tmp_path / "out", reports="none").findings["readings"]
    notes = [n["text"] for n in leak["notes"] if n["code"] == "hours-of-the-air"]
    assert leak["quantities"]["cost_per_year"]["value"] > 0 and bool(notes) == said
    assert not said or "8760 a year" in notes[0]
