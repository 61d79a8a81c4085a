"""A tone of unknown frequency and beat in noise, followed along a sweep.

Each bin of a short-time spectrum is divided by its own quiet level and by what rises all around it, so that hiss and
knocks cancel and a tone that comes and goes stands out. In noise alone a bin's power is exponentially distributed;
the mean of k of them goes to a standard normal deviate by Wilson & Hilferty (PNAS 17 (1931) 684), and the largest of
many such means is held against the number of looks. Boxes of several lengths and widths find steady, beating,
warbling and swept tones alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.sound.hiss import power_frames
from earwitness.sound.pulsing import running_mean, running_quantile

Array = NDArray[np.float64]
Samples = NDArray[np.float32]

_LONG_S, _LONG_HOP_S = 0.128, 0.064  # to find the tone: 8 Hz bins
_SHORT_S, _SHORT_HOP_S = 0.032, 0.016  # to follow its beat
_OVER_TIME_S = (0.3, 1.0)
_OVER_BINS = (1, 5, 21, 65)
_CAP = 10.0  # one cell counts at most this much over its floor: a single knock makes no tone
_NOISE_BAND_HZ = 200.0
_SLOWEST_S = 1.4  # longest beat
_TINY = 1e-20


@dataclass(frozen=True)
class ToneTrack:
    """A tone along a recording, or the likeliest candidate for one.

    time_s : (frames,)
    level_db : (frames,) tone over its own quiet parts, gaps of the beat bridged
    raw_db : (frames,) the same with the beat in it
    deviate : standard normal deviate of the strongest box, looks taken off: over 3 it is no chance of noise
    tone_hz, width_hz : middle and width of the band it moves in
    to_noise_db : the tone over the noise of a 200 Hz band, where it is strongest
    beat_hz : its beat; 0 where none is found
    beat_depth_db : how far it falls between beats, where it is strongest
    steady_db : what is left of it in its weakest parts, over the noise beside it in frequency (a wall that passes it)
    lines : number of separate lines that come and go together
    """

    time_s: Array
    level_db: Array
    raw_db: Array
    deviate: float
    tone_hz: float
    width_hz: float
    to_noise_db: float
    beat_hz: float
    beat_depth_db: float
    steady_db: float
    lines: int


def find_tone(samples: Samples, rate_hz: float, *, low_hz: float, high_hz: float) -> ToneTrack:
    """The tone that comes and goes the most within a range of frequencies.

    Parameters
    ----------
    samples : (n,) at least 1 s [full scale 1].
    rate_hz : sampling rate [Hz].
    low_hz, high_hz : the range to look in, below half the rate [Hz].

    Raises
    ------
    InputError
        if there is less than 1 s.
    """
    if len(samples) < rate_hz:
        raise InputError("samples", f"{len(samples) / rate_hz:.2f} s", "at least 1 s")
    hz, power = _spectra(samples, rate_hz, _LONG_S, _LONG_HOP_S, low_hz, high_hz)
    over = _over_quiet(power)
    deviate, at, bins = _strongest_box(over)
    mask = _lines_at(over, at, bins)
    chosen = hz[mask]
    short_hz, short = _spectra(samples, rate_hz, _SHORT_S, _SHORT_HOP_S, low_hz, high_hz)
    near = np.zeros(len(short_hz), dtype=bool)
    step = short_hz[1] - short_hz[0]
    near[np.clip(np.round((chosen - short_hz[0]) / step).astype(int), 0, len(near) - 1)] = True
    tone = short[:, near].sum(axis=1)
    beside = _beside(short, near)
    raw_db = 10 * np.log10(tone / (beside + _TINY) + _TINY)
    time = (_SHORT_S / 2 + _SHORT_HOP_S * np.arange(len(tone))).astype(np.float64)
    beat_s = _beat(raw_db, time, at * _LONG_HOP_S)
    bridged = _bridged(raw_db, beat_s)
    quiet = float(np.quantile(bridged, 0.2))
    top = int(np.argmax(bridged))
    around = slice(max(0, top - 30), top + 31)
    depth = float(np.quantile(raw_db[around], 0.9) - np.quantile(raw_db[around], 0.15))
    in_band = 10 * np.log10(step * near.sum() / _NOISE_BAND_HZ)
    strongest = 10 * np.log10(max(10 ** (float(bridged[top]) / 10) - 1, 1e-3))
    return ToneTrack(
        time,
        bridged - quiet,
        raw_db - quiet,
        deviate,
        float(np.median(chosen)),
        float(chosen.max() - chosen.min()),
        float(strongest + in_band),
        1 / beat_s if beat_s else 0.0,
        depth,
        quiet,
        int(1 + (np.diff(chosen) > 150.0).sum()),
    )


def _spectra(
    samples: Samples, rate_hz: float, frame_s: float, hop_s: float, low_hz: float, high_hz: float
) -> tuple[Array, NDArray[np.float32]]:
    hz, blocks = power_frames(samples, rate_hz, frame_s, hop_s)
    inside = slice(int(np.searchsorted(hz, low_hz)), int(np.searchsorted(hz, high_hz)))
    return hz[inside], np.concatenate([b[:, inside] for b in blocks]).astype(np.float32, copy=False)


def _over_quiet(power: NDArray[np.float32]) -> NDArray[np.float32]:
    """Each cell over its bin's quiet level and over what rises all around it; about 1 in noise."""
    frames = round(0.5 / _LONG_HOP_S)
    blocks = max(1, len(power) // frames)
    coarse = power[: blocks * frames].reshape(blocks, -1, power.shape[1]).mean(axis=1)
    quiet = np.quantile(coarse, 0.3, axis=0) + np.float32(_TINY)
    over = power / quiet.astype(np.float32)
    wide = max(1, min(power.shape[1] // 128, 8))
    for part in np.array_split(np.arange(power.shape[1]), wide):
        band = slice(int(part[0]), int(part[-1]) + 1)
        rise = np.median(over[:, band], axis=1) / np.log(2)
        over[:, band] /= np.maximum(rise, 1e-6)[:, None].astype(np.float32)
    return np.minimum(over, np.float32(_CAP), out=over)


def _strongest_box(over: NDArray[np.float32]) -> tuple[float, int, slice]:
    """Deviate, frame and bins of the box whose mean is the least likely in noise."""
    best, at, bins = -np.inf, 0, slice(0, 1)
    typical = float(np.mean(np.minimum(over, 3.0))) / 0.9502  # E[min(x, 3)] of a unit exponential
    looks = over.size / 8.0
    for seconds in _OVER_TIME_S:
        frames = min(round(seconds / _LONG_HOP_S) | 1, len(over))
        in_time = running_mean(over, frames)
        total = np.concatenate([np.zeros((len(over), 1)), np.cumsum(in_time, axis=1)], axis=1)
        for width in _OVER_BINS:
            if width > over.shape[1] // 4:
                continue
            means = (total[:, width:] - total[:, :-width]) / width / typical
            degrees = 0.75 * frames * max(1.0, width / 1.5)  # overlapping Hann frames, 1.5 bins wide
            peak = int(np.argmax(means))
            value = _deviate(float(means.flat[peak]), degrees) - np.sqrt(2 * np.log(looks / width))
            if value > best:
                best = value
                at, first = divmod(peak, means.shape[1])
                bins = slice(first, first + width)
    return float(best), at, bins


def _deviate(mean: float, degrees: float) -> float:
    """Wilson-Hilferty: the mean of `degrees` unit exponentials as a standard normal deviate."""
    return float(3 * np.sqrt(degrees) * (mean ** (1 / 3) - 1 + 1 / (9 * degrees)))


def _lines_at(over: NDArray[np.float32], at: int, bins: slice) -> NDArray[np.bool_]:
    """The bins that stand out in the second around the strongest box: the emitter's lines or its range."""
    reach = round(0.5 / _LONG_HOP_S)
    mean = over[max(0, at - reach) : at + reach + 1].mean(axis=0)
    smooth = running_mean(mean, 3)
    top = float(smooth[bins].max())
    mask = smooth > max(1 + 0.35 * (top - 1), 2.0)
    mask[bins] = True
    return mask


def _beside(power: NDArray[np.float32], near: NDArray[np.bool_]) -> Array:
    """The noise that falls on the tone's bins, judged by the quiet bins nearest to them, frame by frame, smoothed."""
    centre = int(np.median(np.flatnonzero(near)))
    away = np.flatnonzero(~_widened(near))
    closest = away[np.argsort(np.abs(away - centre), kind="stable")[:32]]
    each = np.median(power[:, closest], axis=1) / np.log(2)
    return np.asarray(running_mean(each, 9) * near.sum(), dtype=np.float64)


def _widened(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    wide = mask.copy()
    for shift in (1, 2, 3):
        wide[shift:] |= mask[:-shift]
        wide[:-shift] |= mask[shift:]
    return wide


def _beat(raw_db: Array, time: Array, at_s: float) -> float:
    """Period of the beat around the strongest place, 0 where there is none: first strong peak of autocorrelation."""
    around = np.abs(time - at_s) < 2.5
    course = raw_db[around]
    course = np.clip(course, np.quantile(course, 0.1), None)
    course = course - running_mean(course, round(_SLOWEST_S / _SHORT_HOP_S))
    longest = min(round(_SLOWEST_S / _SHORT_HOP_S), len(course) // 2)
    if longest < 6 or not np.any(course):
        return 0.0
    full = np.correlate(course, course, "full")[len(course) - 1 :]
    corrected = full[: longest + 1] / full[0] * len(course) / (len(course) - np.arange(longest + 1))
    first_dip = int(np.argmax(corrected < 0.05))
    if first_dip == 0:
        return 0.0
    lag = first_dip + int(np.argmax(corrected[first_dip:]))
    if corrected[lag] < 0.3 or lag >= longest:
        return 0.0
    return lag * _SHORT_HOP_S


def _bridged(raw_db: Array, beat_s: float) -> Array:
    """Gaps of the beat closed (a maximum, then a minimum, over less than one period), then smoothed."""
    frames = round(0.75 * beat_s / _SHORT_HOP_S) | 1 if beat_s else 1
    power = running_mean(10 ** (raw_db / 10), 3)
    if frames > 2:
        power = running_quantile(running_quantile(power, frames, 1.0), frames, 0.0)
    return 10 * np.log10(running_mean(power, round(0.3 / _SHORT_HOP_S)) + _TINY)
