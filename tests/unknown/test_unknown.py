"""Which kind it is, when nobody says: one clear sound of each, and sounds of none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from earwitness.hearing.evidence import Judgement, fitted
from earwitness.hearing.heard import Heard
from earwitness.hearing.unknown import NONE, UnknownState, judge
from tests.bearing.signals import struck
from tests.bearing.test_verdicts import DRIVE_END
from tests.discharge import sounds

RATE = float(sounds.RATE)


def sweep_past_a_leak() -> np.ndarray:
    t = sounds.times(8)
    passing = np.exp(-0.5 * ((t - 4) / 0.7) ** 2)
    return (0.003 * sounds.noise(8, 1) + 0.2 * passing * sounds.noise(8, 2)).astype(np.float32)


def emitter_through_two_gaps() -> np.ndarray:
    t = sounds.times(8)
    passing = np.exp(-0.5 * ((t - 2.5) / 0.4) ** 2) + np.exp(-0.5 * ((t - 5.5) / 0.4) ** 2)
    edge = np.hanning(round(0.02 * RATE))  # a transducer rings up and down
    on = np.convolve((t * 8) % 1.0 < 0.5, edge / edge.sum(), "same")
    return (0.003 * sounds.noise(8, 3) + 0.2 * passing * on * np.cos(2 * np.pi * 2300 * t)).astype(np.float32)


def outer_race_impacts() -> np.ndarray:
    rng = np.random.default_rng(4)
    sound = 0.01 * sounds.noise(8, 5)
    ring = np.exp(-np.arange(400) / 60.0) * np.cos(2 * np.pi * 4100 / RATE * np.arange(400))
    for at in np.cumsum(rng.normal(1 / 87.3, 0.0001, 680)):
        start = round(at * RATE)
        if start + 400 < len(sound):
            sound[start : start + 400] += 0.3 * ring
    return sound.astype(np.float32)


def kinds_of(judgement: Judgement) -> dict[str, float]:
    return {name.removeprefix("kind-"): p for name, p in judgement.measured.items() if name.startswith("kind-")}


EXAMPLES = {
    "leak": sweep_past_a_leak,
    "seal": emitter_through_two_gaps,
    "bearing": outer_race_impacts,
    "electrical": sounds.corona,
}


@pytest.mark.parametrize("kind", EXAMPLES)
def test_the_likeliest_kind_is_the_right_one(kind):
    judgement = judge(Heard(EXAMPLES[kind](), RATE))
    kinds = kinds_of(judgement)
    assert max(kinds, key=lambda name: kinds[name]) == kind, kinds
    assert sum(kinds.values()) == pytest.approx(1.0)


def test_a_clear_discharge_needs_no_kind():
    judgement = judge(Heard(sounds.corona(), RATE), UnknownState(mains_hz=50.0))
    assert judgement.verdict == "corona" and judgement.detector == "unknown"
    assert judgement.notes[0].code == "kind-told"


@pytest.mark.parametrize("samples", [0.01 * sounds.noise(4, 6), np.zeros(96_000), sounds.folded_tones(4.0)])
def test_a_sound_of_no_kind_is_not_given_one(samples):
    judgement = judge(Heard(np.asarray(samples, np.float32), RATE))
    assert judgement.verdict == "inconclusive"
    assert judgement.settle is not None


def beeper() -> np.ndarray:
    """A truck backing up: harmonics of one tone, on for half of each 1.1 s."""
    t = sounds.times(8)
    on = np.convolve((t * 0.9) % 1.0 < 0.5, np.full(480, 1 / 480), "same")
    return 0.05 * on * sum(np.cos(2 * np.pi * 1240 * k * t) / k for k in range(1, 6)) + 0.003 * sounds.noise(8, 21)


def through_a_thin_wall() -> np.ndarray:
    """An emitter's beating tone that is as loud everywhere along the sweep."""
    t = sounds.times(8)
    return 0.05 * (np.sin(2 * np.pi * 4 * t) > 0) * np.cos(2 * np.pi * 2300 * t) + 0.003 * sounds.noise(8, 22)


def puffing_valve() -> np.ndarray:
    """Air let off every 0.8 s: at once, and dying away."""
    since = (sounds.times(8) % 0.8) / 0.12
    return (0.05 * np.exp(-since) + 0.002) * sounds.noise(8, 23)


def whine() -> np.ndarray:
    t = sounds.times(8)
    sway = 2 * np.pi * 3100 * t + 8 * np.sin(2 * np.pi * 0.3 * t)
    return 0.05 * (np.cos(sway) + 0.4 * np.cos(2.03 * sway)) + 0.003 * sounds.noise(8, 24)


def babble() -> np.ndarray:
    """Five people's hissed syllables, of 0.1 s each, at times of their own."""
    rng, level = np.random.default_rng(25), np.zeros(8 * sounds.RATE)
    for start in rng.integers(0, len(level) - 4800, 130):
        level[start : start + 4800] += rng.lognormal(0, 0.7) * np.hanning(4800)
    return 0.02 * level * sounds.noise(8, 26) + 0.003 * sounds.noise(8, 27)


@pytest.mark.parametrize("decoy", [beeper, through_a_thin_wall, puffing_valve, whine, babble])
def test_what_is_about_in_a_plant_is_no_finding(decoy):
    judgement = judge(Heard(decoy().astype(np.float32), RATE), UnknownState(mains_hz=50.0))
    assert judgement.verdict == "inconclusive", judgement.probabilities


def horn_that_passes() -> np.ndarray:
    """One tone that is on all the time and swells once: a passage sounds so, and so do a horn, an engine, a saw."""
    t = sounds.times(8)
    return 0.1 / (1 + ((t - 4) / 0.6) ** 2) * np.cos(2 * np.pi * 2300 * t) + 0.003 * sounds.noise(8, 29)


def test_a_tone_without_a_beat_counts_less_than_one_that_beats():
    beats, stays_on = (
        judge(Heard(emitter_through_two_gaps(), RATE)),
        judge(Heard(horn_that_passes().astype(np.float32), RATE)),
    )
    assert beats.verdict == "passage" and beats.measured["tone-beats"] == pytest.approx(8.0, abs=0.5)
    assert stays_on.measured["tone-beats"] == 0.0
    assert kinds_of(stays_on)["seal"] < kinds_of(beats)["seal"]


def test_the_probe_in_use_counts():
    """Nobody leads a contact probe along a seam or sets it on live parts; by air few listen to bearings."""
    emitter, impacts = emitter_through_two_gaps(), outer_race_impacts()
    by_contact, by_air = (kinds_of(judge(Heard(emitter, RATE, sensor=probe))) for probe in ("contact", "airborne"))
    assert by_contact["seal"] < by_air["seal"]
    by_contact, by_air = (kinds_of(judge(Heard(impacts, RATE, sensor=probe))) for probe in ("contact", "airborne"))
    assert by_contact["bearing"] > by_air["bearing"]
    faint = (sounds.arcing() + 2.0 * np.abs(sounds.arcing()).max() * sounds.noise(8.0, 7)).astype(np.float32)
    by_contact, by_air = (kinds_of(judge(Heard(faint, RATE, sensor=probe))) for probe in ("contact", "airborne"))
    assert by_contact["electrical"] < by_air["electrical"]


def test_a_level_through_the_open_enclosure_was_read_for_a_tone_test():
    """A hiss as loud as a leak's beside an emitter's tone: with the open enclosure read, it is not called a leak."""
    sound = (emitter_through_two_gaps() + 0.05 * sounds.noise(8, 9)).astype(np.float32)
    plain = Heard(sound, RATE, sensor="airborne", level_db=54.0, background_db=30.0)
    without, read = (kinds_of(judge(heard)) for heard in (plain, replace(plain, reference_db=73.0)))
    assert read["leak"] < without["leak"] and read["seal"] > without["seal"]


def swelling_noise(beat_hz: float) -> np.ndarray:
    """A fan: hiss that swells and fades smoothly, with a second harmonic."""
    turn = 2 * np.pi * beat_hz * sounds.times(6)
    return 0.05 * sounds.noise(6, 7) * (1.0 + 0.6 * np.cos(turn) + 0.15 * np.cos(2 * turn))


def rectifier(mains_hz: float) -> np.ndarray:
    """Six short rings in each cycle of the mains, all alike."""
    rng = np.random.default_rng(8)
    sound, ring = 0.003 * sounds.noise(6, 9), np.exp(-np.arange(200) / 25.0)
    for at in np.arange(0.001, 5.9, 1 / (6 * mains_hz)):
        start = round(at * RATE)
        sound[start : start + 200] += 0.2 * ring * np.cos(2 * np.pi * 4100 / RATE * np.arange(200) + 6 * rng.random())
    return sound


@pytest.mark.parametrize("beat_hz", [23.7, 58.3, 117.9])
def test_what_swells_smoothly_is_not_struck(beat_hz):
    judgement = judge(Heard(swelling_noise(beat_hz).astype(np.float32), RATE), UnknownState(mains_hz=60.0))
    assert judgement.measured["strikes"] < 9.0
    assert judgement.verdict == "inconclusive" and kinds_of(judgement)["bearing"] < 0.5


def test_blows_in_a_rhythm_have_harmonics_and_have_nothing_to_do_with_the_mains():
    measured = judge(Heard(outer_race_impacts(), RATE)).measured
    assert measured["strikes"] > 15.0
    assert judge(Heard(sounds.corona(), RATE)).measured["strikes"] < 9.0


def test_a_motors_own_noise_is_no_discharge():
    """Hiss that swells by a few dB at twice the mains, as laminations make it swell; a discharge goes much deeper."""
    turn = 4 * np.pi * 50.0 * sounds.times(6)
    hums = 0.05 * sounds.noise(6, 28) * (1.0 + 0.2 * np.cos(turn) + 0.05 * np.cos(2 * turn))
    judgement = judge(Heard(hums.astype(np.float32), RATE), UnknownState(mains_hz=50.0))
    assert judgement.verdict == "inconclusive"
    assert judgement.settle is not None and judgement.settle.code == "kind-motor"


def test_one_blow_a_turn_may_be_a_bearings_or_a_gears():
    judgement = judge(
        Heard(struck(rate_hz=48000, seconds=8.0, blow_hz=24.6, swing_hz=0.0, ring_hz=5200), RATE, sensor="contact")
    )
    assert kinds_of(judgement)["bearing"] > 0.8
    assert judgement.notes[0].args["kind"] == "a bearing or a gear"


def tools_laid_down() -> np.ndarray:
    """Blows that ring, of all strengths and at no time in particular: clatter, or a bearing with grit in it."""
    rng, sound = np.random.default_rng(31), 0.01 * sounds.noise(8, 30)
    ring = np.exp(-np.arange(2400) / 400.0) * np.cos(2 * np.pi * 4100 / RATE * np.arange(2400))
    for start in rng.integers(0, len(sound) - 2400, 40):
        sound[start : start + 2400] += 0.5 * rng.lognormal(0, 0.6) * ring
    return sound.astype(np.float32)


def test_blows_in_no_rhythm_do_not_say_that_there_is_something():
    """A bearing's detector may be sure of impacts at random; whoever was not told that it is a bearing cannot be."""
    at_random = judge(Heard(tools_laid_down(), RATE, sensor="contact"))
    in_rhythm = judge(Heard(outer_race_impacts(), RATE, sensor="contact"))
    assert at_random.measured["as-bearing"] > 3.0 and at_random.measured["surest"] < 0.0
    assert at_random.verdict == "inconclusive" and kinds_of(at_random)["bearing"] < 0.5
    assert in_rhythm.measured["surest"] > 0.0 and kinds_of(in_rhythm)[NONE] < kinds_of(at_random)[NONE]


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_a_rectifier_is_nothing(mains_hz):
    judgement = judge(Heard(rectifier(mains_hz).astype(np.float32), RATE))
    assert judgement.verdict == "inconclusive" and judgement.measured["strikes"] < 9.0


def test_the_verdicts_probabilities_share_out_those_of_the_kinds():
    judgement = judge(Heard(sounds.corona(), RATE), UnknownState(mains_hz=50.0))
    assert sum(judgement.probabilities.values()) == pytest.approx(1.0)
    assert judgement.probabilities["inconclusive"] == pytest.approx(kinds_of(judgement)[NONE])
    assert judgement.probability == max(judgement.probabilities.values())


def test_the_weights_cover_every_kind_and_none():
    prior, rows = fitted("unknown")
    assert set(prior) == {"leak", "seal", "bearing", "electrical", NONE}
    assert {row.supports for row in rows} == set(prior)


@pytest.mark.parametrize(
    ("blow_hz", "swing_hz", "verdict"), [(106.0, 0.0, "outer-race"), (160.13, 29.57, "inner-race")]
)
def test_a_machine_that_is_stated_names_the_part(blow_hz, swing_hz, verdict):
    samples = struck(rate_hz=48000, seconds=8.0, blow_hz=blow_hz, swing_hz=swing_hz, ring_hz=5200)
    heard = Heard(samples, RATE, sensor="contact")
    stated = judge(heard, UnknownState(machine=DRIVE_END))
    assert max(stated.probabilities, key=lambda name: stated.probabilities[name]) == verdict, stated.probabilities
    assert stated.probabilities[verdict] > judge(heard).probabilities.get(verdict, 0.0)
