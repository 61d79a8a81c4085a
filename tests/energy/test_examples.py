"""The examples in the docstrings are true."""

from __future__ import annotations

import doctest
import importlib

import pytest

MODULES = [
    *(f"earwitness.energy.{m}" for m in ("compressor", "part_load", "plant", "saving", "what_if", "tariff", "money")),
    "earwitness.gas.system_test",
    "earwitness.gas.calibration",
    "earwitness.programme.posterior",
    "earwitness.interval",
]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
