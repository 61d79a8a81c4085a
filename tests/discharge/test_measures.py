"""The numbers behind the verdict, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from earwitness.hearing.discharge_course import _breadth, _bursts, _cracks, _seconds, _starts, _unsteadiness
from earwitness.hearing.discharge_measures import LOCKED_DB, _comb, _listen, _together_db
from earwitness.hearing.discharge_pulses import _of_noise
from earwitness.sound.mains_phase import envelope_spectrum, mains_lock
from earwitness.sound.modulation import modulation
from tests.discharge import sounds


def seen_through_frames(hz: float) -> float:
    """What a Hann frame of 64 samples leaves of a beat: the transform of the squared window."""
    window = np.hanning(64) ** 2
    return float(abs(np.sum(window * np.exp(-2j * np.pi * hz / sounds.RATE * np.arange(64)))) / window.sum())


@pytest.mark.parametrize("depth", [0.25, 0.5, 1.0])
def test_line_of_modulated_noise(depth):
    """(1 + m·cos)·noise: squared envelope over its mean 2m/(1+m²/2), at twice that frequency (m²/2)/(1+m²/2)."""
    sound = modulation(sounds.beaten(100.0, depth, 20.0), float(sounds.RATE))
    spectrum = envelope_spectrum(sound.bands.mean(axis=1), sound.frame_hz)
    first = spectrum.amplitude[np.abs(spectrum.hz - 100.0) < 0.2].max()
    second = spectrum.amplitude[np.abs(spectrum.hz - 200.0) < 0.2].max()
    assert first == pytest.approx(2 * depth / (1 + depth**2 / 2) * seen_through_frames(100.0), rel=0.05)
    assert second == pytest.approx(depth**2 / 2 / (1 + depth**2 / 2) * seen_through_frames(200.0), abs=0.02)


def test_noise_has_a_power_of_one_over_its_noise():
    spectrum = envelope_spectrum(sounds.noise(10, 8, 2000).astype(np.float32), 2000.0)
    inside = (spectrum.hz > 20) & (spectrum.hz < 900)
    assert spectrum.power[inside].mean() == pytest.approx(1.0, abs=0.1)


def test_lines_that_are_faint_each_tell_together_and_noise_hardly_more_often_than_before():
    """Two of 9.5 dB, each 8.9 times the noise: 17.8 in all, as rare as a line of 13.8 (gamma of two, three pairs)."""
    faint = _together_db([9.5, 9.5, -20.0])
    assert faint == pytest.approx(10 * np.log10(13.8), abs=0.1) and faint > LOCKED_DB
    assert _together_db([15.0, -20.0, -20.0]) == pytest.approx(15.0)
    lines = np.sort(np.random.default_rng(0).exponential(1.0, (20_000, 3)), axis=1)[:, ::-1]
    told = np.array([_together_db(list(row)) for row in 10 * np.log10(lines)])
    alone, together = (np.mean(x > 10 * np.log10(5.0)) for x in (10 * np.log10(lines[:, 0]), told))
    assert alone <= together < 1.6 * alone


def test_a_tone_is_taken_out_and_the_beat_of_the_noise_stays():
    t = sounds.times(6)
    beaten = sounds.beaten(100.0, 0.5, 6.0) + (0.2 * np.cos(2 * np.pi * 5000.0 * t)).astype(np.float32)
    sound = modulation(beaten, float(sounds.RATE))
    assert sound.lines.hz[0] == pytest.approx(5000.0, abs=0.2)
    assert sound.lines.total == pytest.approx(0.02 / 0.0225, abs=0.02)
    lock = mains_lock(envelope_spectrum(sound.common, sound.frame_hz), [50.0])
    assert lock.mains_hz == pytest.approx(50.0, abs=0.02) and lock.over_noise_db > 25


def test_the_skirt_of_a_line_outside_the_tolerance_is_no_line():
    """98.3 Hz, 1.7 % under twice 50 Hz, in 1.5 s: its skirt reaches into ±1 %."""
    level = (1 + 0.5 * np.cos(2 * np.pi * 98.3 * sounds.times(1.5, 2000))).astype(np.float32)
    lock = mains_lock(envelope_spectrum(level + 0.001 * sounds.noise(1.5, 9, 2000).astype(np.float32), 2000.0), [50.0])
    assert lock.over_noise_db < 3.0


def test_a_long_recording_keeps_its_pattern_though_the_mains_wander():
    from earwitness.hearing.discharge import ElectricalState, judge
    from earwitness.hearing.heard import Heard

    rate = 8000
    t = sounds.times(60, rate)
    mains = 50.0 + 0.02 * np.sin(2 * np.pi * t / 40)
    voltage = np.sin(2 * np.pi * np.cumsum(mains) / rate)
    sound = sounds.listened(np.sqrt(np.maximum(np.abs(voltage) - 0.5, 0)) * sounds.noise(60, 7, rate))
    judgement = judge(Heard(sound, float(rate)), ElectricalState(50.0))
    assert judgement.verdict == "corona"
    assert judgement.measured["depth"] > 8.0


def test_breadth_of_closed_forms():
    """1 + cos over one cycle: mean 1, peak 2, least 0. A raised cosine to the fourth: mean 3/8 of the peak."""
    phase = 2 * np.pi * (np.arange(36) + 0.5) / 36
    sine = _breadth(np.log(1.0001 + np.cos(phase)).astype(np.float32))
    narrow = _breadth(np.log(1e-4 + ((1 + np.cos(phase)) / 2) ** 2).astype(np.float32))
    assert sine == pytest.approx(0.5, abs=0.02)
    assert narrow == pytest.approx(3 / 8, abs=0.02)


def test_two_powers_of_noise_differ_as_their_freedom_says():
    """Sums of so many independent exponential powers, drawn."""
    free = np.array([2.0, 4.0, 12.0])
    power = np.random.default_rng(2).gamma(free, size=(40_000, 3))
    assert _of_noise(free) == pytest.approx(np.median(np.abs(np.diff(np.log(power), axis=0)), axis=0), rel=0.06)


def test_the_crest_of_a_discharge_differs_as_noise_does_and_that_of_clicks_less():
    assert _listen(sounds.corona(), 48_000.0, (50.0,), False).numbers["anew"] == pytest.approx(1.0, abs=0.12)
    for over_db in (6.0, 14.0):
        numbers = _listen(sounds.dimmer(over_db=over_db), 48_000.0, (50.0,), False).numbers
        assert numbers["anew"] < 0.8 and numbers["crest"] < 1.0
        assert numbers["depth"] > 9.0  # though lines were taken out, whose ends are none of the sound


@pytest.mark.parametrize("rate", [8_000, 48_000])
def test_a_faint_steady_beat_is_neither_unsteady_nor_struck(rate):
    """At 8,000 samples a second a sub-band is as narrow as the frames' window: what neighbours share is no burst."""
    t = sounds.times(8.0, rate)
    sound = sounds.listened((1 + 0.15 * np.cos(2 * np.pi * 100.1 * t)) * sounds.noise(8.0, 13, rate))
    numbers = _listen(sound, float(rate), (50.0,), False).numbers
    assert numbers["lock"] > 11.0
    assert numbers["unsteady"] < 0.6
    assert numbers["starts"] < 0.5


def test_starts_are_counted_and_falls_and_slow_growth_are_not():
    strength = np.full(400, 0.1, np.float32)
    strength[50:60] = strength[150:190] = strength[300:304] = 3.0
    assert _starts(strength, 0.05) == 3
    saw = np.tile(np.linspace(0.1, 3.0, 100), 4).astype(np.float32)
    assert _starts(saw, 0.05) == 0
    assert _starts(saw[::-1].copy(), 0.05) == 3


def test_what_starts_again_faintly_is_not_struck():
    """A tenth of its full strength at once, then growth: no start."""
    creeping = np.tile(np.concatenate([np.full(20, 0.01), np.geomspace(0.3, 3.0, 80)]), 4).astype(np.float32)
    assert _starts(creeping, 0.02) == 0


def test_slow_growth_and_a_sudden_end_are_seen_within_two_seconds():
    """Grows eightfold in 0.9 s and lets go, twice; turned round it is the reverse."""
    saw = np.tile(np.geomspace(0.1, 0.8, 45), 3).astype(np.float32)[:100]
    grows, shrinks = (_seconds(course, 50.0)["let-go"] for course in (saw, saw[::-1].copy()))
    assert grows > 0.5
    assert shrinks == pytest.approx(-grows, abs=0.05)


@pytest.mark.parametrize(
    ("shape", "lasts", "middle"),
    [
        (lambda t: np.where(t < 0.08, 1.0, 0.0), 80.0, 0.5),  # burns on and is over
        (lambda t: np.exp(-t / 0.03), 69.0, 0.32),  # to a tenth: ln 10 time constants; middle 1/ln 10 - 1/9
    ],
)
def test_a_burst_that_burns_on_and_one_that_fades(shape, lasts, middle):
    t = sounds.times(4.0)
    power = 100 * shape(t % 0.5) + 0.3
    sound = modulation(sounds.listened(np.sqrt(power) * sounds.noise(4, 5)), float(sounds.RATE))
    numbers = _bursts(sound, _cracks(sound))
    assert numbers["lasts"] == pytest.approx(lasts, rel=0.15)
    assert numbers["burns-on"] == pytest.approx(middle, abs=0.05)


@pytest.mark.parametrize(
    ("shape", "least", "most"),
    [
        (lambda t: np.where(t < 0.08, 1.0, 0.0), 0.8, 1.05),  # there and gone
        (lambda t: np.exp(-t / 0.03), 0.0, 0.35),  # a blow: over 13.5 ms it loses 2 dB
        (lambda t: np.sin(np.pi * np.clip(t / 0.15, 0, 1)) ** 2, 0.0, 0.5),  # a syllable
        (lambda t: np.where(t < 0.2, np.exp(20 * (t - 0.2)), 0.0), 0.0, 0.4),  # grows, and lets go at once
    ],
)
def test_a_spark_gains_and_loses_its_height_at_once(shape, least, most):
    t = sounds.times(4.0)
    power = 100 * shape(t % 0.5) + 0.3
    numbers = _listen(sounds.listened(np.sqrt(power) * sounds.noise(4, 5)), float(sounds.RATE), (50.0,), False).numbers
    assert least <= numbers["edges"] <= most


def test_what_burns_seldom_is_no_steadier_than_what_burns_often():
    """Alight in one cycle of twelve or of three: variation over mean is the root of (1 - share) / share."""
    for share, expected in ((1 / 12, 11**0.5), (1 / 3, 2**0.5)):
        strength = np.tile(np.eye(1, round(1 / share), dtype=np.float32)[0], 60) / share
        clipped = np.clip(strength, -6.0, 6.0)
        assert _unsteadiness(clipped, clipped) == pytest.approx(expected, rel=0.01)


def test_what_only_fades_lets_nothing_go():
    """Steady for 1.5 s, then softer and softer in as long: in dB it falls the faster the softer it is."""
    fades = np.concatenate([np.full(75, 1.6), np.linspace(1.6, 0, 76)[:75]]).astype(np.float32)
    assert abs(_seconds(fades, 50.0)["let-go"]) < 0.05


def test_the_sub_bands_lie_where_the_sound_is():
    """A receiver's audio to 3.5 kHz in a recording at 48 kHz: what the rest holds is 40 dB softer, and no band's."""
    wide = sounds.noise(4.0, 21)
    hz = np.fft.rfftfreq(len(wide), 1 / sounds.RATE)
    sound = np.fft.irfft(np.fft.rfft(wide) / np.sqrt(1 + (hz / 3500.0) ** 10), len(wide))
    edges = modulation(sounds.listened(sound, floor=0.004), float(sounds.RATE)).edges_hz
    assert 3 <= len(edges) - 1 <= 9
    assert np.median(edges) < 3500.0


def test_a_step_is_a_crack_and_a_swell_is_not():
    t = sounds.times(4.0)
    step = np.where((t % 1.0 > 0.5) & (t % 1.0 < 0.6), 3.0, 0.3)
    swell = 0.3 + 2.7 * np.sin(np.pi * t) ** 2
    sharp, soft = (
        modulation(sounds.listened(level * sounds.noise(4, 3)), float(sounds.RATE)) for level in (step, swell)
    )
    assert len(_cracks(sharp)) == 4
    assert len(_cracks(soft)) == 0


def test_lines_of_a_hum_come_in_a_row_and_a_beepers_do_not():
    """The harmonics of 1596.0 Hz, folded about an oscillator: pairs that stand whole multiples of 100 Hz apart."""
    hum = np.array([200.0, 300, 400, 500, 600, 700, 3333], np.float32)
    assert _comb(hum, np.ones(7, np.float32), 100.0)[1] > 3.5
    beeper = np.array([109.2, 1487.2, 1704.8, 3083.1, 3300.7, 4679.1, 4896.7, 6141.1], np.float32)
    assert _comb(beeper, np.ones(8, np.float32), 100.0)[1] == 0.0


def test_a_rhythm_of_its_own_is_no_lock():
    """Beeps eight times a second: their rhythm has a line every 8 Hz, and one of them stands near twice the mains."""
    beeps = (sounds.times(8.0) * 8.004) % 1.0 < 0.3
    numbers = _listen(sounds.listened(beeps * sounds.noise(8, 6)), float(sounds.RATE), (50.0, 60.0), False).numbers
    assert numbers["foreign-lines"] >= 5
    assert numbers["lock"] < 0


@pytest.mark.parametrize("mains", [49.9, 50.25, 60.09])
def test_three_harmonics_of_twice_the_mains_are_beyond_chance(mains):
    """Of three lines in a row 0.06 would fall within 1 Hz of a multiple of 100 Hz by chance, with some five looks."""
    hz = 2 * mains * np.array([1, 2, 3], np.float32)
    assert _comb(hz, np.ones(3, np.float32), 2 * round(mains, -1))[1] > 3.5


def test_a_tone_with_one_pair_of_sidebands_is_within_chance():
    """Any two lines an equal distance from a third fit a spacing: a supply's whine with its ripple."""
    hz = np.array([2114.9, 2215.1, 2315.3], np.float32)
    assert _comb(hz, np.array([0.1, 1, 0.1], np.float32), 100.0)[1] < 3.5


def test_far_off_tones_do_not_hide_that_a_grid_strays():
    """50.22 Hz: nine harmonics of 100.44 Hz, and a row about a tone at 36.5 kHz which the sensor hears as well."""
    hz = np.concatenate([100.44 * np.arange(1, 10), 36_468 + 100.44 * np.arange(5)]).astype(np.float32)
    lines, beyond = _comb(hz, np.ones(14, np.float32), 100.0)
    assert beyond > 6.0 and lines[:9].all()


def test_a_row_in_the_ultrasound_shows_though_the_grid_strays():
    """60.27 Hz: a part that rings at 48 kHz, in lines 120.54 Hz apart, none of them counted from zero."""
    hz = (47_010.7 + 120.54 * np.arange(20)).astype(np.float32)
    assert _comb(hz, np.ones(20, np.float32), 120.0)[1] > 7.0
