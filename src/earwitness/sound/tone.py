"""A tone of unknown frequency and beat in noise, followed along a sweep.

Each bin of a short-time spectrum is divided by its own quiet level and by what rises all around it, so that hiss and
knocks cancel and a tone that comes and goes stands out. In noise alone a bin's power is exponentially distributed;
the mean of k of them goes to a standard normal deviate by Wilson & Hilferty (PNAS 17 (1931) 684), and the largest of
many such means is held against the number of looks. Boxes of several lengths and widths find steady, beating,
warbling and swept tones alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.sound.hiss import power_frames
from earwitness.sound.pulsing import find_peaks, running_mean, running_quantile

Array = NDArray[np.float64]
Samples = NDArray[np.float32]

_LONG_S, _LONG_HOP_S = 0.128, 0.064  # to find and follow the tone: 8 Hz bins
_SHORT_S, _SHORT_HOP_S = 0.032, 0.016  # to see its beat
_BLOCK = 3  # long frames taken together; of the blocks in a box the largest is left out: one knock makes no tone
_BOX_BLOCKS = (4, 8)  # 0.8 s and 1.5 s
_BOX_BINS = (1, 5, 21, 65)
_CAP = 20.0  # one cell counts at most this much over its floor
_USUAL = 0.5  # a place is louder than its line is in this part of the time (a beeper is not)
_BELOW_TOP_DB = 30.0  # outside the receiver's passband
_NOISE_BAND_HZ = 200.0
_PICTURE = (400, 200)
_SLOWEST_S = 1.4  # longest beat
_DRIFT_BINS = 4  # 30 Hz
_STANDS_BY = 1.6
_LOPSIDED = 4
_SWEPT_BINS = 21  # a box this wide holds a tone that is swept
_CANDIDATES = 5
_KNOCKS = 5.0  # beats that are on for a fifth of the time or more have a depth of 4 at most; knocks are shorter
_TINY = 1e-20


@dataclass(frozen=True)
class ToneTrack:
    """A tone along a recording, or the likeliest candidate for one.

    time_s : (frames,)
    level_db : (frames,) tone with the noise of its band, over its own quiet parts, gaps of the beat bridged
    lasting_db : the largest rise that stays for 0.4 s
    deviate : standard normal deviate of the strongest box, looks taken off: over 3 it is no chance of noise
    tone_hz, width_hz : middle and width of the band it moves in
    to_noise_db : the tone over the noise of a 200 Hz band, where it is strongest
    beat_hz : its beat; 0 where none is found
    beat_depth : variance of its power over the square of the mean, noise taken off (half on, half off: 1)
    long_depth : the same within a second to either side: slow beats
    wander_hz : spread of its frequency from frame to frame
    steady_db : what is left of it in its weaker parts, over the noise beside it in frequency (a wall that passes it)
    company_hz : width of all else, more than 1.2 kHz away, that rises with it: music and engines bring many lines
    picture_time_s, picture_hz, picture_db : the spectrogram at a size to draw, with its axes
    """

    time_s: Array
    level_db: Array
    lasting_db: float
    deviate: float
    tone_hz: float
    width_hz: float
    to_noise_db: float
    beat_hz: float
    beat_depth: float
    long_depth: float
    wander_hz: float
    steady_db: float
    company_hz: float
    picture_time_s: Array
    picture_hz: Array
    picture_db: NDArray[np.float32]

    @property
    def assured_db(self) -> float:
        """The largest lasting rise, less the more it may be chance, or knocks."""
        chance = min(1.0, max(self.deviate - 0.3, 0.0))
        return self.lasting_db * chance * min(1.0, _KNOCKS / max(self.beat_depth, 1e-9)) ** 2


def find_tone(samples: Samples, rate_hz: float, *, low_hz: float, high_hz: float) -> ToneTrack:
    """The tone that comes and goes the most within a range of frequencies.

    Parameters
    ----------
    samples : (n,) at least 2 s [full scale 1].
    rate_hz : sampling rate [Hz].
    low_hz : lower end of the range to look in [Hz].
    high_hz : its upper end, at most half the rate [Hz].

    Raises
    ------
    InputError
        if there is less than 2 s.
    """
    if len(samples) < 2 * rate_hz:
        raise InputError("samples", f"{len(samples) / rate_hz:.2f} s", "at least 2 s")
    hz, power = _passed(*_spectra(samples, rate_hz, _LONG_S, _LONG_HOP_S, low_hz, high_hz))
    short_hz, short = _spectra(samples, rate_hz, _SHORT_S, _SHORT_HOP_S, float(hz[0]), float(hz[-1]) + 1.0)
    over = _over_neighbours(power)
    boxes = _strongest_boxes(over)
    usual = round(0.75 * (len(over) - 1))  # a beeper that is on half the time is usual, a place is not
    over /= np.partition(over, usual, axis=0)[usual] / np.float32(np.log(4.0))
    lines, short_lines, steady = (hz, _of_three(power)), (short_hz, _of_three(short)), _steady_lines(power)
    tracks = [_follow(lines, short_lines, box, _lines_at(over, box, steady)) for box in boxes]
    best = max(tracks, key=lambda track: track.assured_db)
    time, drawn_hz, drawn = _picture(hz, power)
    to_noise, stays = _against_noise(hz, power, best)
    company = _company(hz, over, best)
    return replace(
        best,
        company_hz=company,
        to_noise_db=to_noise,
        steady_db=stays,
        picture_time_s=time,
        picture_hz=drawn_hz,
        picture_db=drawn,
    )


def _company(hz: Array, over: NDArray[np.float32], track: ToneTrack) -> float:
    """What else rises in the second around the tone's strongest place, away from it [Hz]."""
    top, reach = int(np.argmax(track.level_db)), round(0.5 / _LONG_HOP_S)
    mean = over[max(0, top - reach) : top + reach + 1].mean(axis=0)
    away = np.abs(hz - track.tone_hz) > track.width_hz / 2 + 1200.0
    return float((hz[1] - hz[0]) * np.count_nonzero(mean[away] > 3.0))


def _against_noise(hz: Array, power: NDArray[np.float32], track: ToneTrack) -> tuple[float, float]:
    """The tone over the noise of a 200 Hz band: where it is strongest, and where it is weakest for a second."""
    near = np.abs(hz - track.tone_hz)
    tone = power[:, near <= track.width_hz / 2 + 16.0].sum(axis=1, dtype=np.float64) * (hz[1] - hz[0])
    beside = (near > track.width_hz / 2 + 30.0) & (near < track.width_hz / 2 + 500.0)
    density = float(np.median(power[:, beside if beside.any() else near >= 0])) / np.log(2)
    noise = density * (hz[1] - hz[0]) * float((near <= track.width_hz / 2 + 16.0).sum())
    top = int(np.argmax(track.level_db))
    strongest = float(tone[max(0, top - 4) : top + 5].mean()) - noise
    weak = float(np.quantile(running_mean(tone, round(1.0 / _LONG_HOP_S)), 0.15)) - noise
    per_band = density * _NOISE_BAND_HZ
    return tuple(float(10 * np.log10(max(x, 1e-3 * noise) / per_band)) for x in (strongest, weak))  # type: ignore[return-value]


@dataclass(frozen=True)
class _Box:
    deviate: float
    frame: int  # its middle
    bins: slice


_Lines = tuple[Array, NDArray[np.float32]]  # frequencies, and the power of each bin with both its neighbours


def _follow(lines: _Lines, short: _Lines, box: _Box, mask: NDArray[np.bool_]) -> ToneTrack:
    """The level of one candidate along the whole recording."""
    hz, power = lines
    chosen = hz[mask]
    short_mask = np.zeros(len(short[0]), dtype=bool)
    short_mask[
        np.clip(np.round((chosen - short[0][0]) / (short[0][1] - short[0][0])).astype(int), 0, len(short_mask) - 1)
    ] = True
    followed = _strongest_bin(short[1], short_mask)
    beat_s = _period(*followed)
    tone, beside = _strongest_bin(power, mask)
    course = _bridged(tone, beside, beat_s)
    level = running_mean(course, 7)
    lasting = running_mean(running_quantile(course, 9, 0.3), 3)  # what stays for 0.4 s: knocks do not
    top_s = float(np.argmax(level)) * _LONG_HOP_S
    depth, _ = _depth(short, short_mask, *followed, top_s, 0.4)
    long_depth, wander = _depth(short, short_mask, *followed, top_s, 1.0)
    quiet = _quiet(level)
    return ToneTrack(
        (_LONG_S / 2 + _LONG_HOP_S * np.arange(len(level))).astype(np.float64),
        10 * np.log10(level / quiet),
        _rise(10 * np.log10(lasting / _quiet(lasting))),
        box.deviate,
        float(np.median(chosen)),
        float(chosen.max() - chosen.min()),
        0.0,
        1 / beat_s if beat_s else 0.0,
        depth,
        long_depth,
        wander,
        0.0,
        0.0,
        np.zeros(0),
        np.zeros(0),
        np.zeros((0, 0), np.float32),
    )


def _quiet(level: Array) -> float:
    """The quiet parts of a sweep: low for a second and a half, not a gap or a line that drifted out of sight."""
    frames = round(1.5 / _LONG_HOP_S)
    return float(np.quantile(running_quantile(running_quantile(level, frames, 1.0), frames, 0.0), 0.15))


def _rise(lasting_db: Array) -> float:
    """The largest rise that has both its flanks, the steeper no less than a quarter of the other: what is struck rises
    at once and dies away; where nothing rises so, at most 2 dB."""
    whole = [p for p in find_peaks(lasting_db, 2.0) if not p.open_ended]
    even = [p for p in whole if min(p.left, p.right) * _LOPSIDED >= max(p.left, p.right)]
    return max((float(lasting_db[p.index]) for p in even), default=float(min(lasting_db.max(), 2.0)))


def _picture(hz: Array, power: NDArray[np.float32]) -> tuple[Array, Array, NDArray[np.float32]]:
    """Means over blocks of at most 400 × 200 cells."""
    a, b = (max(1, -(-n // most)) for n, most in zip(power.shape, _PICTURE, strict=True))
    whole = power[: len(power) // a * a, : power.shape[1] // b * b]
    small = whole.reshape(len(whole) // a, a, -1, b).mean(axis=(1, 3))
    time = _LONG_S / 2 + _LONG_HOP_S * (np.arange(len(small)) * a + (a - 1) / 2)
    return time.astype(np.float64), hz[: whole.shape[1]].reshape(-1, b).mean(axis=1), 10 * np.log10(small)


def _spectra(
    samples: Samples, rate_hz: float, frame_s: float, hop_s: float, low_hz: float, high_hz: float
) -> tuple[Array, NDArray[np.float32]]:
    """Frequencies and power of the frames within a range."""
    hz, blocks = power_frames(samples, rate_hz, frame_s, hop_s)
    inside = slice(int(np.searchsorted(hz, low_hz)), int(np.searchsorted(hz, high_hz)))
    power = np.concatenate([b[:, inside] for b in blocks]).astype(np.float32, copy=False) + np.float32(_TINY)
    return hz[inside], power


def _passed(hz: Array, power: NDArray[np.float32]) -> tuple[Array, NDArray[np.float32]]:
    """Only what the receiver passes, if that is 500 Hz or more."""
    whole = power.shape[1] // 16 * 16
    cells = 10 * np.log10(np.median(power[::4, :whole].reshape(len(power[::4]), -1, 16), axis=(0, 2)))
    passed = np.flatnonzero(cells > cells.max() - _BELOW_TOP_DB)
    kept = slice(int(passed[0]) * 16, (int(passed[-1]) + 1) * 16)
    return (hz[kept], power[:, kept]) if kept.stop - kept.start >= 64 else (hz, power)


def _steady_lines(power: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Bins in which something stands by most of the time: a whine is no part of what comes and goes."""
    size = 2 * _DRIFT_BINS + 1
    total = np.cumsum(
        np.pad(power[::4], ((0, 0), (_DRIFT_BINS + 1, _DRIFT_BINS)), mode="reflect"), axis=1, dtype=np.float64
    )
    nine = total[:, size:] - total[:, :-size]  # a line that drifts stays within nine bins
    usual = np.partition(nine, len(nine) // 3, axis=0)[len(nine) // 3]
    every = np.arange(0, len(usual), 8)
    around = sliding_window_view(np.pad(usual, 48, mode="edge"), 97)[every]
    return np.asarray(usual > _STANDS_BY * np.interp(np.arange(len(usual)), every, np.median(around, axis=1)))


def _of_three(power: NDArray[np.float32]) -> NDArray[np.float32]:
    three = power.copy()
    three[:, 1:] += power[:, :-1]
    three[:, :-1] += power[:, 1:]
    return three


def _over_neighbours(power: NDArray[np.float32]) -> NDArray[np.float32]:
    """Each cell over what rises all around it, and no more than twenty times its bin's quiet level."""
    over = power.copy()
    for part in np.array_split(np.arange(power.shape[1]), max(1, min(power.shape[1] // 128, 8))):
        band = slice(int(part[0]), int(part[-1]) + 1)
        middle = (band.stop - band.start) // 2
        rise = np.partition(over[:, band], middle, axis=1)[:, middle]
        over[:, band] /= (rise / np.median(rise)).astype(np.float32)[:, None]
    frames = round(0.5 / _LONG_HOP_S)
    blocks = max(1, len(power) // frames)
    coarse = over[: blocks * frames].reshape(blocks, -1, power.shape[1]).mean(axis=1)
    quiet = np.partition(coarse, len(coarse) * 3 // 10, axis=0)[len(coarse) * 3 // 10]
    return np.minimum(over, np.float32(_CAP) * quiet, out=over)


def _strongest_boxes(over: NDArray[np.float32]) -> list[_Box]:
    """The boxes that rise the least likely over their own bins' other times, no two at one frequency."""
    found: list[_Box] = []
    count = len(over) // _BLOCK
    blocks = over[: count * _BLOCK].reshape(count, _BLOCK, -1).mean(axis=1)
    least = np.float32(1e-10) * blocks.max()  # what the running sum below can still resolve
    total = np.concatenate([np.zeros((count, 1)), np.cumsum(blocks, axis=1, dtype=np.float64)], axis=1)
    for width in _BOX_BINS:
        if width > over.shape[1] // 4:
            continue
        step = max(1, width // 4)
        narrow = ((total[:, width:] - total[:, :-width])[:, ::step] / width).astype(np.float32)
        narrow = np.maximum(narrow, least)
        for long in _BOX_BLOCKS:
            if long >= count:
                continue
            last = count - long + 1
            means, largest = narrow[:last].copy(), narrow[:last].copy()
            for i in range(1, long):
                means += narrow[i : last + i]
                np.maximum(largest, narrow[i : last + i], out=largest)
            means = (means - largest) / np.float32(long - 1)
            usual = round(_USUAL * (len(means) - 1))
            means /= np.partition(means, usual, axis=0)[usual]
            means /= np.median(means[:, ::4])
            degrees = 0.75 * _BLOCK * (long - 1) * max(1.0, width / 1.5)  # overlapping Hann frames, 1.5 bins wide
            looks = float(np.sqrt(2 * np.log(means.size * step / width)))
            best = means.max(axis=0)
            for _ in range(_CANDIDATES):
                column = int(np.argmax(best))
                value = _deviate(float(best[column]), degrees) - looks
                frame = round((int(np.argmax(means[:, column])) + long / 2) * _BLOCK)
                low, clear = column * step, (2 * width + 8) // step
                found.append(_Box(value, frame, slice(low, low + width)))
                best[max(0, column - clear) : column + clear + 1] = 0.0
    found.sort(key=lambda box: -box.deviate)
    kept: list[_Box] = []
    for box in found:
        if all(box.bins.stop + 8 < k.bins.start or box.bins.start > k.bins.stop + 8 for k in kept):
            kept.append(box)
    return kept[:_CANDIDATES]


def _deviate(mean: float, degrees: float) -> float:
    """Wilson-Hilferty: the mean of `degrees` unit exponentials as a standard normal deviate."""
    return float(3 * np.sqrt(degrees) * (mean ** (1 / 3) - 1 + 1 / (9 * degrees)))


def _lines_at(over: NDArray[np.float32], box: _Box, steady: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The bins that rise over what is usual in them in the second around a box: the emitter's lines or its range."""
    reach = round(0.6 / _LONG_HOP_S)
    bins = box.bins
    around = over[max(0, box.frame - reach) : box.frame + reach + 1]
    count = len(around) // _BLOCK
    blocks = around[: count * _BLOCK].reshape(count, _BLOCK, -1).mean(axis=1)
    mean = (blocks.sum(axis=0) - blocks.max(axis=0)) / max(count - 1, 1)
    top = float(mean[bins].max())
    mask = mean > max(1 + 0.4 * (top - 1), 2.5)
    mask[: max(0, bins.start - 128)] = False  # 1 kHz to either side at most
    mask[bins.stop + 128 :] = False
    if bins.stop - bins.start >= _SWEPT_BINS:
        mask[bins] = True
    mask &= ~steady
    mask[bins.start + int(np.argmax(mean[bins]))] = True
    return _widened(mask & steady, _DRIFT_BINS) | mask


def _widened(mask: NDArray[np.bool_], bins: int) -> NDArray[np.bool_]:
    return np.convolve(mask, np.ones(2 * bins + 1), "same")[: len(mask)] > 0.5


def _strongest_bin(three: NDArray[np.float32], mask: NDArray[np.bool_]) -> tuple[Array, Array]:
    """The strongest line within the mask, frame by frame, and what noise alone would give there.

    The latter is found in masks of the same shape beside it, and the lesser half of them believed.
    """
    bins = np.flatnonzero(mask)
    span = int(bins[-1] - bins[0]) + 8
    beside = []
    for shift in (span, -span, 2 * span, -2 * span, 3 * span, -3 * span):
        moved = bins + shift
        if moved[0] >= 0 and moved[-1] < three.shape[1]:
            beside.append(three[:, moved].max(axis=1))
    if not beside:
        beside.append(np.median(three, axis=1) * np.float32(1 + np.log(len(bins))))
    few = np.sort(running_mean(np.stack(beside, axis=1), 9), axis=1)[:, : max(1, len(beside) // 2)]
    return three[:, bins].max(axis=1).astype(np.float64), np.asarray(few.mean(axis=1), dtype=np.float64)


def _bridged(tone: Array, beside: Array, beat_s: float) -> Array:
    """Power of the tone, the noise's surges taken off; gaps of the beat closed over less than a period."""
    surge = np.maximum(beside - float(np.median(beside)), 0.0)
    course = np.maximum(tone - 1.5 * surge, 0.3 * float(np.median(beside)))
    frames = round(0.75 * beat_s / _LONG_HOP_S) | 1
    if frames > 2:
        course = running_quantile(running_quantile(running_mean(course, 3), frames, 1.0), frames, 0.0)
    course = np.minimum(course, 4 * running_quantile(course, 7, 0.5))  # a knock is shorter than a place
    return np.asarray(course + _TINY, dtype=np.float64)


def _depth(
    short: _Lines, mask: NDArray[np.bool_], tone: Array, beside: Array, at_s: float, reach_s: float
) -> tuple[float, float]:
    """Depth of the beat and wandering of the frequency within a reach of a time."""
    centre = round(at_s / _SHORT_HOP_S)
    reach = round(reach_s / _SHORT_HOP_S)
    near = slice(max(0, centre - reach), centre + reach + 1)
    noise = float(np.median(beside[near]))
    net = np.maximum(tone[near] - noise, 0.0)
    mean = max(float(net.mean()), 0.5 * noise)
    spread = float(net.var()) - 0.2 * (2 * mean * noise + noise**2)
    strong = np.flatnonzero(tone[near] > 3 * noise)
    wander = 0.0
    if len(strong) >= 8:
        hz, power = short
        tops = hz[mask][np.argmax(power[near][:, mask][strong], axis=1)]
        wander = float(np.quantile(tops, 0.85) - np.quantile(tops, 0.15))
    return float(max(spread, 0.0) / mean**2), wander


def _period(tone: Array, beside: Array) -> float:
    """Beat period: the first strong peak of the autocorrelation of the level; 0 where there is none."""
    course = 10 * np.log10(np.maximum(tone - beside, 0.3 * beside) + _TINY)
    course = course - running_mean(course, round(_SLOWEST_S / _SHORT_HOP_S))
    longest = min(round(_SLOWEST_S / _SHORT_HOP_S), len(course) // 2)
    if longest < 6 or not np.any(course):
        return 0.0
    # each lag over the same stretch, the last `longest` frames left out of the one
    kept = course[: len(course) - longest]
    corrected = np.correlate(course, kept, "valid") / max(float(kept @ kept), _TINY)
    dip = int(np.argmax(corrected < 0.05))
    if dip == 0:
        return 0.0
    inner = corrected[1:-1]
    tops = np.flatnonzero((inner >= corrected[:-2]) & (inner > corrected[2:])) + 1
    tops = tops[tops > dip]
    if not len(tops) or corrected[tops].max() < 0.3:
        return 0.0
    return float(tops[np.argmax(corrected[tops] > 0.8 * corrected[tops].max())]) * _SHORT_HOP_S
