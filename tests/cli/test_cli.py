"""The command line as a user meets it: examples that run, errors in one plain line, nothing slow at the door."""

from __future__ import annotations

import json
import math
import re
import shlex
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from earwitness.cli import COMMANDS, group


def run(*arguments: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "earwitness", *arguments], capture_output=True, text=True, cwd=cwd)


def commands(name: str, command: click.Command):
    """Each command with the words it is called by and its examples; those of a group stand for its commands too."""
    yield f"earwitness {name}", command, command.epilog or ""
    if isinstance(command, click.Group):
        for inner, below in command.commands.items():
            yield f"earwitness {name} {inner}", below, (below.epilog or "") + (command.epilog or "")


ALL = [
    found
    for name, (module, _) in COMMANDS.items()
    for found in commands(name, import_module(f"earwitness.cli.{module}").command)
]


@pytest.mark.parametrize(("words", "command", "examples"), ALL, ids=[words for words, _, _ in ALL])
def test_every_command_has_an_example_and_each_option_a_word_of_help(words, command, examples):
    assert words in examples
    for parameter in command.params:
        if isinstance(parameter, click.Option) and not isinstance(parameter.type, click.Choice):
            assert parameter.help, parameter.name


@pytest.mark.parametrize("words", [words for words, command, _ in ALL if not isinstance(command, click.Group)])
def test_the_help_of_every_command_shows_its_example(words):
    said = CliRunner().invoke(group, [*words.split()[1:], "--help"]).output
    assert words in said.partition("Example")[2]


@pytest.mark.parametrize("given", ["nan", "inf", "-inf"])
@pytest.mark.parametrize(("words", "command", "examples"), ALL, ids=[words for words, _, _ in ALL])
def test_no_option_takes_what_is_no_number(words, command, examples, given):
    for parameter in command.params:
        if isinstance(parameter.type, click.types.FloatParamType):
            with pytest.raises(click.BadParameter):
                parameter.type.convert(given, parameter, None)


def test_a_coefficient_that_is_no_number_is_refused_and_not_shown_as_no_flow():
    done = run("flow", "--gas", "air", "--pressure", "7 bar", "--hole", "1 mm", "--coefficient", "nan")
    assert done.returncode == 2 and not done.stdout and "'nan' is not a number" in done.stderr


def test_help_imports_nothing_heavy():
    code = (
        "import sys; sys.argv=['earwitness','--help']\n"
        "from earwitness.cli import main\n"
        "try: main()\nexcept SystemExit: pass\n"
        "heavy={'numpy','scipy','matplotlib','CoolProp','rich','typst','sqlalchemy'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout
    assert "HEAVY []" in out


@pytest.mark.parametrize(
    "example",
    [
        line.strip()
        for words, _, examples in ALL
        if words in ("earwitness flow", "earwitness system-test")
        for line in re.sub(r"\\\n\s*", "", examples).splitlines()
        if line.strip().startswith("earwitness")
    ],
)
def test_the_examples_of_the_help_run(example):
    if "bleed-down" in example and "--pressure" not in example:
        pytest.fail("an example without a pressure")
    done = run(*shlex.split(example)[1:])
    assert done.returncode == 0, done.stderr
    assert done.stdout and not done.stderr


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["flow", "--gas", "lpq", "--pressure", "1 bar", "--hole", "1 mm"], "lpg"),
        (["flow", "--gas", "air", "--pressure", "7", "--hole", "1 mm"], "bar(g)"),
        (["flow", "--gas", "air", "--pressure", "-3 bar(g)", "--hole", "1 mm"], "vacuum"),
        (["flow", "--gas", "air", "--pressure", "7 bar", "--hole", "0 mm"], "above 0"),
        (["flow", "--gas", "air", "--pressure", "7 bar", "--hole", "1 mm", "--price", "0.2"], "kWh"),
        (["survey", "no-such-folder", "--out", "x"], "no folder"),
        (["diagnose", "no-such-file.wav"], "no file"),
        (["calibrate", "no-such-sheet.csv"], "no file"),
        (["system-test", "load-unload", "--on", "8 min", "--off", "48 bananas", "--capacity", "900 scfm"], "min"),
        (
            shlex.split(
                "system-test bleed-down --volume 6m3 --time 0min --pressure 80psig --time 9min --pressure '90 psig'"
            ),
            "pressure cannot be 80psig, 90 psig: falling",
        ),
        (["system-test", "metered", "--flow", "3 m3/min", "--used", "4 m3/min"], "used cannot be 4 m3/min"),
        (
            shlex.split("flow --gas air --pressure 7bar --hole 1mm --hours 5 --specific-power '0 kW/(m3/min)'"),
            "specific-power cannot be 0 kW",
        ),
        (["what-if", "no-such-folder", "--control", "start-stop"], "survey.toml"),
    ],
)
def test_what_cannot_be_is_one_plain_line(arguments, says, tmp_path):
    done = run(*arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr and says in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


def test_flow_as_json_is_the_contracts():
    found = json.loads(run("flow", "--gas", "air", "--pressure", "7 bar(g)", "--hole", "1 mm", "--json").stdout)
    assert found["mass_flow"]["unit"] == "kg/s" and found["regime"] == "choked"
    assert found["volume_flow"]["reference"] == "20 degC, 101.325 kPa"
    # 1 mm sharp hole at 7 bar(g), coefficient 0.854: 63.2 l/min for an ideal gas, computed by hand
    assert found["volume_flow"]["value"] * 60_000 == pytest.approx(63.2, rel=0.01)
    assert found["coefficient"] == pytest.approx(0.854, abs=0.002)


@pytest.mark.parametrize(
    ("more", "missing"),
    [
        (["--hours", "6000", "--price", "0.2 EUR/kWh"], "it also needs the specific power of the compressors"),
        (["--price", "0.2 EUR/kWh", "--specific-power", "6.3 kW/(m3/min)"], "it also needs the hours under pressure"),
        (["--gas", "argon", "--hours", "6000"], "it also needs the price of the gas"),
        (["--gas", "argon", "--hours", "6000", "--price", "0.2 EUR/kWh"], "it also needs the price of the gas"),
    ],
)
def test_a_cost_that_cannot_be_given_says_what_it_needs(more, missing):
    told = run("flow", "--gas", "air", "--pressure", "7 bar(g)", "--hole", "1 mm", *more).stdout
    assert missing in told and "EUR" not in told.replace("EUR/kg", "").replace("EUR/kWh", "")
    assert "survey.toml" not in told


PLANT = """
[survey]
title = "t"
site = "s"
date = "2026-11-20"
inspector = "i"
[energy]
price = "0.20 EUR/kWh"
[air]
pressure = "7 bar(g)"
average_load = 0.7
[air.leak_test]
kind = "load-unload"
on_load = "4 min"
off_load = "48 min"
[[compressor]]
name = "K1"
capacity = "12 m3/min"
rated_power = "75 kW"
control = "load-unload"
"""


def test_a_dearer_pressure_costs_more_and_every_saving_has_its_interval(tmp_path):
    (tmp_path / "survey.toml").write_text(PLANT)
    (tmp_path / "readings.csv").write_text("kind\nleak\n")
    for pressure, verb, rest in (("6 bar(g)", "saves", "a year"), ("8.5 bar(g)", "costs", "more a year")):
        line = run("what-if", ".", "--pressure", pressure, cwd=tmp_path).stdout.splitlines()[0]
        assert re.search(rf"; {verb} \d+ kWh \(\d+–\d+\), \d+ EUR \(\d+–\d+\) {rest}$", line), line
        (found,) = json.loads(run("what-if", ".", "--pressure", pressure, "--json", cwd=tmp_path).stdout)
        for name in ("energy_per_year", "saving_per_year"):
            assert found[name]["low"] < found[name]["value"] < found[name]["high"]
            assert (found[name]["value"] > 0) == (verb == "saves")


def test_what_cannot_leak_is_said_in_the_users_words(tmp_path):
    (tmp_path / "survey.toml").write_text(PLANT)
    (tmp_path / "readings.csv").write_text("kind\nleak\n")
    for asked in (["--shut-hours", "8", "--zone-leakage"], ["--pressure", "6 bar(g)", "--leakage"]):
        said = run("what-if", ".", *asked, "900 m3/min", cwd=tmp_path).stderr
        assert f"{asked[-1].strip('-')} cannot be 900 m3/min" in said and "demand, 8.40 m3/min" in said


@pytest.mark.parametrize(
    ("gas", "pressure", "told"),
    [
        ("steam", "7 bar(g)", r"Flow of steam: 2\.[89] kg/h"),
        ("lpg", "1 bar(g)", "Flow of LPG: "),
        ("vacuum", "200 mbar(a)", "Air drawn in: "),
    ],
)
def test_a_gas_is_told_as_print_has_it_and_steam_by_its_mass(gas, pressure, told):
    """Steam by Napier's rule (psia and square inches): 0.85 * A * p / 70 lb/s through 1 mm at 7 bar(g) is 2.8 kg/h."""
    said = run("flow", "--gas", gas, "--pressure", pressure, "--hole", "1 mm").stdout
    assert re.search(told, said) and ("l/min" in said) == (gas != "steam")


def test_of_a_bought_gas_no_controls_give_anything_back():
    given = ["--pressure", "7 bar(g)", "--hole", "1 mm", "--hours", "6000", "--price", "2 EUR/kg"]
    told = run("flow", "--gas", "argon", *given).stdout
    assert "Wastes a year" in told and "Controls" not in told


def test_diagnose_as_json_is_one_element_of_readings(demo):
    file = demo / "survey" / "recordings" / "A-001.wav"
    done = run("diagnose", str(file), "--kind", "leak", "--level-db", "69", "--background-db", "34", "--json")
    found = json.loads(done.stdout)
    assert found["verdict"] == "leak" and found["detector"]["name"] == "leak"
    assert {"fitness", "evidence", "cautions", "next_step", "hazards"} <= set(found)


def test_diagnose_speaks_of_no_row_where_there_is_none(demo):
    file = str(demo / "survey" / "recordings" / "A-001.wav")
    assert "row" not in run("diagnose", file, "--kind", "leek").stderr
    assert "pressure: '7 bar' is read as gauge" in (told := run("diagnose", file, "--pressure", "7 bar").stdout)
    assert "row 1" not in told


def test_diagnose_says_what_to_do_before_what_it_rests_on_and_what_weighs_most_first(demo):
    lines = run("diagnose", str(demo / "survey" / "recordings" / "B-001.wav")).stdout.splitlines()
    starts = [line.split(":")[0] for line in lines]
    rests = starts.index("Evidence")
    assert rests > max(n for n, start in enumerate(starts) if start in ("Next", "Caution"))
    assert len(lines) - rests <= 10 and lines[-1].startswith("  Weaker: ")
    weights = [max(float(w) for w in re.findall(r"[(][+−](\d+\.\d)[)]", line)) for line in lines[rests + 1 : -1]]
    assert weights == sorted(weights, reverse=True) and len(weights) >= 3


def test_calibration_from_a_sheet(tmp_path):
    """Leaks of known holes at 10 dB a decade of flow: the sheet is read, the fit stands in the survey's own numbers."""
    lines = ["level_db,distance_m,pressure,opening_mm"]
    for n, hole in enumerate([0.3, 0.5, 0.7, 1.0, 1.4, 2.0, 0.4, 0.8, 1.2]):
        level = 60 + 10 * 2 * math.log10(hole) + (-1) ** n
        lines.append(f"{level:.1f},0.5,7 bar(g),{hole}")
    (tmp_path / "calibration.csv").write_text("\n".join([*lines, "50,0.5,7 bananas,1"]) + "\n")
    found = json.loads(run("calibrate", "calibration.csv", "--json", cwd=tmp_path).stdout)
    assert found["leaks"] == 9 and found["slope_db_per_decade"] == pytest.approx(10, abs=2.5)
    assert any("bananas" in p["text"] for p in found["problems"])
