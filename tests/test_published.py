"""Every reference case of tests/published, and the rule that each public function of the sciences has one."""

from __future__ import annotations

import importlib
import inspect
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from tests.published import signals

HERE = Path(__file__).parent / "published"
KINDS = {"published", "standard", "analytic", "independent", "regression"}
MARKS = {"S", "S2", "M", "C", "P"}
SCIENCES = ("sound", "hearing", "gas", "danger", "energy", "programme")
CASES = [
    pytest.param(case, id=f"{file.stem}-{number}-{case['function'].rsplit('.', 1)[-1]}")
    for file in sorted(HERE.glob("*.toml"))
    for number, case in enumerate(tomllib.loads(file.read_text("utf-8")).get("case", []))
]


def resolve(dotted: str):
    module, _, name = dotted.rpartition(".")
    try:
        return getattr(importlib.import_module(module), name)
    except ModuleNotFoundError:
        return getattr(resolve(module), name)


def made(value):
    if isinstance(value, dict) and "make" in value:
        arguments = {k: v for k, v in value.items() if k != "make"}
        return getattr(signals, value["make"])(**arguments)
    if isinstance(value, dict) and "construct" in value:
        arguments = {k: made(v) for k, v in value.items() if k != "construct"}
        return resolve(value["construct"])(**arguments)
    if isinstance(value, list) and any(isinstance(v, dict) for v in value):
        return [made(v) for v in value]
    if isinstance(value, list) and value and all(isinstance(v, int | float) for v in value):
        return np.asarray(value, dtype=float)
    return value


def follow(result, attribute: str):
    for step in re.findall(r"[^.\[\]]+", attribute):
        if step.lstrip("-").isdigit():
            result = result[int(step)]
        else:
            result = result[step] if isinstance(result, dict) else getattr(result, step)
    return result


@pytest.mark.parametrize("case", CASES)
def test_case(case):
    assert case["kind"] in KINDS and case["mark"] in MARKS and case["source"]
    result = resolve(case["function"])(**{k: made(v) for k, v in case.get("inputs", {}).items()})
    if "attribute" in case:
        result = follow(result, case["attribute"])
    expected = case["expected"]
    if isinstance(expected, str | bool):
        assert result == expected, case["source"]
        return
    tolerance = case["tolerance"]
    np.testing.assert_allclose(
        np.asarray(result, dtype=float),
        np.asarray(expected, dtype=float),
        rtol=tolerance.get("relative", 0),
        atol=tolerance.get("absolute", 0),
        err_msg=case["source"],
    )


def public_functions():
    for science in SCIENCES:
        package = importlib.import_module(f"earwitness.{science}")
        for path in sorted(Path(package.__file__).parent.glob("*.py")):
            module = importlib.import_module(f"earwitness.{science}.{path.stem}".removesuffix(".__init__"))
            for name, function in inspect.getmembers(module, inspect.isfunction):
                if not name.startswith("_") and function.__module__ == module.__name__:
                    yield f"{module.__name__}.{name}", function


def test_each_public_function_of_the_sciences_has_a_case_from_outside():
    covered = {case.values[0]["function"] for case in CASES if case.values[0]["kind"] != "regression"}
    missing = sorted(name for name, _ in public_functions() if name not in covered)
    assert not missing, "no reference case for: " + ", ".join(missing)


def test_each_public_function_of_the_sciences_documents_its_arguments_with_units():
    """A parameter that is a number or an array carries its unit in brackets in the docstring."""
    faults = []
    for name, function in public_functions():
        doc = inspect.getdoc(function) or ""
        for parameter in inspect.signature(function).parameters.values():
            annotation = str(parameter.annotation)
            if not re.search(r"\b(float|Floats?|FloatArray|Array|NDArray|Samples|Draws|Uncertain)\b", annotation):
                continue
            if not re.search(rf"^\s*{parameter.name}\b.*\[[^\]]+\]", doc, re.MULTILINE):
                faults.append(f"{name}({parameter.name})")
    assert not faults, "no [unit] in the docstring for: " + ", ".join(faults)
