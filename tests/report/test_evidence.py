"""One line a measure, however many criteria a detector holds it against, and the lines still add up to the verdict."""

from __future__ import annotations

import math
from collections import Counter

import pytest

from earwitness.report.evidence import measures
from tests.report import site

RISE = {"code": "rise", "name": "level over baseline", "value": 1.0, "unit": "dB"}
CALM = {"code": "calm", "name": "no family accounts for much", "value": -0.0001079, "unit": ""}
PIECES = [
    RISE | {"criterion": "> 6 dB", "for": "no-fault", "weight": 2.0},
    RISE | {"criterion": "> 12 dB", "for": "no-fault", "weight": 1.6},
    RISE | {"criterion": "> 6 dB", "for": "friction", "weight": -2.1},
    CALM | {"criterion": "> -0.05", "for": "no-fault", "weight": 0.4},
    CALM | {"criterion": "> -0.05", "for": "friction", "weight": 0.9},
    {
        "code": "x",
        "name": "else",
        "value": 34.291,
        "unit": "dB",
        "criterion": "> 3 dB",
        "for": "friction",
        "weight": 0.3,
    },
]


def chances(pieces, verdicts=("no-fault", "friction")):
    sums = {v: sum(p["weight"] for p in pieces if p["for"] == v) for v in verdicts}
    whole = sum(math.exp(s) for s in sums.values())
    return {v: math.exp(s) / whole for v, s in sums.items()}


def test_a_measure_stands_once_with_the_sum_of_its_weights():
    first, second, third = measures({"evidence": PIECES, "probabilities": chances(PIECES)})
    assert first.name == "Level over baseline" and first.value == "1\u00a0dB"
    assert first.criterion == "> 6 dB for no fault and friction; > 12 dB for no fault"
    assert first.speaks == "strongly for no fault (+3.6), against friction (−2.1)"
    assert second.criterion == "> −0.05" and second.says == pytest.approx(-0.5)
    assert third.value == "34.3\u00a0dB" and third.speaks == "weakly for friction (+0.3)"


def test_what_each_says_is_what_the_odds_are_without_it():
    (rise, *_) = measures({"evidence": PIECES, "probabilities": chances(PIECES)})
    now, without = chances(PIECES), chances([p for p in PIECES if p["code"] != "rise"])
    odds = [math.log(p["no-fault"] / p["friction"]) for p in (now, without)]
    assert rise.says == pytest.approx(odds[0] - odds[1])


@pytest.mark.parametrize(
    ("value", "criterion", "shown"),
    [
        (0.00858, "> 0.40", "0.01"),
        (-0.0001079, "> -0.05", "nearly 0"),
        (34.291, "> 3 dB", "34.3"),
        (400.0, "corona from 1000 V on", "400"),
        (0.0, "> 0.2", "0"),
        (-5.94, "> -5 dB", "−5.9"),
        (1234.5, "> 1 1/s", "1\u00a0230"),
        (0.00858, "needed for friction", "0.00858"),
        (None, "> 3 dB", ""),
    ],
)
def test_a_value_has_no_more_digits_than_its_criterion_deserves(value, criterion, shown):
    piece = {"code": "a", "name": "a", "value": value, "unit": "", "criterion": criterion, "for": "leak", "weight": 1.0}
    assert measures({"evidence": [piece]})[0].value == shown


def test_nothing_is_lost_and_nothing_stands_twice():
    for reading in site.findings()["readings"]:
        found = measures(reading)
        assert all(n == 1 for n in Counter(m.name for m in found).values())
        sums = Counter()
        for piece in reading.get("evidence") or ():
            sums[piece["for"]] += piece["weight"]
        told = Counter()
        for m in found:
            for verdict, weight in m.weights:
                told[verdict] += weight
        assert told == pytest.approx(sums)
