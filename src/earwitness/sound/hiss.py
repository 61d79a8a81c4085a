"""Steady broadband hiss, told apart from tones, voices, knocks and puffs that share its band.

Turbulent noise is Gaussian: its power in the bins of a short-time spectrum is exponentially distributed, so the mean
follows from any order statistic (the k-th least of n has the mean Σ 1/(n−i), i < k; Rényi 1953). A tone fills few of
the bins of a band, a knock few of the frames, a voice comes and goes: low order statistics over bins and low quantiles
over frames look through all three and see the hiss beneath.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.sound.pulsing import Bursts, find_bursts, running_mean, running_quantile

Array = NDArray[np.float64]
Samples = NDArray[np.float32]

FRAME_S = 0.04
HOP_S = 0.02
_BLOCK = 64  # frames at once
_LEAST_BAND_HZ = 300.0  # a tone fills 4 of the 12 bins of such a band
_BELOW_TOP_DB = 20.0  # a band this far below the strongest lies outside the receiver's passband
_RISEN = 0.75  # quantile over bands: a quarter of them must rise together (a resonant sensor passes no more)
_SWELL_DB = 4.0  # from here on the hiss counts as swelling, not steady
_OVER_NEIGHBOURS_DB = 8.0
_MOSTLY_BURSTS = 0.6  # from this share of the time on, only what never falls silent counts as steady
_LEAST_LOUD_S = 0.2
_NEAR_TOP_DB = 3.0
_READ_S = 0.25  # a display takes about so long to rise
_KNOCK_S = 0.2  # a knock rings for less, a probe passes in no less
_STILL_FALLING = 0.8  # over the last fifth of the time between two puffs
_LEAST_LEFT_DB = -15.0
_PICTURE = (400, 200)
_TINY = 1e-20


@dataclass(frozen=True)
class ShortTimeBands:
    """Power over time and frequency, in bands of a sixth of an octave but no narrower than 300 Hz.

    time_s : (frames,) middle of each frame
    edges_hz : (bands + 1,)
    hiss : (frames, bands) mean power of the noise by its quiet bins, mean-square full scale per Hz
    power : (frames, bands) mean of the bins, same unit
    picture_db : (times, freqs) the spectrogram at a size to draw, with its axes
    """

    time_s: Array
    edges_hz: Array
    hiss: Array
    power: Array
    picture_time_s: Array
    picture_hz: Array
    picture_db: NDArray[np.float32]


@dataclass(frozen=True)
class Hiss:
    """The hiss beneath everything else.

    time_s : (frames,)
    curve_db : (frames,) broadband rise over the recording's own quiet parts, bursts and knocks looked through
    edged_db : (frames,) the same before it was smoothed: what was switched still has its edges
    raw_db : (frames,) the same before that
    spectrum_db : (bands,) the hiss where it is loudest, mean-square full scale per Hz
    floor_db : (bands,) the hiss of the quiet parts
    bands : (bands,) True where the receiver passes sound
    typical_db : (bands,) the hiss in the middle of its course over time
    share_db : hiss where it is loudest over all sound: there, where it swells by 4 dB or more, else over the whole
    quiet_db : hiss of the quiet parts over that where it is loudest
    loudest_db : all sound in its loudest quarter of a second, knocks looked through, or while puffs last, over that of
        which the share is
    unsteady_db : robust spread of the short-time level about its half-second course, as far as all bands share it
        (nothing in Gaussian noise, whose bands know nothing of each other)
    bursts : sharp-fronted bursts found in `raw_db`
    """

    time_s: Array
    curve_db: Array
    edged_db: Array
    raw_db: Array
    spectrum_db: Array
    floor_db: Array
    typical_db: Array
    bands: NDArray[np.bool_]
    share_db: float
    quiet_db: float
    loudest_db: float
    unsteady_db: float
    bursts: Bursts


def short_time_bands(samples: Samples, rate_hz: float, *, low_hz: float, high_hz: float) -> ShortTimeBands:
    """Power in 40 ms frames, every 20 ms, by bands.

    Parameters
    ----------
    samples : (n,) at least 0.2 s [full scale 1].
    rate_hz : sampling rate [Hz].
    low_hz : lower end of the range to look at [Hz].
    high_hz : its upper end, at most half the rate [Hz].

    Raises
    ------
    InputError
        if there is less than 0.2 s, or no band fits between low and high.
    """
    if len(samples) < 0.2 * rate_hz:
        raise InputError("samples", f"{len(samples) / rate_hz:.3f} s", "at least 0.2 s")
    edges = _band_edges(low_hz, min(high_hz, rate_hz / 2))
    frequency, blocks = power_frames(samples, rate_hz, FRAME_S, HOP_S, taper=4)
    first = np.searchsorted(frequency, edges)
    inside = slice(int(first[0]), int(first[-1]))
    per_bin = max(1, -(-(inside.stop - inside.start) // _PICTURE[1]))
    usable = (inside.stop - inside.start) // per_bin * per_bin
    hiss, power, picture = [], [], []
    for block in blocks:
        parts = [block[:, a:b] for a, b in pairwise(first)]
        hiss.append(np.stack([_noise_mean(p) for p in parts], axis=1))
        power.append(np.stack([p.mean(axis=1) for p in parts], axis=1))
        seen = block[:, inside.start : inside.start + usable]
        picture.append(seen.reshape(len(block), -1, per_bin).mean(axis=2))
    drawn = np.concatenate(picture)
    per_frame = max(1, -(-len(drawn) // _PICTURE[0]))
    whole = max(1, len(drawn) // per_frame) * per_frame
    drawn = drawn[:whole].reshape(-1, min(per_frame, whole), drawn.shape[1]).mean(axis=1)
    time = (FRAME_S / 2 + HOP_S * np.arange(sum(len(h) for h in hiss))).astype(np.float64)
    centres = frequency[inside.start : inside.start + usable].reshape(-1, per_bin).mean(axis=1)
    return ShortTimeBands(
        time,
        edges,
        np.concatenate(hiss).astype(float),
        np.concatenate(power).astype(float),
        np.asarray(time[:whole].reshape(len(drawn), -1).mean(axis=1), float),
        centres,
        (10 * np.log10(drawn + _TINY)).astype(np.float32),
    )


def steady_hiss(bands: ShortTimeBands) -> Hiss:
    """The hiss beneath tones, voices, knocks and puffs, and how it goes over time.

    Parameters
    ----------
    bands : what `short_time_bands` returned.
    """
    # digital silence is a gap in the recording, not a quiet part, nor is a frame that reaches into it
    sounding = running_quantile((bands.power.sum(axis=1) > _TINY).astype(np.float64), 3, 0) > 0
    if not sounding.all() and sounding.sum() > 0.3 / HOP_S:
        bands = replace(bands, time_s=bands.time_s[sounding], hiss=bands.hiss[sounding], power=bands.power[sounding])
    hiss_db = 10 * np.log10(bands.hiss + _TINY)
    smooth = running_mean(bands.hiss, round(0.3 / HOP_S))
    floor_db = 10 * np.log10(np.quantile(smooth, 0.2, axis=0) + _TINY)
    typical_db = _without_lines(10 * np.log10(np.quantile(smooth, 0.5, axis=0) + _TINY))
    passed = typical_db > typical_db.max() - _BELOW_TOP_DB
    raw = np.quantile(hiss_db[:, passed] - floor_db[passed], _RISEN, axis=1)
    bursts = find_bursts(running_quantile(raw, 3, 0.5), HOP_S)
    # a low quantile looks through knocks; what it takes from plain noise goes out with the floor
    edged = running_quantile(_bridged(raw, bursts.mask), round(_KNOCK_S / HOP_S), 0.3)
    curve = running_mean(edged, round(_KNOCK_S / HOP_S))
    curve -= np.quantile(curve, 0.2)
    widths = np.where(passed, np.diff(bands.edges_hz), 0.0)
    power = bands.power @ widths
    loudest, heard = _loudest(bands.hiss, power, curve, bursts)
    read = running_quantile(power, round(_READ_S / HOP_S), 0.5).max()
    if bursts.maybe_rhythmic:
        read = max(read, power[bursts.mask].mean())
    spectrum_db = _without_lines(10 * np.log10(loudest + _TINY)) + _settled_db(bands.hiss @ widths, bursts)
    hiss, quiet = (10 ** (spectrum / 10) @ widths + _TINY for spectrum in (spectrum_db, floor_db))
    return Hiss(
        bands.time_s,
        curve,
        edged,
        raw,
        spectrum_db,
        floor_db,
        typical_db,
        passed,
        float(10 * np.log10(hiss / (heard + _TINY))),
        min(0.0, float(10 * np.log10(quiet / hiss))),
        float(10 * np.log10(read / (heard + _TINY) + _TINY)),
        _unsteady_db(hiss_db[:, passed] - floor_db[passed], bursts.mask),
        bursts,
    )


def _loudest(hiss: Array, power: Array, curve: Array, bursts: Bursts) -> tuple[Array, float]:
    """The hiss of each band where its course is loudest, between bursts, and the power of all that is heard: there,
    where it swells and nothing else is louder, else over the whole. Where there is little else than bursts: what never
    falls silent."""
    calm = running_quantile(bursts.mask.astype(np.float64), round(0.1 / HOP_S), 1.0) == 0
    if calm.mean() < 1 - _MOSTLY_BURSTS:
        return np.quantile(hiss, 0.1, axis=0), float(power.mean())
    top = float(curve[calm].max())
    if top >= _SWELL_DB:
        loud = calm & (curve >= top - _NEAR_TOP_DB)
        if loud.sum() * HOP_S >= _LEAST_LOUD_S:
            return np.quantile(hiss[loud], 0.4, axis=0), max(float(power[loud].mean()), float(power.mean()))
    loud = calm & (curve >= np.quantile(curve[calm], 0.9) - 0.5)
    return np.quantile(hiss[loud if loud.sum() * HOP_S >= _LEAST_LOUD_S else calm], 0.4, axis=0), float(power.mean())


def _settled_db(power: Array, bursts: Bursts) -> float:
    """What would be left after puffs in rhythm if the next did not come, over what is left when it comes.

    Air let off dies away as a·r^t + c; from the means p1, p2, p3 over three equal parts of the time before the next
    front, c = (p1·p3 − p2²) / (p1 + p3 − 2·p2). A leak beneath the puffs is c.
    """
    if bursts.period_s is None or not bursts.dying:
        return 0.0
    fronts = np.round(bursts.onsets_s / HOP_S).astype(int) - 1
    parts = []
    for a, b in pairwise(fronts):
        n = int((b - a) * 0.6 / 3)
        if n >= 2 and bursts.mask[a:b].mean() > 0.5:  # else it was over long before the next
            parts.append([power[b - (k + 1) * n : b - k * n].mean() for k in (2, 1, 0)])
    if len(parts) < 2:
        return 0.0
    first, second, third = np.median(np.asarray(parts), axis=0)
    if third > _STILL_FALLING * second:
        return 0.0
    bend = first + third - 2 * second
    rest = (first * third - second**2) / bend if bend > 0 else 0.0
    return float(10 * np.log10(np.clip(rest / third, _TINY + 10 ** (_LEAST_LEFT_DB / 10), 1.0)))


def _unsteady_db(level_db: Array, mask: NDArray[np.bool_]) -> float:
    """What two halves of the bands, taken by turns, do together: var((a+b)/2) − var((a−b)/2) is their covariance."""
    halves = [_bridged(np.median(level_db[:, k::2], axis=1), mask) for k in range(min(2, level_db.shape[1]))]
    a, b = (half - running_mean(half, round(0.5 / HOP_S)) for half in (halves[0], halves[-1]))
    together, apart = (1.4826 * float(np.median(np.abs(x))) for x in ((a + b) / 2, (a - b) / 2))
    return float(np.sqrt(max(0.0, together**2 - apart**2)))


def _without_lines(spectrum_db: Array) -> Array:
    """A band that several tones fill stands far above its neighbours; hiss through any sensor does not."""
    out = spectrum_db.copy()
    for band in range(len(out)):
        others = np.argsort(np.abs(np.arange(len(out)) - band), kind="stable")[1:5]
        if len(others):
            out[band] = min(out[band], float(np.median(spectrum_db[others])) + _OVER_NEIGHBOURS_DB)
    return out


def _bridged(raw: Array, mask: NDArray[np.bool_]) -> Array:
    """Bursts bridged from before to after; where there is little else, only what never falls silent is kept."""
    if mask.mean() > _MOSTLY_BURSTS:
        return running_quantile(raw, round(1.0 / HOP_S), 0.05)
    keep = np.flatnonzero(~mask)
    return np.where(mask, np.interp(np.arange(len(raw)), keep, running_quantile(raw[keep], 9, 0.5)), raw)


def _band_edges(low_hz: float, high_hz: float) -> Array:
    edges = [low_hz]
    while True:
        step = max(_LEAST_BAND_HZ, edges[-1] * (2 ** (1 / 6) - 1))
        if edges[-1] + step > high_hz * 1.0001:
            break
        edges.append(edges[-1] + step)
    if len(edges) < 2:
        raise InputError("high_hz", high_hz, f"at least {low_hz + _LEAST_BAND_HZ:.0f} Hz")
    return np.asarray(edges)


def _noise_mean(power: Array) -> Array:
    """Mean of the noise in each row, by the third of its bins that are the quietest."""
    count = power.shape[1]
    k = count // 3
    expected = float(np.sum(1.0 / (count - np.arange(k + 1))))
    return np.partition(power, k, axis=1)[:, k] / expected


def power_frames(
    samples: Samples, rate_hz: float, frame_s: float, hop_s: float, *, taper: int = 2
) -> tuple[Array, Iterator[Array]]:
    """Frequencies, and the power density of the frames, a block of frames at a time [full scale² / Hz].

    Parameters
    ----------
    samples : (n,) any length; short ones are padded to a frame [full scale 1].
    rate_hz : sampling rate [Hz].
    frame_s : length of a frame [s].
    hop_s : time from frame to frame [s].
    taper : frames are multiplied by sin(πt) to this power: 2 is Hann's window, 4 has side lobes below −46 dB.
    """
    from scipy.fft import next_fast_len, rfft

    frame, hop = round(frame_s * rate_hz), round(hop_s * rate_hz)
    size = next_fast_len(frame, real=True)
    window = (np.sin(np.pi * np.arange(frame) / frame) ** taper).astype(np.float32)
    window *= np.float32(np.sqrt(2 / (rate_hz * float(np.sum(window.astype(float) ** 2)))))
    if len(samples) < frame:
        samples = np.pad(samples, (0, frame - len(samples)))
    frames = sliding_window_view(samples, frame)[::hop]

    def blocks() -> Iterator[Array]:
        for start in range(0, len(frames), _BLOCK):
            yield np.square(np.abs(rfft(frames[start : start + _BLOCK] * window, size, axis=1)))

    return np.fft.rfftfreq(size, 1 / rate_hz).astype(float), blocks()
