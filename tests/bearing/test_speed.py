"""Where the speed is off, sways or runs up, the bearing is still told by what its shaft's vibration shows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from earwitness.hearing.bearing import BearingMachine, judge
from earwitness.hearing.bearing_families import families
from earwitness.hearing.geometry import defect_orders, expected_given
from earwitness.hearing.heard import Heard
from earwitness.sound.turning import turning_by_tones
from tests.bearing.signals import comb, heard_noise, shaken, sound_of_blows, struck

DRIVE_END = BearingMachine(
    speed_hz=29.57, rolling_elements=9, element_m=7.94e-3, pitch_m=39.04e-3, contact_angle_rad=0.0, mains_hz=50.0
)
ORDERS = {"outer-race": 3.5848, "inner-race": 5.4152}


def machine_with(verdict: str, course: float = 0.0, seconds: float = 8.0, shows: bool = True) -> Heard:
    """A race struck at its order of a shaft of 29.57 turns a second, whose tones an accelerometer hears too."""
    tones, turns = shaken(speed_hz=29.57, seconds=seconds, course=course)
    order = ORDERS[verdict]
    every = np.arange(1, int(turns[-1] * order)) / order
    at = np.interp(every, turns, np.arange(len(turns)) / 24000)
    sound = struck(rate_hz=24000, seconds=seconds, blow_hz=1.0, blow_at=at, ring_hz=5200)
    return Heard((sound + tones * shows).astype(np.float32), 24000.0, "direct", "contact")


@pytest.mark.parametrize("verdict", list(ORDERS))
@pytest.mark.parametrize("off", [-0.03, 0.02, 0.04])
def test_a_speed_read_off_the_plate_is_corrected_by_the_shaft_s_own_tones(verdict, off):
    """An induction motor under load turns up to 5 % slower than its plate says without load."""
    result = judge(machine_with(verdict), replace(DRIVE_END, speed_hz=29.57 * (1 + off)))
    likeliest = max(result.probabilities, key=result.probabilities.get)
    assert likeliest == verdict
    (note,) = [note for note in result.notes if note.code == "speed-refined"]
    assert abs(note.args["rpm"] / 60 - 29.57) < 0.03


def test_hum_of_the_mains_moves_no_speed():
    t = np.arange(8 * 24000) / 24000
    hum = sum(0.02 * np.cos(2 * np.pi * 50 * k * t + k) for k in range(1, 9))
    heard = machine_with("outer-race", shows=False)
    heard = replace(heard, samples=heard.samples + hum.astype(np.float32))
    result = judge(heard, replace(DRIVE_END, speed_hz=24.4, rolling_elements=9))
    assert not any(n.code == "speed-refined" and abs(n.args["rpm"] / 60 - 25) < 0.1 for n in result.notes)


@pytest.mark.parametrize("course", [0.05, 0.1])
@pytest.mark.parametrize("verdict", list(ORDERS))
def test_a_race_is_told_while_the_shaft_runs_up(verdict, course):
    result = judge(machine_with(verdict, course), DRIVE_END)
    assert max(result.probabilities, key=result.probabilities.get) == verdict
    (note,) = [note for note in result.notes if note.code == "speed-varied"]
    assert abs(note.args["mean"] / 60 - 29.57) < 0.1


def test_impacts_that_keep_time_at_a_changing_rate_are_not_irregular():
    """A shaft that runs up from 7 to 13 turns a second, through a receiver that hears nothing of its vibration."""
    _, turns = shaken(speed_hz=10.0, seconds=8.0, course=0.3)
    every = np.arange(1, int(turns[-1] * ORDERS["outer-race"])) / ORDERS["outer-race"]
    at = np.interp(every, turns, np.arange(len(turns)) / 24000)
    samples = struck(rate_hz=24000, seconds=8.0, blow_hz=1.0, blow_at=at, ring_hz=5200)
    result = judge(Heard(samples, 24000.0), replace(DRIVE_END, speed_hz=10.0))
    assert result.measured["in-step"] > 20
    assert result.verdict == "inconclusive"


def test_seconds_without_a_speed_are_not_called_quiet():
    """Where no speed says at which rate to look, a weak rhythm of any rate must stand out of more noise."""
    result = judge(heard_noise(seconds=2), replace(DRIVE_END, speed_hz=None))
    assert result.verdict == "inconclusive"
    assert judge(heard_noise(seconds=2), DRIVE_END).verdict == "no-fault-heard"


def test_a_ball_that_spins_twice_as_fast_as_the_shaft_corrects_no_speed():
    """In a bearing of 8 balls the spin of one is 1.993 times the speed, and less by its slip."""
    orders = defect_orders(8, 6.75e-3, 28.5e-3)
    spin_hz = 0.99 * orders.spin * 29.57
    sound = sound_of_blows(blow_hz=2 * spin_hz, swing_hz=spin_hz, seconds=8.0)
    assert abs(families(sound, expected_given(orders), 29.57, None).speed_hz / 29.57 - 1) < 0.002


def test_tones_that_may_all_be_a_race_s_tell_no_speed():
    """All of them are multiples of three times a speed 2 % below the stated one."""
    _, decades = turning_by_tones(comb(at_hz=3 * 29.0), 29.57, 0.05, None)
    assert decades < 1
