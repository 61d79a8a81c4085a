"""A trap by its rhythm, its level and its temperatures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from earwitness.hearing.heard import Heard
from earwitness.hearing.trap import TrapState, judge

RATE = 16_000.0
T = np.arange(round(15 * RATE)) / RATE
HOT = {"upstream_k": 433.0, "downstream_k": 368.0}


def sound(course: np.ndarray | float, level_db: float | None = 50.0) -> Heard:
    rng = np.random.default_rng(0)
    samples = 0.1 * course * rng.standard_normal(len(T)) + 0.0005 * rng.standard_normal(len(T))
    return Heard(samples.astype(np.float32), RATE, sensor="contact", level_db=level_db)


def cycle(period_s: float, length_s: float) -> np.ndarray:
    return ((T - 1.0) % period_s < length_s).astype(float)


def test_a_thermodynamic_trap_that_cycles_works():
    state = TrapState("thermodynamic", **HOT, upstream_db=30.0)
    assert judge(sound(cycle(5.0, 1.2)), state).verdict == "working"


def test_one_that_rattles_passes_steam_with_every_stroke():
    judgement = judge(sound(cycle(0.6, 0.25)), TrapState("thermodynamic", **HOT, upstream_db=30.0))
    assert judgement.verdict == "blowing"
    assert "trap-rapid" in {note.code for note in judgement.notes}


@pytest.mark.parametrize("kind", ["thermodynamic", "bucket", None])
@pytest.mark.parametrize("period_s", [0.3, 0.5, 0.9])
def test_no_trap_works_at_several_strokes_a_second(kind, period_s):
    """Strokes of a worn disc come up to a few times a second (P); they must not run together into a hiss."""
    result = judge(sound(cycle(period_s, 0.4 * period_s)), TrapState(kind, **HOT, upstream_db=30.0))
    assert result.verdict == "blowing"
    assert result.measured["rapid"] == pytest.approx(1 / period_s, rel=0.1)


def test_a_float_trap_that_rises_and_falls_works():
    course = 10 ** (5 * np.sin(2 * np.pi * T / 4) / 20)
    assert judge(sound(course), TrapState("float", **HOT, upstream_db=30.0)).verdict == "working"


def test_a_steady_loud_hiss_is_blowing():
    assert judge(sound(1.0), TrapState("bucket", **HOT, upstream_db=28.0)).verdict == "blowing"


@pytest.mark.parametrize("course, start_s", [(cycle(12.0, 3.5), 1.2), (np.ones(len(T)), 1.2)])
def test_a_hiss_no_longer_than_a_discharge_is_not_called_blowing(course, start_s):
    """A discharge lasts a second or a few (P): whoever listens for two of them cannot tell it from live steam."""
    whole = sound(course)
    within = whole.samples[round(start_s * RATE) : round((start_s + 2.2) * RATE)]
    short = judge(replace(whole, samples=within), TrapState("thermodynamic", **HOT, upstream_db=30.0))
    assert short.verdict == "inconclusive"
    assert short.settle is not None and short.settle.code == "trap-longer"


def test_clipping_takes_from_the_swing_and_makes_none():
    """What still rises and falls by more than a hiss does when its peaks are cut off does so all the more in truth."""
    state = TrapState("thermodynamic", **HOT, upstream_db=30.0)
    for course, verdict in ((cycle(5.0, 1.2), "working"), (1.0, "inconclusive")):
        whole = sound(course)
        cut = np.clip(whole.samples, -(edge := np.quantile(np.abs(whole.samples), 0.98)), edge)
        clipped = replace(whole, samples=cut, level_db=None, spoiled=frozenset({"level"}))
        assert judge(clipped, state).verdict == verdict


@pytest.mark.parametrize("kind", ["thermodynamic", "bucket", "float", "thermostatic"])
def test_steam_that_flutters_is_no_discharge(kind):
    """Live steam with water in it flutters by a decibel within tenths of a second (P)."""
    flutter = np.interp(T, np.arange(0, 16, 0.15), 1.4 * np.random.default_rng(3).standard_normal(107))
    judgement = judge(sound(10 ** (flutter / 20)), TrapState(kind, **HOT, upstream_db=28.0))
    assert judgement.verdict == "blowing"
    assert judgement.measured["cycles"] == 0


def knocks(seed: int) -> np.ndarray:
    """Short knocks when they like, two a second."""
    rng = np.random.default_rng(seed)
    return sum(np.exp(-np.maximum(T - at, 0) / 0.02) * (at < T) for at in rng.uniform(0, 15, 30))  # type: ignore[return-value]


@pytest.mark.parametrize("seed", range(4))
def test_knocks_near_by_are_no_strokes_of_a_worn_disc(seed):
    """Strokes of a disc keep time; knocks of a plant come when they like."""
    judgement = judge(sound(cycle(5.0, 1.2) + 0.4 * knocks(seed)), TrapState("thermodynamic", **HOT, upstream_db=44.0))
    assert "rapid" not in judgement.measured
    assert judgement.verdict == "working"


def test_a_rumble_that_throbs_is_no_steam():
    """Flow hisses over all that a receiver passes, some kilohertz; this throbs three times a second from 0.4 to 1.2."""
    band = signal.butter(8, [400, 1200], "bandpass", fs=RATE, output="sos")
    rumble = signal.sosfilt(band, np.random.default_rng(1).standard_normal(len(T)) * (0.1 + cycle(0.3, 0.1)))
    assert judge(Heard(rumble.astype(np.float32), RATE, sensor="contact"), TrapState("thermodynamic")).verdict == (
        "inconclusive"
    )


def test_puffs_that_keep_time_beside_a_trap_that_cycles_are_no_fault_of_it():
    """A worn disc never pauses; here something puffs, and the trap works."""
    course = cycle(6.0, 2.0) + 0.3 * cycle(0.7, 0.2)
    assert judge(sound(course), TrapState("bucket", **HOT, upstream_db=42.0)).verdict != "blowing"


@pytest.mark.parametrize("seed", range(4))
def test_wet_steam_that_wanders_by_a_decibel_blows_all_the_same(seed):
    """A decibel (rms) from one half second to the next, twenty over the pipe: flow of steam, no cycle of a trap."""
    wander = np.interp(T, np.arange(0, 16, 0.4), 1.0 * np.random.default_rng(seed).standard_normal(40))
    assert judge(sound(10 ** (wander / 20)), TrapState("thermostatic", **HOT, upstream_db=28.0)).verdict == "blowing"


def test_the_swing_is_that_of_what_the_trap_adds():
    """A flow that falls to a fifth of its power swings by 7 dB, also where as much noise comes along the pipe."""
    power = 10 ** (7 * np.sign(np.sin(2 * np.pi * T / 6)) / 20)
    alone = judge(sound(np.sqrt(power), 50.0), TrapState("float", upstream_db=20.0)).measured["swing"]
    over = 10 * np.log10(1 + power.mean() / 1.0)
    among = judge(sound(np.sqrt(power + 1.0), 50.0), TrapState("float", upstream_db=50.0 - over)).measured["swing"]
    assert alone == pytest.approx(7.0, abs=0.7)
    assert among == pytest.approx(7.0, abs=1.0)


def test_a_steady_hiss_with_nothing_to_hold_it_against_is_not_called():
    assert judge(sound(1.0, None), TrapState("float", **HOT)).verdict == "inconclusive"


def test_silent_and_cold_with_steam_proven_upstream_is_blocked():
    state = TrapState("float", 433.0, 298.0, upstream_db=21.0)
    assert judge(Heard(np.zeros(0, np.float32), RATE, level_db=20.5), state).verdict == "blocked"


def test_what_puffs_near_by_does_not_make_a_cold_outlet_hot():
    """Steam or condensate that passes warms the outlet to nearly 100 °C; at 20 °C neither does."""
    puffs = 0.3 + cycle(5.0, 1.2)
    state = TrapState("thermodynamic", 433.0, 293.0, upstream_db=48.5)
    assert judge(sound(puffs), state).verdict == "blocked"


@pytest.mark.parametrize(
    "state", [TrapState("float", None, None, 21.0, 20.5), TrapState("float", 300.0, 298.0, 21.0, 20.5)]
)
def test_silence_alone_or_without_steam_is_not_blocked(state):
    judgement = judge(None, state)
    assert judgement.verdict == "inconclusive"
    assert judgement.settle is not None


def test_hot_and_silent_may_be_a_pause():
    assert judge(None, TrapState("bucket", 433.0, 370.0, 21.0, 20.5)).verdict == "inconclusive"


CASES = {
    "cycles": (sound(cycle(5.0, 1.2)), TrapState("thermodynamic", **HOT, upstream_db=30.0)),
    "blows": (sound(1.0), TrapState("bucket", **HOT, upstream_db=28.0)),
}


@settings(max_examples=8, deadline=None)
@given(name=st.sampled_from(sorted(CASES)), gain_db=st.floats(-30, 3), flip=st.booleans())
def test_gain_and_polarity_change_no_verdict(name, gain_db, flip):
    heard, state = CASES[name]
    changed = replace(heard, samples=heard.samples * np.float32(10 ** (gain_db / 20) * (-1 if flip else 1)))
    assert judge(changed, state).verdict == judge(heard, state).verdict
