"""What the reference cases of the tone search are made of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from earwitness.sound.tone import find_tones
from earwitness.sound.tone_cells import ToneCells, tone_cells
from earwitness.sound.tone_course import Course, follow
from earwitness.sound.tone_search import Box
from earwitness.sound.tone_signs import Tone


def bright_box(frames: int, bins: int, frame: int, bin: int, long: int, wide: int, level: float) -> np.ndarray:
    """(frames, bins) of ones, as noise would be on average, but for a box at `level`."""
    over = np.ones((int(frames), int(bins)), np.float32)
    over[int(frame) : int(frame + long), int(bin) : int(bin + wide)] = level
    return over


def tone_at_a_place(hz: float, at_s: float, seconds: float, rate_hz: float) -> np.ndarray:
    """Noise, and a tone that grows and fades as 1/(1 + ((t - at)/0.5)²) in power."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    course = 1 / np.sqrt(1 + ((t - at_s) / 0.5) ** 2)
    sound = 0.02 * np.random.default_rng(8).standard_normal(len(t)) + 0.05 * course * np.sin(2 * np.pi * hz * t)
    return sound.astype(np.float32)


def swept_tone(at_s: float, seconds: float, rate_hz: float) -> ToneCells:
    """The cells of noise with a tone that runs from 2.0 to 2.4 kHz and back three times a second."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    hz = 2000.0 + 400.0 * np.abs(2 * ((3 * t) % 1.0) - 1)
    course = np.exp(-0.5 * ((t - at_s) / 0.4) ** 2)
    sound = 0.02 * np.random.default_rng(8).standard_normal(len(t))
    sound += 0.02 * course * np.sin(2 * np.pi * np.cumsum(hz) / rate_hz)
    return tone_cells(sound.astype(np.float32), rate_hz, low_hz=150.0, high_hz=7000.0)


def chirping_tone(at_s: float, seconds: float, rate_hz: float) -> ToneCells:
    """The cells of noise with a tone that runs from 1 to 7 kHz in 0.4 s, again and again."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    course = np.exp(-0.5 * ((t - at_s) / 0.4) ** 2)
    sound = 0.02 * np.random.default_rng(8).standard_normal(len(t))
    sound += 0.06 * course * np.sin(2 * np.pi * np.cumsum(1000.0 + (15_000.0 * t) % 6000.0) / rate_hz)
    return tone_cells(sound.astype(np.float32), rate_hz, low_hz=150.0, high_hz=7500.0)


def box_around(hz_bin: int, bins: int) -> Box:
    """A box of some bins of the long frames."""
    return Box(0.0, 0, slice(int(hz_bin), int(hz_bin + bins)), 32, swept=True)


def beeping_tone(hz: float, beat_hz: float, seconds: float, rate_hz: float) -> ToneCells:
    """The cells of a tone of amplitude 0.05 in faint noise, on for the first half of each beat; without a beat at 0."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    sound = 0.001 * np.random.default_rng(8).standard_normal(len(t))
    sound += 0.05 * np.sin(2 * np.pi * hz * t) * ((t * beat_hz) % 1.0 < 0.5)
    return tone_cells(sound.astype(np.float32), rate_hz, low_hz=150.0, high_hz=7000.0)


def square_level(frames: int, frames_a_beat: int, level: float) -> np.ndarray:
    """(frames,) a level for the first half of each beat, else 1."""
    return np.where(np.arange(int(frames)) % int(frames_a_beat) < frames_a_beat / 2, level, 1.0)


def flat_line() -> ToneCells:
    """Cells through which lines hold 0.2 nats, but for one bin at 0.9 all along."""
    cells = swept_tone(at_s=4.0, seconds=10.0, rate_hz=16_000.0)
    lines = np.full_like(cells.lines, 0.2)
    lines[:, int(np.searchsorted(cells.short_hz, cells.hz[530]))] = 0.9
    return replace(cells, lines=lines)


def slanted_line() -> np.ndarray:
    """(20 short frames, 200 bins) flat, but for seven cells on a line that rises 3 bins in 3 frames."""
    flat = np.zeros((20, 200), np.float32)
    for frame in range(-3, 4):
        flat[9 + frame, 100 + frame] = 8.0
    return np.exp(flat)


def no_knocks() -> np.ndarray:
    """Nowhere in `slanted_line`."""
    return np.zeros((20, 200), bool)


def place_cells() -> ToneCells:
    """The cells of a tone of 2.5 kHz that is passed at 4 s."""
    sound = tone_at_a_place(hz=2500.0, at_s=4.0, seconds=10.0, rate_hz=16_000.0)
    return tone_cells(sound, 16_000.0, low_hz=150.0, high_hz=7000.0)


def place_tone() -> Tone:
    """The tone of `place_cells`."""
    sound = tone_at_a_place(hz=2500.0, at_s=4.0, seconds=10.0, rate_hz=16_000.0)
    return find_tones(sound, 16_000.0, low_hz=150.0, high_hz=7000.0)[1][0]


def line_box(hz_bin: int, bins: int) -> Box:
    """A box that is followed as a line, or as a warble where it is wide."""
    return Box(0.0, 0, slice(int(hz_bin), int(hz_bin + bins)), 32)


def two_beeps() -> ToneCells:
    """The cells of two tones, 2.5 and 5.0 kHz, that are on together for half of each second."""
    t = np.arange(160_000) / 16_000.0
    sound = 0.001 * np.random.default_rng(8).standard_normal(len(t))
    sound += 0.05 * (np.sin(2 * np.pi * 2500.0 * t) + np.sin(2 * np.pi * 5000.0 * t)) * (t % 1.0 < 0.5)
    return tone_cells(sound.astype(np.float32), 16_000.0, low_hz=150.0, high_hz=7000.0)


def beep_courses() -> list[Course]:
    """The courses of both tones of `two_beeps`."""
    cells = two_beeps()
    return [follow(cells, line_box(int(np.searchsorted(cells.hz, hz)) - 1, 3)) for hz in (2500.0, 5000.0)]


def quick_beats() -> np.ndarray:
    """(short frames, bins of 31.25 Hz) power of noise, and in bins 20 to 23 of a tone on for 3 of each 8 frames."""
    power = np.random.default_rng(8).exponential(1.0, (600, 64)).astype(np.float32)
    power[np.arange(600) % 8 < 3, 20:24] += 100.0
    return power


def powers_of_16() -> np.ndarray:
    """(short frames, 4) of `quick_beats` in bands of 16 bins."""
    return quick_beats().reshape(600, 4, 16).sum(axis=2)


def bands_of_16() -> np.ndarray:
    """Four bands of 16 bins."""
    return np.array([0, 16, 32, 48, 64])


def knocked_line(knocked: bool) -> np.ndarray:
    """(100 frames, 8 bins) a line at 8 times the noise, a knock of 50 times in frames 40 to 45; or where that is."""
    if knocked:
        where = np.zeros((100, 1), bool)
        where[40:46] = True
        return where
    over = np.ones((100, 8), np.float32)
    over[:, 4] = 8.0
    over[40:46] = 50.0
    return over


def one_band() -> np.ndarray:
    """Eight bins of one band."""
    return np.zeros(8, int)


def beep_course(hz: float) -> Course:
    """The course of one tone of `two_beeps`."""
    cells = two_beeps()
    return follow(cells, line_box(int(np.searchsorted(cells.hz, hz)) - 1, 3))


def voiced(spoken: bool) -> np.ndarray:
    """(100 short frames, 80 bins of 31.25 Hz) noise at 1, and in frames 40 to 59 lines of 100 in each fifth bin: a
    pitch of 156 Hz; or in one bin alone."""
    cells = np.ones((100, 80), np.float32)
    cells[40:60, 2 :: 5 if spoken else 80] = 100.0
    return cells


def two_bands() -> np.ndarray:
    """(1 frame, 2 bands) the upper one crowded."""
    return np.array([[False, True]])


def place_course() -> Course:
    """The course of the tone of `place_cells`."""
    return place_tone().course


def drifting_cells() -> ToneCells:
    """The cells of a tone of the same loudness all along, that drifts by 12 Hz in a second."""
    t = np.arange(160_000) / 16_000.0
    sound = 0.02 * np.random.default_rng(8).standard_normal(len(t))
    sound += 0.05 * np.sin(2 * np.pi * np.cumsum(2500.0 + 12.0 * t) / 16_000.0)
    return tone_cells(sound.astype(np.float32), 16_000.0, low_hz=150.0, high_hz=7000.0)


def drifting_course() -> Course:
    """The course of a line through which the tone of `drifting_cells` drifts."""
    cells = drifting_cells()
    return follow(cells, line_box(int(np.searchsorted(cells.hz, 2590.0)) - 1, 2))
