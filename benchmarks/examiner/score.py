"""Run the program on what was written and compare its findings with the truth."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from collections import Counter, defaultdict
from pathlib import Path


def score(out: Path, quiet: bool = False) -> dict[str, Counter[str]]:
    """Judge every survey under `out` and print the marks; `quiet` leaves out the single cases."""
    marks: dict[str, Counter[str]] = {}
    for truth in sorted(out.rglob("truth.csv")):
        kind = truth.parent.name
        marks[kind] = _one(truth, quiet)
    for kind, tally in marks.items():
        total = sum(tally[m] for m in ("right", "unsure", "misleading"))
        line = ", ".join(f"{m} {tally[m]} ({100 * tally[m] / total:.1f} %)" for m in ("right", "unsure", "misleading"))
        places = f"; places {tally['found']}/{tally['places']}, false {tally['false']}" if tally["places"] else ""
        print(f"{kind:11s} {total:3d}: {line}{places}")
    return marks


def _one(truth: Path, quiet: bool) -> Counter[str]:
    folder = truth.parent
    result = folder / "result"
    command = [
        sys.executable,
        "-m",
        "earwitness",
        "survey",
        str(folder / "survey"),
        "--out",
        str(result),
        "--reports",
        "none",
    ]
    subprocess.run([*command, "--jobs", "1"], check=True, capture_output=True)
    found = {r["reading"]: r for r in json.loads((result / "findings.json").read_text())["readings"]}
    with truth.open(newline="") as file:
        rows = list(csv.DictReader(file))
    tally: Counter[str] = Counter()
    cases: dict[str, Counter[str]] = defaultdict(Counter)
    confusion: Counter[tuple[str, str]] = Counter()
    failures = []
    for row in rows:
        reading = found.get(row["reading"], {})
        verdict = reading.get("verdict", "none")
        mark = _mark(verdict, row["accept"].split())
        tally[mark] += 1
        cases[row["case"]][mark] += 1
        confusion[row["truth"], verdict] += 1
        missed = _places(row, reading, tally)
        if mark != "right" or missed:
            failures.append((mark, row, reading, missed))
    if not quiet:
        _print(folder.name, cases, confusion, failures)
    return tally


def _mark(verdict: str, accept: list[str]) -> str:
    if verdict in accept:
        return "right"
    return "unsure" if verdict in ("inconclusive", "none") else "misleading"


def _places(row: dict[str, str], reading: dict[str, object], tally: Counter[str]) -> str:
    """Count the places found within the tolerance and those that are none; what is wrong with them, in words."""
    if row["truth"] not in ("leak", "passage") or not row["places_s"]:
        return ""
    true = [float(p) for p in row["places_s"].split()]
    said = [float(p["at_s"]) for p in reading.get("places", [])] if reading.get("verdict") == row["truth"] else []
    tolerance = float(row["tolerance_s"])
    hits = sum(any(abs(p - s) <= tolerance for s in said) for p in true)
    false = sum(all(abs(p - s) > tolerance for p in true) for s in said)
    tally.update(places=len(true), found=hits, false=false)
    return "" if hits == len(true) and not false else f"places {true} said {said}"


def _print(
    kind: str, cases: dict[str, Counter[str]], confusion: Counter[tuple[str, str]], failures: list[tuple]
) -> None:
    print(f"== {kind}")
    for case, tally in sorted(cases.items()):
        print(
            f"  {case:34s} right {tally['right']:3d}  unsure {tally['unsure']:3d}  misleading {tally['misleading']:3d}"
        )
    print("  confusion: " + "; ".join(f"{a} → {b} {n}" for (a, b), n in sorted(confusion.items())))
    for mark, row, reading, missed in sorted(failures, key=lambda f: f[0]):
        chances = {k: round(v, 2) for k, v in reading.get("probabilities", {}).items() if v >= 0.05}
        print(f"  {mark:10s} {row['reading']} [{row['case']}] said {reading.get('verdict', 'none')} {chances} {missed}")
        print(f"             {row['parameters']}")
        evidence = [f"{e['code']} {e.get('value', '')}" for e in reading.get("evidence", [])]
        problems = [p["code"] for p in reading.get("fitness", {}).get("problems", [])]
        print(f"             evidence: {', '.join(evidence)}" + (f"; unfit: {', '.join(problems)}" if problems else ""))
