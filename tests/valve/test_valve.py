"""A closed valve that passes is the source; noise along the pipe is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from earwitness.hearing.heard import Heard
from earwitness.hearing.valve import ValveState, judge

PASSING = ValveState(30.0, 46.0, 36.0, "closed", True, 48.0)


def test_loudest_at_the_valve_and_falling_again_is_passing():
    assert judge(None, PASSING).verdict == "passing"


@pytest.mark.parametrize(
    "state",
    [
        ValveState(20.0, 20.5, 19.5, "closed", True, 20.0),  # quiet everywhere
        ValveState(48.0, 41.0, 37.0, "closed", True, 45.0),  # noise from upstream
        ValveState(30.0, 40.0, 46.0, "closed", True, 35.0),  # noise from beyond
    ],
)
def test_noise_along_the_pipe_and_silence_are_not(state):
    assert judge(None, state).verdict != "passing"


def test_noise_that_only_fades_from_upstream_is_told_without_a_level_at_the_valve():
    """48, 42, 36 dB along the pipe: louder behind the valve than further on, and yet not made there."""
    assert judge(None, ValveState(48.0, 42.0, 36.0, "closed", True)).verdict == "no-passage-heard"


def test_noise_from_beyond_is_said():
    judgement = judge(None, ValveState(30.0, 33.0, 46.0, "closed", True, 31.0))
    assert judgement.verdict == "no-passage-heard"
    assert "valve-noise-from-beyond" in {note.code for note in judgement.notes}


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"position_commanded": "open"}, "valve-open"),
        ({"position_commanded": None}, "valve-position"),
        ({"pressure_across": False}, "valve-no-pressure"),
        ({"upstream_db": None}, "valve-levels"),
    ],
)
def test_only_a_closed_valve_under_pressure_with_levels_to_compare_is_judged(change, code):
    judgement = judge(None, replace(PASSING, **change))
    assert judgement.verdict == "inconclusive"
    assert judgement.settle is not None and judgement.settle.code == code


def test_unknown_pressure_is_said():
    assert "valve-pressure-unknown" in {note.code for note in judge(None, replace(PASSING, pressure_across=None)).notes}


def test_the_level_of_the_reading_comes_first_and_a_common_offset_changes_nothing():
    heard = Heard(np.zeros(0, np.float32), 48_000.0, level_db=48.0)
    state = replace(PASSING, level_db=None)
    assert judge(heard, state).probabilities == judge(None, PASSING).probabilities
    raised = ValveState(50.0, 66.0, 56.0, "closed", True, 68.0)
    assert judge(None, raised).probabilities == judge(None, PASSING).probabilities
