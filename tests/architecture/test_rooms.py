"""The arrows between rooms point down, and the sciences import nothing but numbers."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

from earwitness.cli import COMMANDS

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "earwitness"
SCIENCES = ("sound", "hearing", "gas", "danger", "energy", "programme")
ALLOWED = {"numpy", "scipy", "earwitness", *sys.stdlib_module_names}


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names.add(node.module.partition(".")[0])
    return names


def test_imports_point_down():
    run = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"], cwd=ROOT, capture_output=True, text=True
    )
    assert run.returncode == 0, run.stdout + run.stderr


def test_the_sciences_know_only_numbers():
    faults = []
    for science in SCIENCES:
        for path in (SOURCE / science).glob("**/*.py"):
            foreign = imported(path) - ALLOWED
            if path == SOURCE / "gas" / "gases.py":
                foreign -= {"CoolProp"}  # the one module that knows real-gas properties
            faults += [f"{path.relative_to(SOURCE)}: {name}" for name in sorted(foreign)]
    assert not faults, faults


def test_what_nothing_calls_is_a_published_model_that_the_docs_name():
    texts = {path: path.read_text("utf-8") for path in SOURCE.glob("**/*.py")}
    docs = "".join(path.read_text("utf-8") for path in (ROOT / "docs").glob("*.md"))
    faults = []
    for science in (*SCIENCES, "plant", "interval.py", "units"):
        for path in [p for p in texts if p.relative_to(SOURCE).parts[0] == science and p.name != "__init__.py"]:
            for node in ast.parse(texts[path]).body:
                if not isinstance(node, ast.FunctionDef | ast.ClassDef) or node.name.startswith("_"):
                    continue
                name = re.compile(rf"\b{node.name}\b")
                own = ast.unparse(_without_docstrings(ast.parse(texts[path])))
                called = len(name.findall(own)) > 1 or any(
                    name.search(text) for p, text in texts.items() if p != path and p.name != "__init__.py"
                )
                if not called and f"`{node.name}`" not in docs:
                    faults.append(f"{path.relative_to(SOURCE)}: {node.name}")
    assert not faults, faults


def _without_docstrings(tree: ast.Module) -> ast.Module:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Module) and ast.get_docstring(node) is not None:
            node.body[0] = ast.Pass()
    return tree


def test_files_and_functions_stay_readable():
    faults = []
    for path in SOURCE.glob("**/*.py"):
        if "versions" in path.parts:
            continue  # a migration is the list of what it makes
        text = path.read_text("utf-8")
        if text.count("\n") > 420:
            faults.append(f"{path.relative_to(SOURCE)}: {text.count(chr(10))} lines")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef):
                body = (node.end_lineno or 0) - node.body[0].lineno + 1
                if body > 75:
                    faults.append(f"{path.relative_to(SOURCE)}:{node.lineno} {node.name} is {body} lines")
    assert not faults, faults


def test_every_room_and_every_command_stands_in_the_docs():
    """The plan of the house names each folder, the README each command."""
    rooms = {p.name for p in SOURCE.iterdir() if (p / "__init__.py").is_file()}
    named = set(re.findall(r"`(\w+)`", (ROOT / "docs" / "house.md").read_text("utf-8").partition("Imports point")[0]))
    assert rooms <= named, rooms - named
    tables = [line for line in (ROOT / "README.md").read_text("utf-8").splitlines() if line.startswith("| `")]
    said = set(re.findall(r"`(?:earwitness )?([a-z-]+)", " ".join(t.split("|")[1] for t in tables)))
    assert set(COMMANDS) <= said, set(COMMANDS) - said
