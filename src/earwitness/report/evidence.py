"""What was measured, one line a measure: its value, the criteria it was held against, and what that says for whom.

A detector may hold one measure against several criteria, for several verdicts; who reads sees it once, with the sum of
its weights for each verdict, so that the lines still add up to the verdict.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from earwitness.report.format import SPACE, joined, plain_number, rounded
from earwitness.report.wording import capital

SILENT = 0.1  # nats; below it a weight says next to nothing
STRONG, WEAK = 2.0, 0.5
NUMBER = re.compile(r"[-−+]?\d+(?:\.\d+)?")


@dataclass(frozen=True)
class Measure:
    """`weights` are the sums for each verdict [nats], the greatest first; `says` is by how much all of it together
    raises the log odds of the verdict that is likeliest [nats]."""

    name: str
    value: str
    criterion: str
    weights: Sequence[tuple[str, float]]
    says: float

    @property
    def speaks(self) -> str:
        """`strongly for leak (+2.8)`, `for corona (+1.5), against mains hum (−1.9)`."""
        said = [(v, w) for v, w in self.weights if abs(w) >= SILENT] or list(self.weights[:1])
        top = max(abs(w) for _, w in said)
        strength = "strongly " if top >= STRONG else "weakly " if top < WEAK else ""
        sides = []
        for side, sign in (("for", 1), ("against", -1)):
            named = [f"{v.replace('-', ' ')} ({_signed(w)})" for v, w in said if (w >= 0) == (sign > 0)]
            if named:
                sides.append((max(abs(w) for _, w in said if (w >= 0) == (sign > 0)), f"{side} {joined(named)}"))
        return strength + ", ".join(text for _, text in sorted(sides, key=lambda s: -s[0]))


def measures(reading: Mapping[str, Any]) -> list[Measure]:
    """Of one element of `readings` of findings.json, what says most first."""
    groups: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for piece in reading.get("evidence") or ():
        if isinstance(piece, Mapping):
            name = str(piece.get("name") or piece.get("code", ""))
            groups.setdefault((str(piece.get("code") or name), name), []).append(piece)
    chances = {str(k): float(v) for k, v in (reading.get("probabilities") or {}).items() if isinstance(v, int | float)}
    found = [_measure(name, pieces, chances) for (_, name), pieces in groups.items()]
    return sorted(found, key=lambda m: (-abs(m.says), -abs(m.weights[0][1])))


def _measure(name: str, pieces: Sequence[Mapping[str, Any]], chances: Mapping[str, float]) -> Measure:
    weights: dict[str, float] = {}
    for piece in pieces:
        verdict = str(piece.get("for", ""))
        weights[verdict] = weights.get(verdict, 0.0) + float(piece.get("weight") or 0)
    ordered = sorted(weights.items(), key=lambda item: -abs(item[1]))
    criteria = [str(p.get("criterion") or "") for p in pieces]
    value = _value(pieces[0].get("value"), criteria)
    shown = f"{value}{SPACE}{pieces[0].get('unit') or ''}".strip().strip(SPACE) if value else ""
    return Measure(capital(name), shown, _criteria(pieces), ordered, _says(weights, chances))


def _value(value: Any, criteria: Sequence[str]) -> str:
    """To three digits, and no finer than a hundredth of the least criterion: beyond that nothing was decided."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return plain_number(value)
    held = [abs(float(n.replace("−", "-"))) for c in criteria for n in NUMBER.findall(c)]
    least = min((h for h in held if h), default=0.0)
    if not least or not value:
        return plain_number(value)
    step = 10.0 ** max(math.floor(math.log10(least)) - 1, math.floor(math.log10(abs(value))) - 2)
    text = rounded(value, step)
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "nearly 0" if float(text.replace(SPACE, "")) == 0 else text.replace("-", "−")


def _criteria(pieces: Sequence[Mapping[str, Any]]) -> str:
    """Each criterion once; where they differ by verdict, with the verdicts that they are for."""
    by: dict[str, list[str]] = {}
    for piece in pieces:
        text = str(piece.get("criterion") or "").replace("-", "−")
        mine = by.setdefault(text, []) if text else []
        if (verdict := str(piece.get("for", "")).replace("-", " ")) not in mine:
            mine.append(verdict)
    sets = {tuple(sorted(verdicts)) for verdicts in by.values()}
    if len(sets) < 2:
        return ", ".join(by)
    return "; ".join(f"{text} for {joined(verdicts)}" for text, verdicts in by.items())


def _says(weights: Mapping[str, float], chances: Mapping[str, float]) -> float:
    """How much less likely the likeliest verdict would be without this measure: log odds with it less those without."""
    if not chances:
        return max(weights.values(), key=abs)
    top = max(chances, key=lambda v: (chances[v], v))
    without = {v: math.log(max(p, 1e-9)) - weights.get(v, 0.0) for v, p in chances.items()}
    others = [without[v] for v in chances if v != top]
    rest = [math.log(max(chances[v], 1e-9)) for v in chances if v != top]
    if not others:
        return weights.get(top, 0.0)
    now = math.log(max(chances[top], 1e-9)) - _log_sum(rest)
    return now - (without[top] - _log_sum(others))


def _log_sum(values: Sequence[float]) -> float:
    high = max(values)
    return high + math.log(sum(math.exp(v - high) for v in values))


def _signed(weight: float) -> str:
    return f"{'+' if weight >= 0 else '−'}{abs(weight):.1f}"
