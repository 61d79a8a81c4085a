"""Each fault is found on a sound that is otherwise fit, a fit sound has none, and what must not matter does not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import istft, lfilter, stft

from earwitness.simulate.receiver import AutomaticGain, Receiver
from earwitness.sound.fitness import ALL, Examiner, examine

RATE = 16_000


def hiss(seconds: float = 4.0, seed: int = 0, rms: float = 0.1) -> np.ndarray:
    """Steady hiss through a receiver, 16 bit."""
    receiver = Receiver(rate_hz=RATE, band_hz=8000, self_noise=0, gain=rms * 2)
    rng = np.random.default_rng(seed)
    return receiver.hear_band(receiver.band.noise(rng, seconds), rng)


def codes(samples: np.ndarray, **asked: object) -> tuple[str, ...]:
    return examine(samples, RATE, **asked).codes


def test_a_steady_hiss_is_fit():
    report = examine(hiss(), RATE, kind="leak", frames_promised=4 * RATE)
    assert report.fit and report.codes == () and report.spoiled == frozenset()
    assert (report.start, report.stop) == (0, 4 * RATE)


def test_nothing_at_all_is_empty():
    report = examine(np.zeros(0, np.float32), RATE)
    assert report.codes == ("empty",) and not report.fit


@pytest.mark.parametrize("silence", [np.zeros(2 * RATE, np.float32), np.tile([0, 1 / 32768], RATE).astype(np.float32)])
def test_silence_and_a_flickering_last_bit_are_silent(silence):
    report = examine(silence, RATE)
    assert report.codes == ("silent",) and report.spoiled == ALL


def in_steps(samples: np.ndarray) -> np.ndarray:
    return (np.rint(samples * 32768) / 32768).astype(np.float32)


@pytest.mark.parametrize("offset", [0.0, 0.3])
def test_what_lies_beneath_the_converters_step_is_silent_and_what_stands_on_it_is_not(offset):
    noise = np.random.default_rng(1).standard_normal(4 * RATE) / 32768
    assert codes(in_steps(0.7 * noise + offset)) == ("silent",)
    assert codes(np.full(4 * RATE, 0.3, np.float32)) == ("silent",)
    knocks = 40 / 32768 * (np.arange(4 * RATE) % 1600 < 3)
    assert "silent" not in codes(in_steps(0.7 * noise + knocks + offset))
    assert "silent" not in codes(in_steps(5 * noise + offset))


def test_clipping_of_the_noise_itself_spoils_the_rhythm_that_of_peaks_does_not():
    assert "rhythm" in examine(np.clip(8 * hiss(), -0.5, 0.5), RATE).spoiled
    assert "rhythm" not in examine(np.clip(hiss(), -0.3, 0.3), RATE).spoiled


def test_what_is_left_of_clipped_noise_is_that_noise_and_of_clipped_tones_it_is_not():
    noise = hiss()
    cut = np.clip(noise, -(edge := np.quantile(np.abs(noise), 0.98)), edge)
    distortion = cut - noise * (np.dot(cut, noise) / np.dot(noise, noise))  # what is no part of the noise (Bussgang)
    assert np.mean(distortion**2) < 10**-2 * np.mean(cut**2)
    assert examine(cut, RATE, kind="leak").spoiled == {"level"}
    assert examine(cut, RATE, kind="seal").spoiled == {"level", "spectrum"}  # a tone would have harmonics


def test_under_8_khz_no_blow_is_heard_to_ring():
    assert examine(hiss(), 4000).spoiled == {"spectrum", "rhythm"}


def test_too_short_for_the_kind_spoils_the_rhythm_only():
    report = examine(hiss(1.5), RATE, kind="gear")
    assert report.codes == ("too-short",) and report.spoiled == {"rhythm"}
    assert codes(hiss(1.5), kind="leak") == ()


def test_a_second_of_a_bearing_is_enough_where_it_turns_fast():
    assert codes(hiss(1.0), kind="bearing", speed_hz=25.0) == ()
    assert codes(hiss(0.7), kind="bearing", speed_hz=25.0) == ("too-short",)


def test_a_slow_shaft_needs_six_turns():
    assert codes(hiss(4), kind="bearing", speed_hz=1.6) == ()
    assert codes(hiss(4), kind="bearing", speed_hz=1.4) == ("too-short",)


def test_a_tenth_of_a_second_is_fit_for_nothing():
    report = examine(hiss(0.1), RATE, kind="leak")
    assert report.codes == ("too-short",) and not report.fit


def test_a_file_that_breaks_off_is_said_and_still_judged():
    report = examine(hiss(), RATE, frames_promised=6 * RATE)
    assert report.codes == ("truncated",) and report.fit
    assert "2.0 s of 6.0 s" in report.problems[0].sentence.text
    assert codes(hiss(), frames_promised=4 * RATE + 100, lossy=True) == ("lossy-codec",)


@pytest.mark.parametrize("gain", [1.0, 0.2])
def test_clipping_is_found_whatever_the_gain_after_it(gain):
    cut = np.clip(5 * hiss(), -1, 32767 / 32768).astype(np.float32) * np.float32(gain)
    report = examine(cut, RATE)
    assert report.codes == ("clipped",) and "level" in report.spoiled and "rhythm" not in report.spoiled


def test_a_clipped_tone_is_clipped_and_a_whole_one_is_not():
    t = np.arange(4 * RATE) / RATE
    for hz in (100.0, 1000.0, 1000.3, 4000.0):  # 1000 and 4000 in step with the sampling: equal peaks, never three
        tone = np.rint(np.sin(2 * np.pi * hz * t) * 20_000).astype(np.float32) / 32768
        assert codes(tone) == (), hz
    assert "clipped" in codes(np.clip(tone + np.sin(2 * np.pi * 150 * t).astype(np.float32), -0.9, 0.9))


def test_dropouts_are_counted_and_placed():
    broken = hiss()
    broken[RATE : RATE + 160] = 0
    broken[3 * RATE : 3 * RATE + 80] = 0
    report = examine(broken, RATE)
    assert report.codes == ("dropouts",) and report.spoiled == {"rhythm"}
    assert report.problems[0].sentence.args["count"] == 2
    assert report.problems[0].sentence.args["first_s"] == pytest.approx(1.0)


def test_a_held_value_is_a_dropout_too():
    broken = hiss()
    at = RATE + int(np.argmax(broken[RATE : RATE + 50]))
    broken[at : at + 60] = broken[at]
    assert codes(broken) == ("dropouts",)


def test_an_offset_is_said_and_spoils_nothing():
    report = examine(hiss() + np.float32(0.1), RATE)
    assert report.codes == ("dc-offset",) and report.spoiled == frozenset()


def test_numbers_that_are_none_are_counted():
    broken = hiss()
    broken[RATE + 3] = np.nan
    broken[RATE + 4] = np.inf
    report = examine(broken, RATE)
    assert report.codes == ("not-numbers",) and report.problems[0].sentence.args["count"] == 2


def bursts(agc: AutomaticGain | None) -> np.ndarray:
    receiver = Receiver(rate_hz=RATE, self_noise=1e-4, gain=0.05, agc=agc)
    rng = np.random.default_rng(3)
    noise = receiver.band.noise(rng, 8.0)
    loud = (np.arange(len(noise)) / RATE % 1.0) < 0.3
    return receiver.hear_band(noise * np.where(loud, 3.0, 0.2).astype(np.float32), rng)


def test_automatic_gain_gives_itself_away_and_bursts_alone_do_not():
    assert codes(bursts(None)) == ()
    report = examine(bursts(AutomaticGain(target_rms=0.05, release_s=0.3)), RATE)
    assert report.codes == ("automatic-gain",) and report.spoiled == {"level"}


def test_a_gate_between_sounds_is_noise_suppression():
    sound = bursts(None)
    loud = ((np.arange(len(sound)) / RATE) % 1.0) < 0.35
    fade = np.minimum(1, np.convolve(loud, np.full(160, 1 / 160), "same"))
    gated = np.rint(sound * fade * 32768 / 4).astype(np.float32) * 4 / 32768
    report = examine(gated, RATE)
    assert "noise-suppressed" in report.codes and {"level", "spectrum"} <= report.spoiled


def comes_and_goes(mechanism: str) -> np.ndarray:
    """Over a steady background, what colours the spectrum otherwise than it while it sounds."""
    receiver = Receiver(rate_hz=RATE, band_hz=8000, self_noise=0, gain=0.05)
    rng = np.random.default_rng(11)
    background = receiver.hear_band(receiver.band.noise(rng, 8.0), rng)
    t = np.arange(len(background)) / RATE
    other = lfilter([1.0], [1.0, -1.6, 0.8], rng.standard_normal(len(t)))
    if mechanism == "a leak swept past":
        return background + (0.3 * other / (1 + ((t - 4) / 0.8) ** 2)).astype(np.float32)
    if mechanism == "pulses":
        return background + (0.2 * other * (t % 0.7 < 0.3)).astype(np.float32)
    blows = np.zeros(len(t))  # clatter: a bar rings at three modes, otherwise at each blow
    for at in np.sort(rng.uniform(0, 7.9, 60)):
        ring = t[: RATE // 10]
        modes = zip(rng.uniform(800, 7000, 3), rng.uniform(0.003, 0.015, 3), strict=True)
        part = sum(np.exp(-ring / tau) * np.cos(2 * np.pi * hz * ring) for hz, tau in modes)
        blows[round(at * RATE) :][: len(ring)] += rng.lognormal(0, 0.8) * part[: len(t) - round(at * RATE)]
    return background + (0.2 * blows).astype(np.float32)


@pytest.mark.parametrize("mechanism", ["a leak swept past", "pulses", "clatter"])
def test_what_comes_and_goes_is_no_noise_suppression(mechanism):
    sound = comes_and_goes(mechanism)
    assert "noise-suppressed" not in codes(sound)
    assert "noise-suppressed" in codes(spectrally_subtracted(sound))


def spectrally_subtracted(sound: np.ndarray) -> np.ndarray:
    """Each cell of the spectrogram less the noise's power, told from the band's quiet fifth; at least −24 dB stay."""
    _, _, cells = stft(sound, RATE, nperseg=320)
    power = np.abs(cells) ** 2
    noise = 4 * np.quantile(power, 0.2, axis=1, keepdims=True)
    return istft(cells * np.sqrt(np.maximum(1 - noise / power, 0.004)), RATE, nperseg=320)[1].astype(np.float32)


def test_cells_that_a_codec_drops_beneath_loud_ones_are_no_noise_suppression():
    """A codec keeps of each frame what lies less than 20 dB under what is loudest in it (masking)."""
    sound = hiss(8.0)
    hz, _, cells = stft(sound, RATE, nperseg=512)
    slope = cells * 10 ** (-(hz[:, None] / 8000) * 50 / 20)  # falls by 50 dB over the band, as behind a low-pass
    kept = np.where(np.abs(slope) > np.abs(slope).max(axis=0) / 10, slope, 1e-3 * slope)
    assert "noise-suppressed" not in codes(istft(kept, RATE, nperseg=512)[1].astype(np.float32))


def test_the_mains_in_the_cable_is_pickup_and_a_lone_tone_is_not():
    t = np.arange(8 * RATE) / RATE
    lines = 0.02 * np.cos(2 * np.pi * 50.02 * t) + 0.01 * np.cos(2 * np.pi * 150.06 * t)
    report = examine((hiss(8.0) + lines).astype(np.float32), RATE, signal="heterodyned")
    assert report.codes == ("mains-pickup",) and report.spoiled == frozenset()
    assert report.problems[0].sentence.args["mains_hz"] == pytest.approx(50.02, abs=0.05)
    one = (hiss(8.0) + 0.03 * np.cos(2 * np.pi * 50.02 * t)).astype(np.float32)
    assert codes(one) == ()
    beat = (hiss(8.0) * (1 + 0.8 * np.cos(2 * np.pi * 100 * t))).astype(np.float32)
    assert codes(beat) == (), "noise that swells with the mains carries no line of its own"
    vibration = (hiss(8.0) + lines).astype(np.float32)
    assert codes(vibration, signal="direct", sensor="contact") == (), "a contact sensor hears hum as it is"


def test_strong_pickup_spoils_the_level():
    t = np.arange(8 * RATE) / RATE
    lines = 0.1 * np.cos(2 * np.pi * 50 * t) + 0.1 * np.cos(2 * np.pi * 150 * t)
    assert examine((hiss(8.0, rms=0.03) + lines).astype(np.float32), RATE).spoiled == {"level"}


def test_pickup_share_is_the_lines_share_of_the_power():
    t = np.arange(8 * RATE) / RATE
    noise = hiss(8.0)
    lines = 0.05 * np.cos(2 * np.pi * 60 * t) + 0.03 * np.cos(2 * np.pi * 120 * t)
    both = (noise + lines).astype(np.float32)
    share = (0.05**2 + 0.03**2) / 2 / float(np.var(both))
    assert examine(both, RATE).measures["pickup"] == pytest.approx(share, rel=0.15)


def test_a_direct_recording_that_ends_below_the_leak_is_of_the_wrong_rate():
    report = examine(hiss(), RATE, kind="leak", signal="direct", sensor="airborne")
    assert report.codes == ("wrong-rate",) and report.spoiled == {"level", "spectrum"}
    assert codes(hiss(), kind="bearing", signal="direct", sensor="contact") == ()


@settings(max_examples=25, deadline=None)
@given(
    sizes=st.lists(st.integers(1, 40_000), min_size=1, max_size=6),
    before=st.integers(0, 30_000),
    after=st.integers(0, 30_000),
    fault=st.sampled_from(["none", "clipped", "dropouts", "agc"]),
)
def test_neither_blocks_nor_silence_at_the_ends_change_the_report(sizes, before, after, fault):
    sound = bursts(AutomaticGain(release_s=0.3)) if fault == "agc" else hiss(3.0)
    if fault == "clipped":
        sound = np.clip(6 * sound, -1, 1)
    if fault == "dropouts":
        sound[20_000:20_100] = 0
    plain = examine(sound, RATE)
    padded = np.concatenate([np.zeros(before, np.float32), sound, np.zeros(after, np.float32)])
    examiner, at, i = Examiner(RATE), 0, 0
    while at < len(padded):
        examiner.add(padded[at : at + sizes[i % len(sizes)]])
        at, i = at + sizes[i % len(sizes)], i + 1
    report = examiner.report()
    assert (report.codes, report.measures) == (plain.codes, plain.measures)
    assert report.start == before + plain.start and report.stop == before + plain.stop


@settings(max_examples=15, deadline=None)
@given(power=st.integers(-6, 3), flipped=st.booleans(), fault=st.sampled_from(["none", "clipped", "agc"]))
def test_neither_gain_nor_polarity_changes_what_is_found(power, flipped, fault):
    sound = bursts(AutomaticGain(release_s=0.3)) if fault == "agc" else hiss(3.0)
    if fault == "clipped":
        sound = np.clip(6 * sound, -1, 1)
    changed = sound * np.float32(2.0**power * (-1 if flipped else 1))
    assert examine(changed, RATE).codes == examine(sound, RATE).codes


def test_samples_so_small_that_their_squares_are_nothing_are_silence():
    sound = (1e-26 * np.random.default_rng(0).random(48_000)).astype(np.float32)
    assert [p.code for p in examine(sound, 8_000.0).problems if p.code in ("silent", "dc-offset")] == ["silent"]
