"""The examples in the docstrings run and give what they say."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import earwitness

MODULES = sorted(
    name
    for _, name, _ in pkgutil.walk_packages(earwitness.__path__, "earwitness.")
    if "__main__" not in name and "migrations" not in name
)


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    failed, _ = doctest.testmod(importlib.import_module(name))
    assert not failed
