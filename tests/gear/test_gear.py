"""A tooth that strikes, a mesh that has worn, and what is neither."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import soxr

from earwitness.hearing.gear import GearMachine, judge
from earwitness.hearing.heard import Heard
from earwitness.simulate.gear import draw
from tests.bearing.signals import heard_blows, heard_noise, struck
from tests.gear.signals import meshing, tones, wandering

PAIR = GearMachine(speed_hz=24.0, teeth=31, mate_teeth=47, mains_hz=50.0)


def test_a_tooth_of_the_mate_is_told_as_well():
    result = judge(heard_blows(blow_hz=24.0 * 31 / 47, seconds=10.0, slip=0.0), PAIR)
    assert result.verdict == "tooth"
    assert result.severity is not None and result.severity.args["which"] == "its mate"


@pytest.mark.parametrize(("noise", "kept"), [(0.3, 0.97), (0.6, 1.0), (0.6, 0.97)])
def test_faint_or_clipped_blows_are_a_tooth_by_the_turn_though_they_leave_no_impulsiveness(noise, kept):
    """Averaged over 240 turns the one rise within each stands 24 dB clearer than in the sound itself."""
    samples = struck(rate_hz=48000, seconds=10.0, blow_hz=24.0, ring_hz=5200, noise=noise, slip=0.0)
    edge = np.quantile(np.abs(samples), kept)
    assert judge(Heard(np.clip(samples, -edge, edge), 48000.0, sensor="contact"), PAIR).verdict == "tooth"


def test_bands_of_the_sound_may_differ_in_length_by_a_step():
    """Their edges lie at no whole lines: in this one of the drawn readings a band has a step less than the others."""
    drawn = draw(np.random.default_rng([11, 3, 109]), held_out=True)
    assert judge(drawn.heard, drawn.state).verdict in ("no-fault-heard", "wear", "tooth", "inconclusive")


def test_an_uneven_mesh_is_wear_and_a_faint_even_one_is_not():
    assert judge(meshing(swell=0.8, uneven=0.7), PAIR).verdict == "wear"
    assert judge(meshing(swell=0.06, uneven=0.0), PAIR).verdict == "no-fault-heard"


def test_a_mesh_that_swells_evenly_is_not_called_worn():
    assert judge(meshing(swell=0.3, uneven=0.0), PAIR).verdict == "no-fault-heard"
    deep = judge(meshing(swell=0.5, uneven=0.0), PAIR)
    assert deep.verdict == "no-fault-heard" and "mesh-deep-but-even" in [note.code for note in deep.notes]


def test_an_even_mesh_has_no_more_sidebands_the_deeper_it_swells():
    """Sidebands come of what differs from turn to turn, not of the meeting itself, however deep."""
    shallow, deep = (judge(meshing(swell=s, uneven=0.0), PAIR).measured for s in (0.15, 0.5))
    assert deep["mesh-depth"] > 2.5 * shallow["mesh-depth"]
    assert max(shallow["mesh-sides"], deep["mesh-sides"]) < 0.05


def test_a_mate_that_made_few_turns_hides_no_tooth_of_the_wheel_but_is_not_acquitted():
    """Fifteen turns of the wheel listened to, 2.7 of its mate."""
    slow = GearMachine(speed_hz=1.4, teeth=18, mate_teeth=100)
    assert judge(heard_blows(blow_hz=1.4, seconds=11.0, slip=0.0), slow).verdict == "tooth"
    result = judge(heard_noise(seconds=11.0), slow)
    assert result.verdict == "inconclusive" and result.settle is not None and result.settle.code == "settle-longer"
    assert result.settle.args["needed"] > 100


def test_other_noise_makes_no_worn_mesh_a_sound_one():
    """Noise beside the mesh makes its lines and its sidebands shallower alike: what they are to one another stays."""
    around = heard_noise(seconds=10.0).samples
    for uneven, verdict in ((0.7, "inconclusive"), (0.0, "no-fault-heard")):
        mesh = meshing(swell=0.45, uneven=uneven)
        drowned = mesh.samples / mesh.samples.std() + 1.6 * around[: len(mesh.samples)] / around.std()
        result = judge(replace(mesh, samples=drowned.astype(np.float32)), PAIR)
        assert result.measured["mesh-depth"] < 0.3 and result.verdict == verdict


def test_lines_about_a_mesh_that_is_not_there_are_no_wear():
    t = np.arange(240_000) / 24_000.0
    beside = np.cos(2 * np.pi * 30 * 24.0 * t) + np.cos(2 * np.pi * 32 * 24.0 * t)
    noise = np.random.default_rng(5).standard_normal(len(t)) * (1 + 0.8 * beside)
    assert judge(Heard(noise.astype(np.float32), 24_000.0), PAIR).verdict == "inconclusive"


@pytest.mark.parametrize("off", [-0.028, -0.006, 0.011, 0.026])
def test_a_speed_written_wrongly_by_slip_is_read_off_the_sound(off):
    machine = replace(PAIR, speed_hz=24.0 * (1 + off))
    result = judge(meshing(swell=0.8, uneven=0.7, mate=47), machine)
    assert result.verdict == "wear"
    note = next(n for n in result.notes if n.code == "speed-by-sound")
    assert abs(note.args["rpm"] - 24.0 * 60) < 1.0
    assert judge(heard_blows(blow_hz=24.0, seconds=10.0, slip=0.0), machine).verdict == "tooth"


def test_a_speed_that_sways_smears_nothing():
    result = judge(meshing(swell=0.8, uneven=0.7, mate=47, sway=0.003), PAIR)
    steady = judge(meshing(swell=0.8, uneven=0.7, mate=47), PAIR)
    assert result.verdict == "wear"
    assert result.measured["mesh-sides"] == pytest.approx(steady.measured["mesh-sides"], rel=0.15)


def test_the_sidebands_have_the_depth_that_modulation_gives():
    """(1 + s(1 + u cos W)cos M)² of white noise: lines 2s at M and su at M ± W, over 1 + s²(1 + u²/2)/2 (analytic);
    what stands at 2M adds 1 %. Ten seconds of noise tell the sidebands to some 15 %."""
    s, u = 0.3, 0.5
    measured = judge(meshing(swell=s, uneven=u), PAIR).measured
    mean = 1 + s**2 * (1 + u**2 / 2) / 2
    assert measured["mesh-sides"] == pytest.approx(np.sqrt(2) * s * u / mean, rel=0.15)
    assert measured["mesh-depth"] == pytest.approx(np.sqrt((2 * s) ** 2 + 2 * (s * u) ** 2) / mean, rel=0.1)


def test_a_folded_recording_shows_a_mesh_faster_than_its_audio_is_wide():
    """An oscillator folds 36 to 44 kHz onto 0 to 4 kHz; a mesh of 5 kHz still shows, in the sum of two frequencies."""
    wide = meshing(swell=0.8, uneven=0.7, speed_hz=100.0, teeth=50, rate_hz=48_000.0)
    spectrum = np.fft.rfft(wide.samples)
    spectrum[np.fft.rfftfreq(len(wide.samples), 1 / 48_000.0) > 4000] = 0
    folded = replace(wide, samples=np.fft.irfft(spectrum).astype(np.float32))
    assert judge(folded, GearMachine(speed_hz=100.0, teeth=50, mate_teeth=70)).verdict == "wear"


def test_tones_of_an_accelerometer_tell_wear_by_sidebands_and_growth():
    worn = judge(tones(sides=0.4, growth=0.9), PAIR)
    assert worn.verdict == "wear"
    assert worn.measured["tone-sides"] == pytest.approx(0.4, rel=0.1)
    assert worn.measured["tone-growth"] == pytest.approx(np.sqrt(2) * 0.9, rel=0.1)
    assert judge(tones(sides=0.02, growth=0.15), PAIR).verdict == "no-fault-heard"


@pytest.mark.parametrize("seed", range(12))
def test_a_mesh_whose_tone_just_stands_out_of_noise_has_no_sidebands_in_it(seed):
    """A tone 15 dB over the noise of a line's width, in ten seconds of noise at 20 kHz, and nothing beside it."""
    t = np.arange(200_000) / 20_000.0
    noise = np.random.default_rng(seed).standard_normal(len(t))
    tone = np.sqrt(2 * 32 * 2 / len(t)) * np.sqrt(2) * np.cos(2 * np.pi * 31 * 24.0 * t)
    result = judge(Heard((0.1 * (noise + tone)).astype(np.float32), 20_000.0, signal="direct"), PAIR)
    assert result.measured.get("tone-sides", 0.0) < 0.1 and result.verdict != "wear"


def test_a_mate_whose_teeth_are_not_known_is_found_by_its_blows():
    blows = heard_blows(blow_hz=24.0 * 31 / 47, seconds=20.0, slip=0.0).samples
    mesh = meshing(swell=0.3, uneven=0.0)
    samples = blows[: len(mesh.samples)] + 0.3 * mesh.samples[: len(blows)]
    result = judge(Heard(samples.astype(np.float32), 24_000.0), GearMachine(speed_hz=24.0, teeth=31))
    assert result.verdict == "tooth" and result.severity.args["which"] == "its mate"


@pytest.mark.parametrize("mate", [None, 62])
@pytest.mark.parametrize("seed", range(4))
def test_a_mesh_smeared_by_a_wandering_speed_has_no_sidebands_of_a_slow_mate(seed, mate):
    """Thirty turns at a speed that wanders by 0.4 %: the mesh is as wide as a slow mate's sidebands are away."""
    assert judge(wandering(seed=seed, sway=0.004), GearMachine(5.0, 31, mate)).verdict != "wear"


def test_nothing_is_called_free_of_wear_that_could_not_have_been_heard():
    """A tenth of the band and a twentieth of the time: sidebands would have to be strong to stand out."""
    quiet = meshing(swell=0.05, uneven=0.0, speed_hz=24.0)
    spectrum = np.fft.rfft(quiet.samples[:24_000])
    spectrum[np.fft.rfftfreq(24_000, 1 / 24_000.0) > 500] = 0
    narrow = replace(quiet, samples=np.fft.irfft(spectrum).astype(np.float32))
    assert judge(narrow, replace(PAIR, mate_teeth=None)).verdict == "inconclusive"


def test_a_bearing_is_not_taken_for_a_tooth():
    assert judge(heard_blows(blow_hz=3.585 * 24.0, seconds=10.0), PAIR).verdict == "inconclusive"


def test_gain_and_polarity_change_no_verdict():
    heard = heard_blows(blow_hz=24.0, seconds=10.0, slip=0.0)
    for gain in (0.05, -1.0):
        assert judge(replace(heard, samples=heard.samples * np.float32(gain)), PAIR).verdict == "tooth"


def test_without_a_speed_it_asks_for_it():
    result = judge(heard_noise(seconds=10.0), GearMachine(teeth=31))
    assert result.verdict == "inconclusive" and result.settle.code == "settle-gear-speed"


def test_resampling_bits_and_silence_change_no_verdict():
    samples = struck(rate_hz=48000, seconds=10.0, blow_hz=24.0, ring_hz=5200, slip=0.0)
    assert judge(Heard(samples, 48000.0), PAIR).verdict == "tooth"
    assert judge(Heard(soxr.resample(samples, 48000, 44100).astype(np.float32), 44100.0), PAIR).verdict == "tooth"
    for bits in (16, 24):
        coarse = (np.rint(samples * 2.0 ** (bits - 1)) / 2.0 ** (bits - 1)).astype(np.float32)
        assert judge(Heard(coarse, 48000.0), PAIR).verdict == "tooth"


def test_silence_alone_asks_for_a_rhythm():
    result = judge(Heard(np.zeros(240_000, np.float32), 24000.0), PAIR)
    assert result.verdict == "inconclusive" and result.settle.code == "settle-rhythm"


T = np.arange(10 * 44100) / 44100
PURE = {
    "sine": np.sin(2 * np.pi * 3000 * T),
    "square at 8 kHz": np.sign(np.sin(2 * np.pi * 8000 * T)),
    "square at 1 kHz": np.sign(np.sin(2 * np.pi * 1000 * T)),
    "siren": np.sin(2 * np.pi * (900 * T + 60 * np.sin(2 * np.pi * 0.5 * T))),
    "beeper": np.sin(2 * np.pi * 1250 * T) * (T % 0.9 < 0.45),
    "chord": np.sin(2 * np.pi * 440 * T) + np.sin(2 * np.pi * 554.4 * T) + np.sin(2 * np.pi * 659.3 * T),
}


@pytest.mark.parametrize("name", PURE)
@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_tones_sirens_and_beepers_are_no_damage(name, noise):
    sound = 0.2 * PURE[name] + noise * np.random.default_rng(2).standard_normal(len(T))
    for machine in (PAIR, GearMachine(speed_hz=25.0, teeth=20, mate_teeth=40), GearMachine(speed_hz=24.0)):
        result = judge(Heard(sound.astype(np.float32), 44100.0), machine)
        assert result.verdict not in ("tooth", "wear")


def test_a_level_far_over_baseline_says_act_and_none_says_watch():
    """Common practice: 8 dB over baseline to lubricate, 16 dB for damage (P); no criteria are accepted, ISO 29821-1."""
    heard = heard_blows(blow_hz=24.0, seconds=10.0, slip=0.0)
    assert judge(heard, PAIR).severity.code == "watch"
    assert judge(replace(heard, level_db=50.0, baseline_db=30.0), PAIR).severity.code == "act"
    assert judge(replace(heard, level_db=40.0, baseline_db=30.0), PAIR).severity.code == "watch"
