"""The emitter's tone grows and fades at a passage; what stays the same along the sweep is none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from earwitness.hearing.heard import Heard
from earwitness.hearing.seal import judge

RATE = 16_000.0
T = np.arange(round(10 * RATE)) / RATE


def noise(seed: int = 0, rms: float = 0.02) -> np.ndarray:
    return rms * np.random.default_rng(seed).standard_normal(len(T))


def passage(*at_s: float, width_s: float = 0.8) -> np.ndarray:
    return np.sqrt(sum(1 / (1 + ((T - at) / (width_s / 2)) ** 2) for at in at_s))


def beating(hz: float = 2350.0, beat_hz: float = 3.0, duty: float = 0.5) -> np.ndarray:
    return np.sin(2 * np.pi * hz * T) * ((T * beat_hz) % 1.0 < duty)


def warbling(hz: float = 2350.0, beat_hz: float = 4.0) -> np.ndarray:
    return np.sin(2 * np.pi * np.cumsum(hz + 300.0 * ((T * beat_hz) % 1.0 < 0.5)) / RATE)


def swept(hz: float = 2000.0, beat_hz: float = 2.0) -> np.ndarray:
    return np.sin(2 * np.pi * np.cumsum(hz + 600.0 * np.abs(2 * ((T * beat_hz) % 1.0) - 1)) / RATE)


def heard(samples: np.ndarray, **more) -> Heard:
    return Heard(samples.astype(np.float32), RATE, **more)


@pytest.mark.parametrize("emitter", [beating, warbling, swept])
def test_the_tone_at_one_place_is_one_passage(emitter):
    judgement = judge(heard(noise() + 0.1 * emitter() * passage(6.2)))
    assert judgement.verdict == "passage"
    assert len(judgement.places) == 1
    assert judgement.places[0].at_s == pytest.approx(6.2, abs=0.4)
    assert judgement.places[0].width_s is not None and judgement.places[0].width_s < 3.0


def test_two_close_places_are_two():
    judgement = judge(heard(noise() + 0.15 * beating(beat_hz=6.0) * passage(4.0, 6.0, width_s=0.5)))
    assert [place.at_s for place in judgement.places] == pytest.approx([4.0, 6.0], abs=0.4)


@pytest.mark.parametrize("width_s", [0.4, 0.6])
@pytest.mark.parametrize("apart_s", [1.2, 1.6, 2.4])
def test_two_close_places_of_a_tone_that_does_not_beat_are_two(width_s, apart_s):
    """A probe goes into a place and out of it smoothly: what lies between two is no gap of a beat."""
    at = [5.0 - apart_s / 2, 5.0 + apart_s / 2]
    judgement = judge(heard(noise() + 0.15 * np.sin(2 * np.pi * 2350 * T) * passage(*at, width_s=width_s / 2) ** 2))
    assert [place.at_s for place in judgement.places] == pytest.approx(at, abs=0.2)


@pytest.mark.parametrize("rate_hz", [11_025, 22_050])
def test_a_recording_of_one_value_all_along_is_no_passage(rate_hz):
    """An input that is open: there is no noise to hold anything against."""
    flat = np.full(round(7.03 * rate_hz), 0.1, np.float32)
    assert judge(Heard(flat, rate_hz, signal="heterodyned")).verdict == "no-passage-heard"


@pytest.mark.parametrize("emitter", [beating, swept])
def test_puffs_neither_split_a_place_nor_make_one(emitter):
    puffs = 1 + 12 * ((T + 0.3) % 1.3 < 0.35)
    judgement = judge(heard(noise() * puffs + 0.1 * emitter() * passage(6.2)))
    assert [place.at_s for place in judgement.places] == pytest.approx([6.2], abs=0.4)


@pytest.mark.parametrize("emitter", [beating, warbling, swept])
def test_a_tone_that_is_the_same_all_along_comes_through_the_wall(emitter):
    judgement = judge(heard(noise() + 0.05 * emitter()))
    assert judgement.verdict == "no-passage-heard"
    assert not judgement.places


@pytest.mark.parametrize("beat_hz", [0.83, 1.3, 1.7, 2.3])
@pytest.mark.parametrize("loud", [0.01, 0.3])
def test_however_a_tone_beats_that_is_the_same_all_along_it_comes_through_the_wall(beat_hz, loud):
    """Windows that hold one beat and a half rise and fall with the beat, switched lines have skirts; the wall has
    neither."""
    for tone in (beating(1800.0, beat_hz, 0.4), warbling(1400.0, beat_hz)):
        assert judge(heard(noise() + loud * tone)).verdict == "no-passage-heard"


@pytest.mark.parametrize("seed", range(4))
def test_a_melody_is_no_passage(seed):
    """Notes come and go at different times; an emitter's tones at the same places."""
    rng = np.random.default_rng(seed)
    sound = noise()
    for start in np.arange(0.0, 10.0, 0.6):
        hz, length = 220.0 * 2 ** (rng.integers(0, 18) / 12), rng.uniform(0.3, 0.9)
        since = np.clip((T - start) / length, 0, 1)
        sound += 0.01 * np.sin(np.pi * since) * sum(np.sin(2 * np.pi * k * hz * T) / k for k in (1, 2, 3))
    assert judge(heard(sound)).verdict != "passage"


def test_a_passage_on_top_of_the_wall_is_found():
    judgement = judge(heard(noise() + 0.02 * beating() + 0.2 * beating() * passage(3.0)))
    assert judgement.verdict == "passage"
    assert judgement.places[0].at_s == pytest.approx(3.0, abs=0.4)


def test_a_reversing_beeper_is_no_passage():
    beeps = sum(np.sin(2 * np.pi * order * 1250 * T) / order for order in (1, 2, 3)) * ((T * 1.1) % 1.0 < 0.5)
    assert judge(heard(noise() + 0.1 * beeps)).verdict == "no-passage-heard"


def test_a_whine_is_no_passage():
    assert judge(heard(noise() + 0.1 * np.sin(2 * np.pi * 3210 * T))).verdict == "no-passage-heard"


def test_a_leak_on_the_way_is_no_passage_of_the_tone():
    assert judge(heard(noise() * (1 + 8 * passage(5.0)))).verdict == "no-passage-heard"


def faint(seed: int, to_noise_db: float | None, beat_hz: float = 0.0) -> np.ndarray:
    """White noise and a place of 2 s at 5 s, its tone at to_noise_db in a band of 200 Hz."""
    sound = np.random.default_rng(seed).standard_normal(len(T))
    if to_noise_db is not None:
        tone = np.sin(2 * np.pi * 2718.0 * T) if not beat_hz else beating(2718.0, beat_hz, 0.6)
        sound += np.sqrt(2 * 200 / (RATE / 2) * 10 ** (to_noise_db / 10)) * tone * passage(5.0, width_s=2.0)
    return 0.05 * sound


def test_a_single_place_is_found_at_6_db_under_the_noise_of_200_hz():
    found = [judge(heard(faint(seed, -6.0))) for seed in range(24)]
    places = [j.places for j in found if j.verdict == "passage"]
    assert len(places) >= 19
    assert sum(len(p) == 1 and abs(p[0].at_s - 5.0) < 0.5 for p in places) >= 16


def test_a_beating_tone_is_found_at_the_level_of_the_noise_of_200_hz():
    found = [judge(heard(faint(seed, 0.0, beat_hz=3.0))) for seed in range(12)]
    assert sum(j.verdict == "passage" and len(j.places) == 1 for j in found) >= 10


@pytest.mark.parametrize(("seconds", "span_hz"), [(0.4, 1500.0), (1.5, 1200.0), (3.0, 2000.0)])
def test_a_tone_that_is_swept_over_a_kilohertz_is_found_at_4_db(seconds, span_hz):
    turn = (T / seconds) % 1.0
    tone = np.sin(2 * np.pi * np.cumsum(1000.0 + span_hz * np.abs(2 * turn - 1)) / RATE)
    loud = np.sqrt(2 * 200 / (RATE / 2) * 10 ** (4.0 / 10))
    sounds = [np.random.default_rng(seed).standard_normal(len(T)) + loud * tone * passage(5.0) for seed in range(4)]
    found = [judge(heard(0.05 * sound)) for sound in sounds]
    assert sum(j.verdict == "passage" and abs(j.places[0].at_s - 5.0) < 0.5 for j in found) >= 3


def test_a_passage_is_found_beside_a_beeper_of_ten_tones():
    beeper = sum(np.sin(2 * np.pi * hz * T) for hz in np.arange(500.0, 7000.0, 650.0)) * (T % 1.0 < 0.5)
    j = judge(heard(noise() + 0.02 * beeper + 0.03 * beating(hz=2800.0) * passage(5.0)))
    assert j.verdict == "passage"
    assert abs(j.places[0].at_s - 5.0) < 0.5


def test_a_whine_close_beside_it_does_not_hide_a_passage():
    """190 Hz away, 6 dB louder and never the same for long; it does not beat with the emitter."""
    wavers = 1 + 0.2 * np.sin(2 * np.pi * 0.3 * T)
    whine = wavers * np.sin(2 * np.pi * np.cumsum(2160 + 4 * np.sin(2 * np.pi * 0.2 * T)) / RATE)
    j = judge(heard(noise() + 0.1 * whine + 0.05 * beating(hz=2350.0, beat_hz=1.1) * passage(5.0, width_s=1.0)))
    assert j.verdict == "passage"
    assert abs(j.places[0].at_s - 5.0) < 0.6


def test_knocks_do_not_flatten_a_passage():
    knocks = np.zeros(len(T))
    knocks[np.random.default_rng(3).integers(0, len(T), 30)] = 30.0
    clicks = np.convolve(knocks, np.exp(-np.arange(160) / 20) * np.cos(np.arange(160)))[: len(T)]
    j = judge(heard(noise() + clicks * 0.05 + 0.05 * beating() * passage(5.0)))
    assert j.verdict == "passage"


def test_a_sleeve_that_rustles_is_no_passage():
    rng = np.random.default_rng(4)
    low = np.convolve(rng.standard_normal(len(T)), np.ones(8) / 8, "same")
    burst = np.exp(-(((T - 6.0) / 0.2) ** 2))
    assert judge(heard(noise() + 0.3 * low * burst)).verdict != "passage"


def wind(seed: int, rms: float = 0.15) -> np.ndarray:
    """Noise below some 200 Hz, in gusts."""
    hz = np.fft.rfftfreq(len(T), 1 / RATE)
    rumble = np.fft.irfft(np.fft.rfft(noise(seed, 1.0)) / (1 + (hz / 200) ** 4), len(T))
    return rms * rumble / np.sqrt(np.mean(rumble**2)) * passage(2.5, 7.5, width_s=1.5)


@pytest.mark.parametrize("seed", range(6))
def test_wind_is_no_passage_and_hides_none(seed):
    assert judge(heard(noise(seed + 40) + wind(seed))).verdict != "passage"
    passed = judge(heard(noise(seed + 40) + wind(seed) + 0.05 * beating() * passage(6.2)))
    assert [place.at_s for place in passed.places] == pytest.approx([6.2], abs=0.4)


def test_an_emitter_that_drifts_is_heard_at_both_places():
    drifting = np.sin(2 * np.pi * np.cumsum(2200.0 + 15.0 * T) / RATE)
    j = judge(heard(noise() + 0.05 * drifting * (passage(2.0) + passage(8.0))))
    assert j.verdict == "passage"
    assert [round(p.at_s) for p in j.places] == [2, 8]


def test_noise_alone_is_hardly_ever_called_a_passage():
    assert sum(judge(heard(faint(seed, None))).verdict == "passage" for seed in range(40)) <= 1


def test_knocks_that_ring_at_one_frequency_are_no_passage():
    rng = np.random.default_rng(3)
    sound = noise()
    for at in rng.uniform(4.0, 6.0, 12):
        start = round(at * RATE)
        t = T[: round(0.1 * RATE)]
        sound[start : start + len(t)] += 0.5 * np.exp(-t / 0.01) * np.sin(2 * np.pi * 2200 * t)
    assert judge(heard(sound)).verdict != "passage"


def test_a_tone_that_fades_in_with_everything_else_is_no_passage():
    course = passage(5.0, width_s=0.5) ** 3
    assert judge(heard((noise() + 0.02 * np.sin(2 * np.pi * 1500 * T)) * course)).verdict != "passage"


def test_a_chord_that_swells_is_no_passage():
    lines = sum(np.sin(2 * np.pi * hz * T) for hz in (440.0, 660.0, 1980.0, 3960.0, 5280.0))
    assert judge(heard(noise() + 0.05 * lines * passage(5.0))).verdict != "passage"


def test_a_warble_and_a_beat_that_nearly_keep_step_come_through_the_wall_all_the_same():
    warble = np.sin(2 * np.pi * np.cumsum(2000.0 + 100.0 * np.sin(2 * np.pi * 4.0 * T)) / RATE)
    assert judge(heard(noise() + 0.1 * warble * ((T * 4.1) % 1.0 < 0.5))).verdict != "passage"


def test_noise_alone_is_no_is_no_passage_and_the_emitter_is_asked_for():
    judgement = judge(heard(noise()))
    assert judgement.verdict == "no-passage-heard"
    assert "seal-emitter-on" in {note.code for note in judgement.notes}


def test_the_level_is_told_against_the_open_enclosure_and_never_as_a_size():
    sound = heard(noise() + 0.1 * beating() * passage(6.2), level_db=41.0, reference_db=60.0)
    judgement = judge(sound)
    assert judgement.measured["relative-to-open-db"] == pytest.approx(-19.0)
    note = next(note for note in judgement.notes if note.code == "seal-against-open")
    assert "19 dB below" in note.text and "mm" not in note.text


def test_too_short_or_spoiled_is_inconclusive_with_what_would_settle_it():
    short = heard(noise()[: round(RATE)])
    low = Heard(noise()[::20].astype(np.float32), RATE / 20)  # no emitter sounds below 400 Hz
    for sound in (short, low, heard(noise(), spoiled=frozenset({"spectrum"}))):
        judgement = judge(sound)
        assert judgement.verdict == "inconclusive"
        assert judgement.settle is not None


CASES = {
    "passage": heard(noise() + 0.1 * beating() * passage(6.2)),
    "wall": heard(noise() + 0.05 * beating()),
    "noise": heard(noise()),
}


@settings(max_examples=10, deadline=None)
@given(name=st.sampled_from(sorted(CASES)), gain_db=st.floats(-40, 6), flip=st.booleans(), silence=st.floats(0, 1.5))
def test_gain_polarity_and_silence_at_the_ends_change_no_verdict(name, gain_db, flip, silence):
    case = CASES[name]
    quiet = np.zeros(round(silence * RATE), np.float32)
    changed = case.samples * np.float32(10 ** (gain_db / 20) * (-1 if flip else 1))
    assert judge(replace(case, samples=np.concatenate([quiet, changed, quiet]))).verdict == judge(case).verdict


@pytest.mark.parametrize("name", sorted(CASES))
def test_resampling_and_bit_depth_change_no_verdict(name):
    import soxr

    case = CASES[name]
    up = soxr.resample(case.samples, 16_000, 48_000).astype(np.float32)
    for rate in (44_100, 48_000):
        changed = replace(case, samples=soxr.resample(up, 48_000, rate).astype(np.float32), rate_hz=float(rate))
        assert judge(changed).verdict == judge(case).verdict
    coarse = replace(case, samples=(np.rint(case.samples * 2**15) / 2**15).astype(np.float32))
    assert judge(coarse).verdict == judge(case).verdict


def talk(seed: int) -> np.ndarray:
    """Syllables of a tenth to three tenths of a second: partials of a pitch that glides, up to 4 kHz, and pauses."""
    rng, sound, at = np.random.default_rng(seed), np.zeros(len(T)), 0.2
    while at < T[-1]:
        long = rng.uniform(0.1, 0.3)
        said = (at <= T) & (at + long > T)
        since = (T[said] - at) / long
        pitch = rng.uniform(110, 190) * (1 + rng.uniform(-0.15, 0.15) * since)
        phase, formants = 2 * np.pi * np.cumsum(pitch) / RATE, rng.uniform(300, 3600, 3)
        for k in range(2, int(4000 / pitch.max())):
            loud = np.exp(-np.min(np.abs(k * pitch.mean() - formants)) / 500)
            sound[said] += loud * np.sin(k * phase) * np.sin(np.pi * since)
        at += long * rng.uniform(1.1, 1.5) + (rng.random() < 0.3) * rng.exponential(0.6)
    return sound / sound.std()


@pytest.mark.parametrize("seed", range(1, 5))
def test_somebody_who_talks_all_along_neither_hides_a_passage_nor_makes_one(seed):
    talked = noise(seed) + 0.03 * talk(seed)
    assert judge(heard(talked)).verdict == "no-passage-heard"
    assert judge(heard(talked + 0.04 * passage(2.5, 7.0) * beating())).verdict == "passage"


def chirping(slope: float, low: float = 1000.0, high: float = 5000.0) -> np.ndarray:
    """A tone that runs from the one frequency to the other again and again [Hz/s]."""
    return np.sin(2 * np.pi * np.cumsum(low + (slope * T) % (high - low)) / RATE)


@pytest.mark.parametrize("slope", [6_000.0, 12_000.0, 18_000.0])
def test_an_emitter_that_runs_through_kilohertz_in_no_time_is_heard(slope):
    judgement = judge(heard(noise() + 0.03 * chirping(slope) * passage(4.0)))
    assert judgement.verdict == "passage"
    assert len(judgement.places) == 1
    assert judgement.places[0].at_s == pytest.approx(4.0, abs=0.5)
    assert judge(heard(noise() + 0.03 * chirping(slope))).verdict != "passage"


@pytest.mark.parametrize("seed", range(3))
def test_a_machine_whose_speed_drifts_is_no_passage_and_hides_none(seed):
    drift = np.interp(T, np.linspace(0, T[-1], 5), np.random.default_rng(seed).uniform(-60, 60, 5))
    whine = 0.03 * np.sin(2 * np.pi * np.cumsum(3300.0 + drift) / RATE)
    assert judge(heard(noise(seed) + whine)).verdict == "no-passage-heard"
    assert judge(heard(noise(seed) + whine + 0.03 * passage(6.0) * beating(1200.0))).verdict == "passage"


def test_a_beeper_whose_beat_only_one_of_its_tones_shows_is_no_passage():
    nearing = 1 / np.sqrt(1 + ((T - 9.0) / 2.0) ** 2)
    beeps = (T % 1.0 < 0.5) * nearing
    sound = 0.05 * beeps * np.sin(2 * np.pi * 1900.0 * T) + 0.004 * beeps * np.sin(2 * np.pi * 5700.0 * T)
    assert judge(heard(noise() + sound)).verdict != "passage"


def music(seed: int, lowest_hz: float = 220.0) -> np.ndarray:
    """Notes of three partials, a third of a second each, that begin and end at once."""
    rng, sound = np.random.default_rng(seed), np.zeros(len(T))
    for start in np.arange(0.0, T[-1], 0.3):
        hz, played = lowest_hz * 2 ** (rng.integers(0, 18) / 12), (start <= T) & (start + 0.28 > T)
        sound += played * sum(np.sin(2 * np.pi * k * hz * T) / k for k in (1, 2, 3))
    return sound


@pytest.mark.parametrize("seed", range(3))
def test_music_that_plays_on_neither_hides_a_passage_far_from_it_nor_makes_one(seed):
    """It is as loud when the probe is elsewhere."""
    sound = noise(seed) + 0.01 * music(seed)
    assert judge(heard(sound)).verdict != "passage"
    judgement = judge(heard(sound + 0.05 * swept(5000.0) * passage(6.0)))
    assert judgement.verdict == "passage"
    assert [place.at_s for place in judgement.places] == pytest.approx([6.0], abs=0.4)


@pytest.mark.parametrize("hz", [4300.0, 6100.0])
def test_a_whine_that_drifts_comes_and_goes_at_no_time(hz):
    """It leaves each of its own few hertz, and sounds all the time."""
    whine = np.sin(2 * np.pi * np.cumsum(hz + 40.0 * np.sin(2 * np.pi * T / 13)) / RATE)
    sound = noise() + 0.1 * whine
    assert judge(heard(sound)).verdict == "no-passage-heard"
    assert judge(heard(sound + 0.03 * warbling(1800.0) * passage(5.0, width_s=0.5))).verdict == "passage"


@pytest.mark.parametrize("slope", [10_000.0, 14_000.0, 18_000.0])
def test_an_emitter_that_runs_through_all_that_is_heard_is_told_at_its_places_whatever_plays(slope):
    """It leaves each band before it is told from a knock there, and is company of nobody, least of all of itself."""
    wide, around = 0.12 * chirping(slope, 1000.0, 7000.0), noise() + 0.01 * music(2)
    judgement = judge(heard(around + wide * passage(3.0, 7.0, width_s=0.6) ** 2))
    assert judgement.verdict == "passage"
    assert [place.at_s for place in judgement.places] == pytest.approx([3.0, 7.0], abs=0.4)
    assert judgement.places[0].level_db == pytest.approx(28.6, abs=5.0)  # 0.12²/2 over 0.02² · 200/8000, smoothed
    assert judge(heard(around + wide)).verdict != "passage"  # all along: through the wall


def test_a_note_that_sounded_when_the_recording_began_is_no_passage():
    """Its end is as sharp as its beginning was."""
    note = (T < 0.3) * (np.sin(2 * np.pi * 3900 * T) + np.sin(2 * np.pi * 1300 * T))
    assert judge(heard(noise() + 0.03 * note + 0.01 * music(5) * (T > 0.3))).verdict != "passage"


@pytest.mark.parametrize(("hz", "lasts_s"), [(167.0, 0.6), (167.0, 1.0), (200.0, 1.0)])
def test_a_note_of_many_partials_that_is_struck_twice_is_no_passage(hz, lasts_s):
    """A steep line finds one of its partials in each frame, as it finds a tone that runs; but a note begins at once."""
    partials = sum(np.sin(2 * np.pi * hz * k * T + k * k) / np.sqrt(k) for k in range(1, int(6500 / hz)))
    struck = sum(np.exp(-np.maximum(T - start, 0) / lasts_s) * (start < T) for start in (2.0, 6.0))
    assert judge(heard(noise(rms=0.001) + 0.05 * struck * partials)).verdict != "passage"


def test_the_edge_of_a_filter_brings_no_tone():
    """What a codec or a resampler cuts off steeply leaves a flank, where noise is no tone that comes and goes."""
    import soxr

    for seed in range(6):
        cut = soxr.resample(noise(seed), RATE, 48_000).astype(np.float32)  # nothing from 8 kHz on
        assert judge(Heard(cut, 48_000.0)).verdict == "no-passage-heard"


def test_where_no_passage_is_heard_the_pictures_mark_no_place():
    judgement = judge(heard(noise()))
    assert judgement.verdict == "no-passage-heard"
    assert all(mark["kind"] != "place" for trace in judgement.traces for mark in trace.marks)
