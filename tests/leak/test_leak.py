"""A leak is hiss over its background; what else hisses, whines, knocks or puffs is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from earwitness.hearing.heard import Heard
from earwitness.hearing.leak import LeakState, judge
from earwitness.simulate.leak import draw

RATE = 48_000.0
T = np.arange(round(6 * RATE)) / RATE


def hiss(seed: int = 0, rms: float = 0.05) -> np.ndarray:
    return (rms * np.random.default_rng(seed).standard_normal(len(T))).astype(np.float32)


def passing(at_s: float, width_s: float, over_db: float) -> np.ndarray:
    course = np.sqrt(1 + 10 ** (over_db / 10) / (1 + ((T - at_s) / (width_s / 2)) ** 2))
    return (hiss(1, 0.01) * course).astype(np.float32)


def heard(samples: np.ndarray, level_db: float | None = None, background_db: float | None = None, **more) -> Heard:
    return Heard(samples.astype(np.float32), RATE, level_db=level_db, background_db=background_db, **more)


def test_steady_hiss_over_the_background_is_a_leak_and_asks_whether_it_is_meant():
    judgement = judge(heard(hiss(), 55.0, 40.0))
    assert judgement.verdict == "leak"
    assert "blows-on-purpose-question" in {note.code for note in judgement.notes}


def test_said_to_blow_on_purpose_is_heard_and_said():
    judgement = judge(heard(hiss(), 55.0, 40.0), LeakState(cause="deliberate"))
    assert judgement.verdict == "leak"
    assert "blows-on-purpose" in {note.code for note in judgement.notes}


def test_steady_hiss_without_level_or_background_may_be_the_receivers_own():
    judgement = judge(heard(hiss(rms=0.001)))
    assert judgement.verdict == "inconclusive"
    assert judgement.settle is not None and judgement.settle.code == "leak-no-background"


def test_a_background_recording_settles_it():
    assert judge(heard(hiss(rms=0.05), background=hiss(2, rms=0.005))).verdict == "leak"
    assert judge(heard(hiss(rms=0.05), background=hiss(2, rms=0.05))).verdict == "no-leak-heard"


def test_the_sweep_is_its_own_background_and_the_place_is_where_it_is_loudest():
    judgement = judge(heard(passing(3.7, 0.8, 18.0)))
    assert judgement.verdict == "leak"
    assert len(judgement.places) == 1
    assert judgement.places[0].at_s == pytest.approx(3.7, abs=0.2)
    course = 10 * np.log10(1 + 10**1.8 / (1 + ((T - 3.7) / 0.4) ** 2))
    assert judgement.places[0].level_db == pytest.approx(course.max() - np.quantile(course, 0.2), abs=1.5)


def test_two_leaks_in_a_sweep_are_two_places():
    both = np.sqrt(passing(1.6, 0.5, 18.0) ** 2 + passing(4.4, 0.5, 18.0) ** 2) * np.sign(hiss(3))
    assert len(judge(heard(both)).places) == 2


@pytest.mark.parametrize("over", [-3.0, 0.0, 1.0, 2.9])
def test_a_level_less_than_3_db_over_background_decides_nothing_by_itself(over):
    assert judge(heard(np.zeros(0), 40.0 + over, 40.0)).verdict == "inconclusive"


def test_a_whine_however_loud_is_no_leak():
    whine = 0.3 * np.sin(2 * np.pi * 2700 * T) + 0.2 * np.sin(2 * np.pi * 4100 * T) + hiss(rms=0.0005)
    assert judge(heard(whine, 70.0, 45.0)).verdict == "no-leak-heard"


def test_puffs_in_rhythm_are_no_leak_and_their_period_is_said():
    puffs = hiss(rms=0.2) * np.where((T % 1.2) < 0.3, np.exp(-(T % 1.2) / 0.08), 0.0) + hiss(5, 0.0005)
    judgement = judge(heard(puffs, 60.0, 45.0))
    assert judgement.verdict == "no-leak-heard"
    note = next(note for note in judgement.notes if note.code == "puffs-in-rhythm")
    assert note.args["period"] == pytest.approx(1.2, abs=0.05)


def test_knocks_are_no_leak():
    rng = np.random.default_rng(4)
    knocks = hiss(rms=0.0005).astype(float)
    for at in rng.uniform(0.1, 5.8, 25):
        n = round(0.03 * RATE)
        start = round(at * RATE)
        knocks[start : start + n] += 0.5 * rng.standard_normal(n) * np.exp(-np.arange(n) / (0.006 * RATE))
    assert judge(heard(knocks, 60.0, 45.0)).verdict == "no-leak-heard"


def test_wide_band_recordings_are_judged_on_their_ultrasound():
    rate = 192_000.0
    audible = np.random.default_rng(0).standard_normal(round(2 * rate))
    spectrum = np.fft.rfft(audible)
    spectrum[2 * 15_000 :] *= 1e-4  # loud below 15 kHz only
    low = (0.1 * np.fft.irfft(spectrum)).astype(np.float32)
    quiet = (1e-5 * np.random.default_rng(1).standard_normal(len(low))).astype(np.float32)
    sound = Heard(low, rate, signal="direct", background=quiet)
    assert judge(sound).verdict != "leak"
    leak = (0.01 * np.random.default_rng(2).standard_normal(len(low))).astype(np.float32)
    assert judge(replace(sound, samples=leak)).verdict == "leak"


def wide_band(rate: float, source_db: float, seed: int, audible_db: float = 20.0) -> np.ndarray:
    """Ultrasound of a hall, machines far louder below 10 kHz, and jet noise (flat from 20 to 80 kHz) over it."""
    from scipy.signal import butter, sosfilt

    rng = np.random.default_rng(seed)
    n = round(2.5 * rate)
    below = sosfilt(butter(4, 10_000, fs=rate, output="sos"), rng.standard_normal(n))
    jet = sosfilt(butter(2, [20_000, min(80_000, 0.48 * rate)], "band", fs=rate, output="sos"), rng.standard_normal(n))
    scale = 10 ** (np.array([audible_db, source_db]) / 20)
    return 0.002 * (rng.standard_normal(n) + scale[0] * below + scale[1] * jet / jet.std())


@pytest.mark.parametrize("beat_hz", [72.8, 117.9, 145.7])
def test_what_hisses_in_a_beat_is_no_jet(beat_hz):
    """Cicadas swell 72.8 or 145.7 times a second, an air conditioner 117.9 times."""
    cicada = hiss() * np.sqrt(1 + 0.9 * np.cos(2 * np.pi * beat_hz * T))
    assert judge(heard(cicada, 48.0, 40.0)).verdict == "no-leak-heard"


def test_a_leak_beside_a_fan_is_still_a_leak():
    fan = hiss(1, 0.02) * np.sqrt(1 + 0.9 * np.cos(2 * np.pi * 98.3 * T))
    assert judge(heard(hiss() + fan, 55.0, 40.0)).verdict == "leak"


def test_a_leak_that_is_passed_in_a_hall_that_beats_is_still_a_leak():
    hall = hiss(1, 0.01) * np.sqrt(1 + 0.9 * np.cos(2 * np.pi * 117.9 * T))
    assert judge(heard(passing(3.0, 0.8, 18.0) + 0.3 * hall)).verdict == "leak"


def test_a_display_at_its_highest_while_a_whine_goes_by_makes_no_leak_of_the_steady_noise():
    whine = sum(np.sin(2 * np.pi * hz * T) for hz in (900, 1800, 2700, 3600)) / np.sqrt(1 + ((T - 3) / 0.5) ** 2)
    judgement = judge(heard(hiss(rms=0.02) + 0.04 * whine, 49.0, 40.0))
    assert judgement.measured["over-background"] <= 3.0
    assert judgement.verdict != "leak"
    assert judge(heard(hiss(rms=0.02), 49.0, 40.0)).verdict == "leak"


def test_a_display_read_while_puffs_last_makes_no_leak_of_the_hiss_between():
    """Three puffs that are over in a tenth of a second, 14 dB over the hall's noise: a quick display shows them, and
    what was read off it, 9 dB over the background, may be theirs."""
    since = T % 1.9 - 1.0
    puffs = np.sqrt(1 + 25 * (since > 0) * np.exp(-np.maximum(since, 0) / 0.03))
    assert judge(heard(hiss(rms=0.01) * puffs, 49.0, 40.0)).verdict != "leak"
    assert judge(heard(hiss(rms=0.01) * puffs, 66.0, 40.0)).verdict == "leak"


def test_a_leak_beneath_puffs_that_rise_little_over_it_is_a_leak():
    puffs = np.sqrt(1 + 2.5 * np.exp(-(T % 0.7) / 0.15))
    assert judge(heard(hiss() * puffs, 62.0, 40.0)).verdict == "leak"
    assert judge(heard(hiss() * puffs, 42.0, 40.0)).verdict == "no-leak-heard"


def test_hiss_that_is_switched_on_and_off_is_not_passed_by():
    """A saw at work: three cuts, each begun and ended within a tenth of a second."""
    cuts = np.clip(8 * np.sin(2 * np.pi * (T / 2.6 + 0.1)), 0.25, 1)
    judgement = judge(heard(hiss() * np.where(cuts > 0.9, 1.0, 0.25)))
    assert judgement.verdict != "leak" and judgement.measured["swept-rise"] < 4.0


def test_a_recording_that_begins_within_a_puff_is_not_judged_by_that_puff():
    puffs = 1 + 30 * np.exp(-((T + 0.15) % 1.3) / 0.12)
    judgement = judge(heard(hiss(rms=0.002) * puffs, 46.0, 40.0))
    assert judgement.verdict == "no-leak-heard" and judgement.measured["puffed"] > 0.3


def test_what_hisses_steadily_for_part_of_each_cycle_may_leak_while_it_has_pressure():
    """A hose behind a clamp: on for 1.5 of 2 seconds and cut off, 20 dB; air that is let off dies away instead."""
    t = np.arange(round(12 * RATE)) / RATE
    noise = 0.01 * np.random.default_rng(4).standard_normal(len(t))
    within = (t - 0.7) % 2.0
    judgement = judge(heard(noise * np.where(within < 1.5, 10.0, 1.0), 60.0, 40.0))
    assert judgement.verdict == "inconclusive"
    assert judgement.settle is not None and judgement.settle.code == "leak-part-of-cycle"
    assert judge(heard(noise * (1 + 30 * np.exp(-within / 0.2)), 46.0, 40.0)).verdict == "no-leak-heard"


def test_what_hisses_steadily_now_and_then_well_over_the_background_is_asked_about():
    """On for 1.2 to 2.9 s in no rhythm, flat and cut off, 20 dB: nothing that is let off stays so."""
    t = np.arange(round(12 * RATE)) / RATE
    on = np.any([(t > start) & (t < stop) for start, stop in ((0.8, 2.0), (3.5, 6.4), (7.2, 9.0))], axis=0)
    noise = 0.01 * np.random.default_rng(4).standard_normal(len(t))
    judgement = judge(heard(noise * np.where(on, 10.0, 1.0), 60.0, 40.0))
    assert judgement.verdict == "inconclusive"
    assert judgement.settle is not None and judgement.settle.code == "leak-now-and-then"
    assert judge(heard(noise * np.where(on, 10.0, 1.0), 41.0, 40.0)).verdict == "no-leak-heard"  # nothing displayed


def test_lips_that_flutter_are_asked_about_and_blades_are_not():
    """Both chop a hiss of 15 dB eighty times a second; a wheel keeps time, an elastic lip wanders by some hertz."""
    t = np.arange(round(10 * RATE)) / RATE
    noise = 0.02 * np.random.default_rng(6).standard_normal(len(t))
    slow = np.repeat(np.random.default_rng(7).standard_normal(200), -(-len(t) // 200))[: len(t)]
    for hz, verdict in ((80.0, "no-leak-heard"), (80.0 + 3 * slow, "inconclusive")):
        beat = np.sqrt(1 + 0.9 * np.cos(2 * np.pi * np.cumsum(np.broadcast_to(hz, t.shape)) / RATE))
        assert judge(heard(noise * beat, 55.0, 40.0)).verdict == verdict


@pytest.mark.parametrize("rate", [96_000.0, 192_000.0, 250_000.0, 384_000.0, 500_000.0])
def test_a_wide_band_leak_is_heard_at_every_rate(rate):
    background = wide_band(rate, -60.0, 1).astype(np.float32)
    for source_db, verdict in ((12.0, "leak"), (-60.0, "no-leak-heard")):
        sound = Heard(wide_band(rate, source_db, 2).astype(np.float32), rate, signal="direct", background=background)
        assert judge(sound).verdict == verdict
        level = Heard(sound.samples, rate, signal="direct", level_db=40 + max(source_db, 0.0), background_db=40.0)
        assert judge(level).verdict == verdict


@pytest.mark.parametrize("rate", [96_000.0, 250_000.0])
def test_a_wide_band_leak_passed_by_is_its_own_background(rate):
    quiet, loud = wide_band(rate, -60.0, 3), wide_band(rate, 18.0, 3)
    t = np.arange(len(quiet)) / rate
    both = np.concatenate([quiet, quiet + (loud - quiet) / np.hypot(1, (t - 1.2) / 0.25)])
    judgement = judge(Heard(both.astype(np.float32), rate, signal="direct"))
    assert judgement.verdict == "leak"
    assert [place.at_s for place in judgement.places] == [pytest.approx(3.7, abs=0.2)]


def test_a_whine_in_the_receivers_own_band_does_not_make_its_level_a_leaks():
    rate = 192_000.0
    sound = wide_band(rate, -60.0, 5)
    tone = 0.004 * np.sin(2 * np.pi * 37_000 * np.arange(len(sound)) / rate)  # 10 dB over the hall in 35 to 45 kHz
    heard = Heard((sound + tone).astype(np.float32), rate, "direct", "airborne", 40_000.0)
    assert judge(replace(heard, level_db=50.5, background_db=40.0)).verdict != "leak"


def test_puffs_that_never_fall_silent_are_no_leak_but_a_leak_beneath_puffs_is_one():
    puffs = hiss(rms=0.2) * np.exp(-(T % 0.7) / 0.15)
    assert judge(heard(puffs + hiss(5, 0.0005), 70.0, 45.0)).verdict == "no-leak-heard"
    level = 45 + 20 * np.log10(np.std(0.5 * puffs + hiss(5, 0.05)) / 0.005)
    assert judge(heard(0.5 * puffs + hiss(5, 0.05), float(level), 45.0)).verdict == "leak"


def test_what_lifts_the_display_for_a_while_is_no_leak():
    """A machine's tones that pass, and a truck that beeps: loud while they last, and the hiss between as ever."""
    tones = sum(np.cos(2 * np.pi * hz * T + hz) for hz in range(700, 9000, 700))
    whine = hiss(1, 0.01) + 0.03 * tones / (1 + ((T - 4) / 0.7) ** 2)
    assert judge(heard(whine, 49.0, 40.0)).verdict != "leak"
    low = hiss(1, 0.01) + 0.06 * (T % 1.0 < 0.4) * np.cos(2 * np.pi * 180 * T)  # folded to below what hiss is sought in
    assert judge(heard(low, 48.0, 40.0)).verdict != "leak"


def test_a_leak_far_over_the_background_is_one_though_something_makes_it_flutter():
    each = np.random.default_rng(3).uniform(0.3, 1.0, 20)[(T / 0.31).astype(int)]
    puffs = np.sqrt(1 + 2.0 * each * np.exp(-(T % 0.31) / 0.05))
    assert judge(heard(hiss() * puffs, 62.0, 40.0)).verdict == "leak"


def test_what_is_switched_on_for_a_while_is_not_passed():
    saw = hiss(1, 0.01) * (1 + 3 * ((T > 1.5) & (T < 3.3)))
    assert judge(heard(saw)).measured["swept-rise"] < 4.0
    assert judge(heard(saw)).verdict != "leak"


def test_a_probe_led_past_quickly_still_finds_the_leak():
    judgement = judge(heard(passing(2.2, 0.35, 22.0)))
    assert judgement.verdict == "leak"
    assert [place.at_s for place in judgement.places] == [pytest.approx(2.2, abs=0.15)]


def puffing(
    period_s: float, length_s: float, over_db: float, *, tail_s: float = 0.0, front_s: float = 0.005
) -> np.ndarray:
    """Power of a hall at 1 and of a valve that opens every `period_s` for `length_s` and then dies away."""
    since = T % period_s
    opened = np.minimum(since / front_s, 1.0) * (since < length_s)
    after = np.exp(-np.maximum(since - length_s, 0) / tail_s) * (since >= length_s) if tail_s else 0.0
    return 1 + 10 ** (over_db / 10) * (opened + after)


def displayed(power: np.ndarray, background: float = 1.0) -> float:
    """The level of it where the hall alone displays 40 dB."""
    return 40.0 + 10 * float(np.log10(power.mean() / background))


PUFFS = {
    "weak": puffing(0.6, 0.28, 7.5),
    "half of the time": puffing(1.4, 0.7, 15.0),
    "slow fronts": puffing(1.1, 0.4, 25.0, front_s=0.03),
    "long tails": puffing(1.9, 0.02, 20.0, tail_s=0.25),
    "hardly silent": puffing(0.9, 0.02, 18.0, tail_s=0.15),
    "two valves": puffing(1.3, 0.3, 14.0) + puffing(0.77, 0.2, 9.0) - 1,
}


@pytest.mark.parametrize("name", sorted(PUFFS))
@pytest.mark.parametrize("seed", range(4))
def test_a_valve_that_puffs_is_no_leak(name, seed):
    sound = hiss(seed, 0.01) * np.sqrt(PUFFS[name])
    assert judge(heard(sound, displayed(PUFFS[name]), 40.0)).verdict == "no-leak-heard"
    assert judge(heard(sound, background=hiss(99, 0.01))).verdict == "no-leak-heard"


@pytest.mark.parametrize("name", ["weak", "half of the time", "long tails"])
def test_a_leak_beneath_a_valve_that_puffs_is_one(name):
    power = PUFFS[name] + 10**1.3
    assert judge(heard(hiss(3, 0.01) * np.sqrt(power), displayed(power), 40.0)).verdict == "leak"
    assert judge(heard(hiss(3, 0.01) * np.sqrt(power), background=hiss(99, 0.01))).verdict == "leak"


def test_puffs_in_rhythm_with_nothing_else_to_compare_are_what_is_heard():
    for name in ("half of the time", "hardly silent", "weak"):
        assert judge(heard(hiss(1, 0.01) * np.sqrt(PUFFS[name]))).verdict == "no-leak-heard"
    slight = judge(heard(hiss(1, 0.01) * np.sqrt(puffing(1.0, 0.3, 3.0))))
    assert slight.verdict == "inconclusive" and slight.settle.code == "leak-no-background"


def test_a_leak_passed_beneath_puffs_and_knocks_is_found_at_its_place():
    power = puffing(0.9, 0.02, 8.0, tail_s=0.06) + 10**1.8 / (1 + ((T - 3.6) / 0.5) ** 2)
    power[(T % 0.83) < 0.02] += 100
    judgement = judge(heard(hiss(1, 0.01) * np.sqrt(power)))
    assert judgement.verdict == "leak"
    assert [place.at_s for place in judgement.places] == [pytest.approx(3.6, abs=0.25)]


def test_a_display_read_anywhere_along_a_sweep_does_not_deny_the_place_that_was_passed():
    assert judge(heard(passing(3.0, 0.8, 14.0), 40.5, 40.0), LeakState(swept=True)).verdict == "leak"


def test_a_sweep_along_which_nothing_rises_heard_no_leak():
    whine = 0.05 * np.sin(2 * np.pi * 2700 * T) / np.sqrt(1 + ((T - 3) / 0.6) ** 2) + hiss(rms=0.01)
    assert judge(heard(whine), LeakState(swept=True)).verdict == "no-leak-heard"
    assert judge(heard(whine)).verdict == "inconclusive"
    begun_on_it = hiss(1, 0.01) * np.sqrt(1 + 30 / (1 + (T / 0.8) ** 2))
    assert judge(heard(begun_on_it), LeakState(swept=True)).verdict != "no-leak-heard"


def test_what_is_spoiled_is_not_used():
    spoiled = heard(hiss(rms=0.05), background=hiss(2, rms=0.005), spoiled=frozenset({"level"}))
    assert "over-background" not in judge(spoiled).measured
    assert "hiss-share" not in judge(replace(spoiled, spoiled=frozenset({"spectrum"}))).measured


@pytest.mark.parametrize("cut_at", [0.3, 1.0, 2.0])
def test_a_level_is_no_leaks_where_the_recording_was_cut_flat_by_a_beeper(cut_at):
    beeper = 3 * np.sin(2 * np.pi * 2300 * T) * (T % 1.0 < 0.5) + hiss(rms=0.1)
    spoiled = frozenset({"level", "spectrum"})
    judgement = judge(heard(np.clip(beeper / cut_at, -1, 1), 40.0, 16.0, spoiled=spoiled))
    assert judgement.verdict == "inconclusive"
    assert judgement.settle is not None and judgement.settle.code == "leak-level-of-else"
    assert judge(heard(np.clip(hiss(rms=0.5) / cut_at, -1, 1), 40.0, 16.0, spoiled=spoiled)).verdict == "leak"


def test_hiss_far_beneath_a_tone_is_its_skirt():
    """An oscillator is noisy beside its line: more than 15 dB beneath what whines nothing is told from hiss."""
    whine = 0.5 * np.sin(2 * np.pi * 2300 * T)
    beneath = judge(heard(whine + hiss(rms=0.012), 62.0, 25.0, background=hiss(2, rms=0.005)))
    assert beneath.verdict != "leak"
    assert judge(heard(0.1 * whine + hiss(rms=0.012), 42.5, 25.0, background=hiss(2, rms=0.005))).verdict == "leak"


def test_the_weights_add_up_to_the_probability():
    judgement = judge(heard(hiss(), 55.0, 40.0))
    score = sum(e.weight if e.supports == "leak" else -e.weight for e in judgement.evidence)
    assert judgement.probabilities["leak"] == pytest.approx(1 / (1 + np.exp(-score)), abs=1e-9)


CASES = {
    "held": heard(hiss(), 55.0, 40.0),
    "swept": heard(passing(3.7, 0.8, 18.0)),
    "ambient": heard(hiss(), 40.3, 40.0),
    "whine": heard(0.3 * np.sin(2 * np.pi * 2700 * T) + hiss(rms=0.0005), 70.0, 45.0),
}


@settings(max_examples=12, deadline=None)
@given(name=st.sampled_from(sorted(CASES)), gain_db=st.floats(-40, 6), flip=st.booleans(), silence=st.floats(0, 1.5))
def test_gain_polarity_and_silence_at_the_ends_change_no_verdict(name, gain_db, flip, silence):
    case = CASES[name]
    quiet = np.zeros(round(silence * RATE), np.float32)
    changed = case.samples * np.float32(10 ** (gain_db / 20) * (-1 if flip else 1))
    assert judge(replace(case, samples=np.concatenate([quiet, changed, quiet]))).verdict == judge(case).verdict


@pytest.mark.parametrize("silence_ms", [5, 15, 25, 35])
def test_silence_shorter_than_a_frame_at_the_ends_is_no_front(silence_ms):
    case = CASES["swept"]
    quiet = np.zeros(round(silence_ms / 1000 * RATE), np.float32)
    assert judge(replace(case, samples=np.concatenate([quiet, case.samples, quiet]))).verdict == "leak"


@pytest.mark.parametrize("name", sorted(CASES))
def test_resampling_and_bit_depth_change_no_verdict(name):
    import soxr

    case = CASES[name]
    resampled = replace(case, samples=soxr.resample(case.samples, 48_000, 44_100).astype(np.float32), rate_hz=44_100.0)
    coarse = replace(case, samples=(np.rint(case.samples * 2**15) / 2**15).astype(np.float32))
    assert judge(resampled).verdict == judge(coarse).verdict == judge(case).verdict


def test_a_simulated_reading_holds_what_it_says():
    simulated = draw(np.random.default_rng(8))
    assert simulated.truth in ("leak", "no-leak-heard", "inconclusive")
    assert len(simulated.heard.samples) == 0 or np.abs(simulated.heard.samples).max() <= 1.0
    again = draw(np.random.default_rng(8))
    np.testing.assert_array_equal(simulated.heard.samples, again.heard.samples)
