"""What is shown where a discharge was heard and its kind is open: missing data never lowers a word (the contract)."""

from pathlib import Path

import pytest

from earwitness.hearing.evidence import Judgement
from earwitness.plant.reading import Reading
from earwitness.plant.survey import Survey
from earwitness.sentence import say
from earwitness.work.size import Sized
from earwitness.work.warn import hazards_of, standing_cautions


def hazard(notes, voltage):
    reading = Reading("E-1", 2, "electrical", voltage_v=voltage)
    judgement = Judgement("inconclusive", 0.5, {}, (), "discharge", "2", notes=notes)
    (found,) = hazards_of(reading, "inconclusive", Sized(), Survey(Path(), "", "", "", ""), judgement)
    return found


@pytest.mark.parametrize(
    ("first", "second", "voltage", "word"),
    [
        ("tracking", "arcing", 400.0, "DANGER"),
        ("arcing", "corona", None, "DANGER"),
        ("corona", "tracking", 400.0, "WARNING"),
        ("corona", "tracking", None, "DANGER"),
        ("corona", "tracking", 11_000.0, "DANGER"),
    ],
)
def test_a_discharge_of_open_kind_warns_as_the_worst_that_it_may_be(first, second, voltage, word):
    note = say("discharge-of-open-kind", "{first} or {second}", first=first, second=second)
    found = hazard((note,), voltage)
    assert found.signal_word == word
    assert first in found.text and second in found.text


def test_nothing_made_out_is_the_standing_caution():
    assert hazard((), 11_000.0).signal_word == "NOTICE"


@pytest.mark.parametrize(("medium", "burns"), [("carbon dioxide", False), ("ammonia", True), ("natural gas", True)])
def test_a_gas_that_poisons_only_is_not_called_ignitable(medium, burns):
    codes = {c.code for c in standing_cautions(Reading("L", 2, "leak", medium=medium), "leak")}
    assert "gas-detector" in codes and ("may-be-ignitable" in codes) == burns
