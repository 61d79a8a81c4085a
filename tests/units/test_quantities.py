"""Quantities with units against pint (a program of others) and printed factors; what the contract refuses."""

from __future__ import annotations

import functools
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from earwitness import units
from earwitness.errors import EarwitnessError

# our spelling: pint's; pint knows no gauge pressures, cfm, Nm3 or the like, so only units that both know
ORACLE = {
    ("absolute pressure", "kPa"): "kPa", ("absolute pressure", "bar"): "bar", ("absolute pressure", "psi"): "psi",
    ("absolute pressure", "mbar"): "mbar", ("absolute pressure", "torr"): "torr", ("absolute pressure", "atm"): "atm",
    ("absolute pressure", "mmHg"): "mmHg", ("absolute pressure", "kgf/cm2"): "kgf/cm**2",
    ("length", "in"): "inch", ("length", "ft"): "foot", ("length", "um"): "micrometer", ("length", "thou"): "thou",
    ("volume", "ft3"): "foot**3", ("volume", "gal"): "gallon", ("volume", "l"): "liter", ("volume", "in3"): "inch**3",
    ("mass", "lb"): "pound", ("mass", "oz"): "ounce", ("power", "hp"): "horsepower",
    ("power", "PS"): "metric_horsepower",
    ("energy", "kWh"): "kWh", ("energy", "Btu"): "Btu_it", ("duration", "h"): "hour", ("duration", "day"): "day",
    ("speed", "rpm"): "revolution/minute/(2*pi*radian)", ("angle", "deg"): "degree", ("voltage", "kV"): "kV",
}  # fmt: skip


@functools.cache
def registry():
    import pint

    return pint.UnitRegistry()


@pytest.mark.parametrize(("dimension", "unit"), ORACLE)
def test_factors_agree_with_pint(dimension, unit):
    if unit == "rpm":
        expected = 7.0 / 60  # turns a second
    else:
        expected = registry().Quantity(7.0, ORACLE[dimension, unit]).to_base_units().magnitude
    assert units.quantity(f"7 {unit}", dimension, where="t") == pytest.approx(expected, rel=5e-6)


@pytest.mark.parametrize(("text", "pint_unit", "count"), [
    ("4 kg/h", "kg/hour", 4), ("2 lb/min", "pound/minute", 2), ("9 g/s", "g/second", 9),
])  # fmt: skip
def test_mass_flows_agree_with_pint(text, pint_unit, count):
    assert units.flow(text, where="t").value == pytest.approx(
        registry().Quantity(count, pint_unit).to("kg/s").magnitude, rel=1e-9
    )


@pytest.mark.parametrize("text", [
    "7 bar", "7 bar(g)", "7bar g", "7 barg", "7 bar gauge", "700 kPa(g)", "700 kPag", "0.7 MPa", "0,7 MPa", "7 bar [g]",
    "7,0 BAR", "7000 mbar(g)", "7 Bar(G)", " 7  bar ( g ) ", "8.01325 bar(a)", "801.325 kPa abs", "7 barü", "7.0e0 bar",
    "≈7 bar", "ca. 7 bar",
])  # fmt: skip
def test_a_pressure_of_seven_bar_gauge_in_many_hands(text):
    assert units.quantity(text, "pressure", where="t") == pytest.approx(801_325.0, rel=1e-12)


def test_a_pressure_without_g_or_a_is_read_as_gauge_and_noted():
    bare, stated = (units.read(text, "pressure", where="row 2, pressure") for text in ("7 bar", "7 bar(g)"))
    assert [note.code for note in bare.notes] == ["pressure-read-as-gauge"]
    assert stated.notes == () and bare.value == stated.value


def test_gauge_stands_on_the_sites_own_ambient_pressure():
    assert units.quantity("7 bar(g)", "pressure", where="t", ambient_abs=80_000.0) == 780_000.0
    assert units.quantity("7 bar(a)", "pressure", where="t", ambient_abs=80_000.0) == 700_000.0


def test_ambient_pressure_is_absolute_without_saying_so():
    assert units.quantity("1013.25 mbar", "absolute pressure", where="t") == 101_325.0


@pytest.mark.parametrize(("text", "pascal"), [
    ("-0.6 bar(g)", 41_325.0), ("400 mbar(a)", 40_000.0), ("20 inHg vacuum", 101_325 - 20 * 3386.389),
])  # fmt: skip
def test_the_pressure_of_a_vacuum_says_gauge_or_absolute(text, pascal):
    assert units.quantity(text, "vacuum pressure", where="t") == pytest.approx(pascal, rel=1e-9)


@pytest.mark.parametrize("text", ["-0.6 bar", "400 mbar", "20 inHg", "3 torr", "0.5 bar"])
def test_the_pressure_of_a_vacuum_is_never_guessed(text):
    with pytest.raises(units.UnitError) as caught:
        units.quantity(text, "vacuum pressure", where="row 4, pressure")
    assert caught.value.sentence.code == "vacuum-needs-reference"
    assert "row 4, pressure" in str(caught.value) and "mbar(a)" in str(caught.value)


@pytest.mark.parametrize(("text", "dimension", "code"), [
    ("7", "pressure", "no-unit"), ("0.5", "length", "no-unit"), ("20", "temperature", "no-unit"),
    ("70", "fraction", "no-unit"), ("7 bananas", "pressure", "unknown-unit"), ("7 m", "pressure", "unknown-unit"),
    ("7 mpa", "pressure", "unknown-unit"), ("5 mw", "power", "unknown-unit"), ("bar", "pressure", "not-a-number"),
    ("", "pressure", "not-a-number"), ("six bar", "pressure", "not-a-number"),
    ("-2 bar(g)", "pressure", "below-vacuum"),
    ("-300 degC", "temperature", "negative"), ("-1 m", "length", "negative"), ("6-8 bar", "pressure", "unknown-unit"),
    ("1.2.3 bar", "pressure", "not-a-number"), ("<7 bar", "pressure", "not-a-number"),
    ("9**9**9**9", "pressure", "unknown-unit"), ("1e999 bar", "pressure", "not-a-number"),
    ("1e200 MPa", "pressure", "not-a-number"), ("nan bar", "pressure", "not-a-number"),
    ("inf bar", "pressure", "not-a-number"),
    ("1,200 mbar", "pressure", "comma-could-be-two-numbers"), ("__import__('os')", "length", "not-a-number"),
    ("7 bar; 8 bar", "pressure", "unknown-unit"), ("1" * 300 + " bar", "pressure", "not-a-number"),
    ("6.2", "specific power", "no-unit"), ("6.2 kW", "specific power", "unknown-unit"),
    ("2 kg/h", "volume flow", "unknown-unit"), ("0.3 kg", "carbon", "unknown-unit"),
])  # fmt: skip
def test_what_is_refused_and_why(text, dimension, code):
    with pytest.raises(EarwitnessError) as caught:
        units.quantity(text, dimension, where="here")
    assert caught.value.sentence.code == code
    assert caught.value.sentence.text.startswith("here: ") and "\n" not in str(caught.value)


@pytest.mark.parametrize(("text", "decimal", "value"), [
    ("1,5", None, 1.5), ("1.5", None, 1.5), ("1,234.5", None, 1234.5), ("1.234,5", None, 1234.5), ("1 200", None, 1200),
    ("1'200.5", None, 1200.5), ("1,200", ".", 1200), ("1,200", ",", 1.2), ("1.200", None, 1.2), ("1.200", ",", 1200),
    ("0,500", None, 0.5), ("0.500", ",", 0.5), ("12,3456", None, 12.3456), ("1.234.567", None, 1234567),
    ("−4", None, -4),
    ("+4", None, 4), (",5", None, 0.5), ("2e-3", None, 0.002), ("1\u00a0200,5", None, 1200.5),
])  # fmt: skip
def test_numbers_as_people_write_them(text, decimal, value):
    assert units.number(text, where="t", decimal=decimal) == pytest.approx(value, rel=1e-15)


def test_a_unit_in_the_text_goes_before_the_columns():
    assert units.quantity("25 cm", "length", where="distance_m", unit="m") == 0.25
    assert units.quantity("25", "length", where="distance_m", unit="m") == 25.0
    assert units.quantity("1/16 in", "length", where="opening_mm", unit="mm") == pytest.approx(1.5875e-3)
    assert units.quantity('1 1/4"', "length", where="opening_mm", unit="mm") == pytest.approx(0.03175)


@pytest.mark.parametrize(("text", "name", "kelvin", "pascal"), [
    # reference conditions: DIN 1343 (normal), ISO 13443 (standard reference), ISO 8778 (ANR), ISO 1217 (FAD); mark M
    ("4 Nm3/h", "normal", 273.15, 101_325), ("4 Nm³/h", "normal", 273.15, 101_325),
    ("60 Nl/min", "normal", 273.15, 101_325),
    ("60 NL/MIN", "normal", 273.15, 101_325), ("4 Sm3/h", "standard metric", 288.15, 101_325),
    ("60 l/min ANR", "ANR", 293.15, 100_000), ("60 l/min (ANR)", "ANR", 293.15, 100_000),
    ("1 m3/min FAD", "FAD", 293.15, 100_000), ("60 l/min free air", "free air", 293.15, 101_325),
    ("60 l/min", "free air", 293.15, 101_325), ("2 cfm", "free air", 293.15, 101_325),
    ("2 SCFM", "scfm", 293.15, 14.5 * 6894.757), ("3 m3/h at 15 °C, 1.01325 bar", "stated", 288.15, 101_325),
    ("3 l/min (0 degC, 1013 mbar)", "stated", 273.15, 101_300),
])  # fmt: skip
def test_a_volume_flow_keeps_its_reference(text, name, kelvin, pascal):
    flow = units.flow(text, where="t")
    assert flow.unit == "m3/s" and flow.reference == name
    assert flow.temperature_k == pytest.approx(kelvin) and flow.pressure_abs == pytest.approx(pascal, rel=1e-6)


def test_a_standard_cubic_centimetre_a_second_is_what_leak_testing_says():
    """ASTM E1002 §1.2: 1.5e-2 std cm3/s = 6.7e-7 mol/s, so the standard is 0 degC and 1 atm (mark S)."""
    flow = units.flow("1.5e-2 std cm3/s", where="t")
    moles = flow.value * flow.pressure_abs / (8.314462618 * flow.temperature_k)
    assert moles == pytest.approx(6.7e-7, rel=0.01)


@pytest.mark.parametrize(("ours", "theirs"), [
    ("normal", "nm3"), ("standard metric", "sm3"), ("ANR", "anr"), ("FAD", "fad"), ("scfm", "scfm"),
    ("standard leak", "slpm"), ("free air", "20 degC"),
])  # fmt: skip
def test_the_edge_and_the_gas_room_mean_the_same_references(ours, theirs):
    from earwitness.gas.reference import find_reference

    condition = find_reference(theirs)
    assert units.REFERENCES[ours][:2] == pytest.approx((condition.temperature, condition.pressure_abs), rel=1e-6)


def test_normal_flow_is_more_as_free_air():
    """1 mm hole, 7 bar(g): 68.98 Nl/min are 74.03 l/min of free air at 20 degC (mark C, ratio 293.15/273.15)."""
    assert units.flow("68.98 Nl/min", where="t").free_air * 6e4 == pytest.approx(74.03, abs=0.006)


@pytest.mark.parametrize("text", [
    "6.2 kW/(m3/min)", "6.2 kW/m3/min", "6,2 kW/(m³/min)", "6.2 kW per m3/min", "6.2 kW·min/m3", "103.3333333 Wh/m3",
    "372 kJ/m3", "372 J/l", "17.55644491 kW/100 cfm", "17.55644491 kW/100cfm", "0.1755644491 kW/cfm", "62 kW/10 m3/min",
])  # fmt: skip
def test_specific_power_in_many_spellings(text):
    assert units.quantity(text, "specific power", where="t") == pytest.approx(372_000, rel=1e-8)


@pytest.mark.parametrize(("text", "heat", "value", "currency", "per"), [
    ("0.20 EUR/kWh", False, 0.20, "EUR", "kWh"), ("USD 0.11/kWh", False, 0.11, "USD", "kWh"),
    ("0,20 €/kWh", False, 0.20, "EUR", "kWh"), ("€0.20 per kWh", False, 0.20, "EUR", "kWh"),
    ("$0.11/kWh", False, 0.11, "USD", "kWh"), ("200 EUR/MWh", False, 0.20, "EUR", "kWh"),
    ("36 EUR/MWh", True, 1e-8, "EUR", "J"), ("1.40 EUR/kg", True, 1.4, "EUR", "kg"),
    ("1400 EUR/t", True, 1.4, "EUR", "kg"), ("0.5 EUR/m3", True, 0.5, "EUR", "m3"),
    ("30 CHF/100 kg", True, 0.3, "CHF", "kg"),
    ("1 EUR/Nm3", True, 273.15 / 293.15, "EUR", "m3"), ("£0.18/kWh", False, 0.18, "GBP", "kWh"),
])  # fmt: skip
def test_prices(text, heat, value, currency, per):
    price = units.price(text, where="t", heat=heat)
    assert price.value == pytest.approx(value, rel=1e-12) and (price.currency, price.per) == (currency, per)


@pytest.mark.parametrize(
    "text", ["0.20", "0.20/kWh", "20 ct/kWh", "EUR/kWh", "0.2 EUR", "0.2 EUR/furlong", "1 XXQ/kWh", ""]
)
def test_a_price_without_money_or_amount_is_refused(text):
    with pytest.raises(units.UnitError):
        units.price(text, where="t")


def test_what_is_shown_can_be_read_again():
    for unit, dimension, value in (
        ("bar(g)", "pressure", 350_000.0), ("l", "volume", 300.0), ("degC", "temperature", 300.0),
        ("rpm", "speed", 30.0),
        ("kW/(m3/min)", "specific power", 372_000.0), ("l/min", "volume flow", 1e-3), ("mm", "length", 2e-3),
    ):  # fmt: skip
        assert units.quantity(units.show(value, unit, digits=9), dimension, where="t") == pytest.approx(value, rel=1e-6)


def test_digits_follow_the_interval():
    """JCGM 100 (GUM) 7.2.6: a result is rounded to be consistent with its uncertainty."""
    from earwitness.interval import Interval

    wide, tight = Interval(0.00101, 0.00033, 0.00304, 0.0012), Interval(0.0010131, 0.0010091, 0.0010171, 0.0010131)
    assert units.show_interval(wide, "l/min") == "61 l/min (20–180)"
    assert units.show_interval(tight, "l/min") == "60.79 l/min (60.55–61.03)"
    assert units.show_interval(Interval(0.0, 0.0, 0.0, 0.0), "EUR") == "0 EUR"
    assert units.show_interval(Interval(12_345.6, 4000.0, 38_000.0, 15_000.0), "EUR") == "12000 EUR (4000–38000)"


@given(st.floats(1e-6, 1e6), st.floats(1.0, 30.0))
def test_an_interval_is_shown_in_order_and_near_what_it_is(value, factor):
    from earwitness.interval import Interval

    text = units.show_interval(Interval(value, value / factor, value * factor, value), "kg")
    numbers = [float(x) for x in re.findall(r"[\d.]+(?:e[+-]?\d+)?", text)]
    shown, low, high = numbers if len(numbers) == 3 else numbers * 3
    assert low <= shown <= high
    assert math.isclose(shown, value, rel_tol=0.051)


@given(st.text(max_size=40), st.sampled_from(sorted(units.DIMENSIONS)))
def test_no_text_breaks_the_reader(text, dimension):
    try:
        value = units.quantity(text, dimension, where="t")
    except EarwitnessError as error:
        assert "\n" not in str(error)
    else:
        assert math.isfinite(value)


@given(st.text(alphabet="0123456789.,'- /()eE$€EURkWhmbarNl²³°%", max_size=25))
def test_no_near_miss_breaks_the_reader(text):
    for call in (units.flow, units.price, units.money, units.number):
        try:
            call(text, where="t")
        except EarwitnessError:
            continue
