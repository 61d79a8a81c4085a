"""What is a discharge, which kind, and what only looks like one. The sounds are written down here directly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from earwitness.hearing.discharge import ElectricalState, judge
from earwitness.hearing.heard import Heard
from tests.discharge import sounds

DISCHARGES = {"corona", "tracking", "arcing"}
EXAMPLES = {
    "corona": sounds.corona,
    "tracking": sounds.tracking,
    "arcing": sounds.arcing,
    "mains-hum": sounds.hum,
    "no-discharge-heard": lambda: sounds.listened(sounds.noise(6)),
}


def verdict(samples, state=None, rate=float(sounds.RATE), **heard):
    return judge(Heard(np.asarray(samples, np.float32), rate, **heard), state or ElectricalState(mains_hz=50.0))


@pytest.mark.parametrize("truth", EXAMPLES)
def test_each_kind_is_told(truth):
    """Patterns as in Archives of Acoustics 34 (2009) 41-49 (corona, hum) and from memory (tracking, arcing)."""
    judgement = verdict(EXAMPLES[truth]())
    assert judgement.verdict == truth, judgement.probabilities
    assert judgement.probability >= 0.8
    assert sum(judgement.probabilities.values()) == pytest.approx(1.0)


def test_one_polarity_is_no_less_a_discharge():
    """A line at the mains as strong as that at its double means asymmetry, not 'not electrical'."""
    judgement = verdict(sounds.corona(both=False))
    assert judgement.verdict == "corona"
    assert judgement.measured["one-polarity"] > -3.0
    assert "one-polarity" in {note.code for note in judgement.notes}


@pytest.mark.parametrize("truth", ["tracking", "arcing"])
def test_a_discharge_that_fills_a_part_of_the_band_is_told_beside_the_receivers_noise(truth):
    low = signal.butter(6, 0.25 * sounds.RATE / 2, fs=sounds.RATE, output="sos")
    made = getattr(sounds, truth)()
    noise = 0.7 * float(np.std(made)) * sounds.noise(len(made) / sounds.RATE, 3)
    assert verdict((signal.sosfilt(low, made) + noise).astype(np.float32), ElectricalState(50.0)).verdict == truth


def test_mains_frequency_is_found_when_not_given():
    judgement = verdict(sounds.corona(mains=60.04), ElectricalState())
    assert judgement.verdict == "corona"
    found = next(note for note in judgement.notes if note.code == "mains-found")
    assert found.args["hz"] == pytest.approx(60.04, abs=0.02)


@pytest.mark.parametrize("both", [True, False])
def test_a_grid_may_stray_by_more_than_the_usual(both):
    """EN 50160 allows 1 % on most of a year's days: 50.25 Hz is the mains, and no fan."""
    assert verdict(sounds.corona(mains=50.25, both=both)).verdict == "corona"


def test_lines_of_a_hum_tell_their_mains_whatever_was_stated():
    assert verdict(sounds.hum(mains=60.0), ElectricalState(50.0)).verdict == "mains-hum"


@pytest.mark.parametrize("both", [True, False])
def test_a_beat_of_the_other_mains_asks_which_it_is(both):
    """Where one polarity discharges, the beat comes once a cycle."""
    judgement = verdict(sounds.corona(mains=60.02, both=both), ElectricalState(50.0))
    assert judgement.verdict == "inconclusive" and judgement.settle.code == "beat-off-mains"


@pytest.mark.parametrize("mains", [50.8, 60.83])
def test_a_discharge_on_a_generating_set_is_not_denied(mains):
    """EN 50160 allows 2 % on grids that are joined to no other; as measured, it is the mains."""
    judgement = verdict(sounds.corona(mains=mains), ElectricalState())
    assert judgement.verdict == "inconclusive" and judgement.settle.code == "beat-on-island"
    assert verdict(sounds.corona(mains=mains), ElectricalState(mains)).verdict == "corona"


@pytest.mark.parametrize("apart", [100.0, 120.0])
def test_two_tones_that_fold_are_no_discharge(apart):
    """39.0 and 41.1 kHz about 40 kHz make a line at 100 Hz in the envelope, and nothing else."""
    assert verdict(sounds.folded_tones(apart=apart), ElectricalState()).verdict not in DISCHARGES


@pytest.mark.parametrize("apart", [100.0, 120.0])
def test_two_tones_under_automatic_gain_are_no_discharge(apart):
    """The gain follows the beat of the tones, and so does all else that is heard."""
    t = sounds.times(6.0)
    tones = np.cos(2 * np.pi * 1300 * t) + 0.7 * np.cos(2 * np.pi * (1300 + apart) * t)
    follows = np.exp(-sounds.times(0.1) / 0.01)
    heard = np.convolve(np.abs(1 + 0.7 * np.exp(2j * np.pi * apart * t)), follows / follows.sum())[: len(t)]
    gain = 1 / (0.1 + heard)
    judgement = verdict((0.1 * gain * (tones + 0.2 * sounds.noise(6.0, 12))).astype(np.float32), ElectricalState())
    assert judgement.verdict == "no-discharge-heard"
    assert judgement.measured["lock"] <= 0.0


@pytest.mark.parametrize("hz", [117.9, 72.8, 145.7, 98.3])
def test_near_twice_the_mains_is_not_twice_the_mains(hz):
    """Air conditioners at 117.9 Hz, cicadas at 72.8 and 145.7 Hz, a two-pole motor's fan at 98.3 Hz."""
    assert verdict(sounds.beaten(hz), ElectricalState()).verdict not in DISCHARGES


def test_a_three_phase_rectifier_is_no_discharge():
    assert verdict(sounds.six_pulses()).verdict not in DISCHARGES


@pytest.mark.parametrize("over_db", [6.0, 12.0, 20.0])
@pytest.mark.parametrize("voltage_v", [None, 230.0])
def test_a_dimmer_clicks_each_time_alike_and_is_no_discharge(over_db, voltage_v):
    judgement = verdict(sounds.dimmer(over_db=over_db), ElectricalState(50.0, voltage_v, "sinusoidal"))
    assert judgement.verdict not in DISCHARGES, judgement.probabilities


def test_a_hum_with_puffs_of_air_is_no_arc():
    """Lines 6 dB over the noise, and bursts that fade with 50 ms every 0.9 s."""
    t = sounds.times(8.0)
    lines = sum(np.cos(2 * np.pi * 100.0 * k * t + k * k) / k for k in range(4, 14))
    puffs = 3 * np.exp(-((t + 0.2) % 0.9) / 0.1) * sounds.noise(8.0, 31)
    noise = sounds.noise(8.0, 32)
    judgement = verdict(sounds.listened(2 * lines / np.std(lines) + puffs + noise))
    assert judgement.verdict in ("mains-hum", "inconclusive") and judgement.probabilities["arcing"] < 0.5


@pytest.mark.parametrize("deep", [0.2, 0.5, 0.9])
def test_laminations_swell_smoothly_and_are_no_discharge(deep):
    judgement = verdict(sounds.laminations(deep))
    assert judgement.verdict not in DISCHARGES, judgement.probabilities
    assert judgement.measured["not-a-swell"] < -12.0


def test_lines_of_the_mains_itself_are_pickup_not_hum():
    """A cable picks up the field: the mains and its odd multiples."""
    assert verdict(sounds.pickup(), signal="heterodyned").verdict != "mains-hum"


@pytest.mark.parametrize("signal", ["heterodyned", "direct"])
@pytest.mark.parametrize("mains", [50.06, 60.09])
def test_a_hum_may_be_of_three_lines(mains, signal):
    """What the mains shake moves as the square of the flux: twice a cycle, and at multiples of that alone."""
    t = sounds.times(8.0)
    lines = sum(np.cos(2 * np.pi * 2 * mains * k * t + k * k) for k in (1, 2, 3))
    judgement = verdict(sounds.listened(lines, 0.5), ElectricalState(round(mains, -1)), signal=signal)
    assert judgement.verdict == "mains-hum", judgement.probabilities


@pytest.mark.parametrize("second", [0.4, 0.9])
def test_corona_in_narrow_crowds_is_no_switch(second):
    """Pulses within 9 degrees of either crest of the voltage (1.2 ms), some 20 and 12 a cycle, each of another strength
    and shape: over nearly as soon as a click, but no two alike."""
    rng, rate, mains = np.random.default_rng(5), sounds.RATE, 50.05
    train = np.zeros(8 * rate)
    for degrees, often, strength in ((270, 20, 1.0), (90, 12, second)):
        cycle = np.repeat(np.arange(1, 399), rng.poisson(often, 398))
        at = (cycle + rng.normal(degrees, 9.0, len(cycle)) / 360) / mains
        np.add.at(train, (at * rate).astype(int), strength * rng.lognormal(0, 0.35, len(cycle)))
    ring = np.exp(-sounds.times(0.002) / 0.0002)
    sound = np.convolve(train, ring)[: len(train)] * sounds.noise(8.0, 6)
    assert verdict(sounds.listened(sound, 0.3), ElectricalState(50.0, 20_000.0, "sinusoidal")).verdict == "corona"


@pytest.mark.parametrize("both", [True, False])
def test_below_a_kilovolt_the_word_is_queried_and_the_urgency_stays(both):
    """Peek and Paschen: no corona on a sinusoidal supply below 1 kV; an inverter's surges can exceed it."""
    low = verdict(sounds.corona(both=both), ElectricalState(50.0, 400.0, "sinusoidal"))
    assert low.verdict in {"tracking", "arcing", "inconclusive"}
    assert "corona-not-expected" in {note.code for note in low.notes}
    high = verdict(sounds.corona(both=both), ElectricalState(50.0, 11_000.0, "sinusoidal"))
    assert sum(low.probabilities[v] for v in DISCHARGES) == pytest.approx(
        sum(high.probabilities[v] for v in DISCHARGES), abs=1e-4
    )
    assert verdict(sounds.corona(both=both), ElectricalState(50.0, 690.0, "inverter")).verdict == "corona"


def test_where_the_kind_is_open_the_discharge_is_still_told():
    """Arcing or tracking, who knows: that something discharges, and which two it may be, must be said all the same."""
    alike = verdict(sounds.arcing()).probabilities
    prior = {kind: 1 / max(p, 1e-6) if kind in ("tracking", "arcing") else 1.0 for kind, p in alike.items()}
    judgement = judge(Heard(sounds.arcing(), float(sounds.RATE)), ElectricalState(50.0), prior=_normal(prior))
    assert judgement.verdict == "inconclusive"
    note = next(note for note in judgement.notes if note.code == "discharge-of-open-kind")
    assert {note.args["first"], note.args["second"]} == {"tracking", "arcing"}


def _normal(weights):
    return {kind: weight / sum(weights.values()) for kind, weight in weights.items()}


def test_wide_band_recordings_are_judged_directly():
    assert verdict(sounds.corona(3.0, rate=192_000), rate=192_000.0, signal="direct").verdict == "corona"


@pytest.mark.parametrize("samples", [np.zeros(48_000), sounds.noise(0.3), []])
def test_what_shows_nothing_says_what_would(samples):
    judgement = verdict(samples)
    assert judgement.verdict == "inconclusive" and judgement.settle is not None


def test_a_spoiled_rhythm_spoils_the_verdict():
    judgement = verdict(sounds.corona(), spoiled=frozenset({"rhythm"}))
    assert judgement.verdict == "inconclusive" and judgement.settle.code == "electrical-rhythm-spoiled"


def test_a_spoiled_spectrum_leaves_the_beat():
    assert verdict(sounds.corona(), spoiled=frozenset({"spectrum"})).verdict == "corona"
    assert verdict(sounds.hum(), spoiled=frozenset({"spectrum"})).verdict != "mains-hum"


def test_the_pictures_show_the_lines_and_the_pattern():
    spectrum, phase = verdict(sounds.corona()).traces
    assert spectrum.form == "envelope-spectrum" and phase.form == "mains-phase"
    assert [mark["found"] for mark in spectrum.marks][1] is True
    assert spectrum.marks[1]["hz"] == pytest.approx(100.1, abs=0.05)
    assert len(phase.arrays["phase_deg"]) == len(phase.arrays["level"]) == len(phase.arrays["spread"])


@settings(max_examples=6, deadline=None)
@given(gain=st.floats(0.05, 8.0), turned=st.booleans(), truth=st.sampled_from(sorted(EXAMPLES)))
def test_gain_and_polarity_change_no_verdict(gain, turned, truth):
    samples = EXAMPLES[truth]() * np.float32(gain * (-1 if turned else 1))
    assert np.abs(samples).max() < 40  # floating point: nothing clips
    assert verdict(samples).verdict == truth


@pytest.mark.parametrize("truth", EXAMPLES)
def test_rate_depth_and_silence_at_the_ends_change_no_verdict(truth):
    import soxr

    samples = EXAMPLES[truth]()
    again = soxr.resample(samples, 48_000, 44_100)
    assert verdict(again, rate=44_100.0).verdict == truth
    full = np.abs(samples).max() * 1.01
    coarse = (np.round(samples / full * 2**15) / 2**15).astype(np.float32)
    fine = (np.round(samples / full * 2**23) / 2**23).astype(np.float32)
    assert verdict(coarse).verdict == verdict(fine).verdict == truth
    padded = np.concatenate([np.zeros(20_000, np.float32), samples, np.zeros(9_000, np.float32)])
    sounding = np.flatnonzero(padded)
    assert verdict(padded[sounding[0] : sounding[-1] + 1]).verdict == truth


def sparks(seconds: float, seed: int, mains: float = 50.05) -> np.ndarray:
    """Four sparks a second of some tens of milliseconds, 26 dB over the receiver's noise."""
    rng = np.random.default_rng(seed)
    t = sounds.times(seconds)
    level = np.zeros(len(t))
    for at in rng.uniform(0, seconds, round(4 * seconds)):
        level[(t > at) & (t < at + rng.uniform(0.02, 0.12))] = 1.0
    return sounds.listened(level * ((2 * mains * t) % 1.0 > 0.4) * sounds.noise(seconds, seed), 0.05, seed)


@pytest.mark.parametrize("seconds", [1.3, 1.8, 2.3])
def test_loud_bursts_in_a_short_recording_are_not_denied(seconds):
    """They may be a latch's or a spark's; whoever opens the panel on "nothing heard" would find out."""
    for seed in range(6):
        judgement = verdict(sparks(seconds, seed))
        assert judgement.verdict in DISCHARGES | {"inconclusive"}, judgement.probabilities
    assert verdict(sounds.listened(sounds.noise(seconds))).verdict == "no-discharge-heard"


@pytest.mark.parametrize("below_db", [25.0, 35.0])
def test_lines_that_nobody_hears_beneath_a_hiss_are_no_hum(below_db):
    """A rectifier's ripple, or the recorder's own supply, 25 dB and more under what is heard."""
    t = sounds.times(10)
    hiss = sounds.noise(10)
    lines = sum(np.cos(2 * np.pi * (900 + 100 * k) * t + k * k) for k in range(40))
    sound = hiss / hiss.std() + lines / lines.std() * 10 ** (-below_db / 20)
    assert verdict(0.1 * sound).verdict in ("no-discharge-heard", "inconclusive")
