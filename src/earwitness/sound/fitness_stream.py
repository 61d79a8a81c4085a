"""What the fitness check measures, in one pass over blocks of any size: a stream that remembers little.

Digital silence (samples that are exactly zero) at either end is left out before anything is measured, and the sound
is cut into the same pieces however it arrives, so that neither changes a result.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Samples = NDArray[np.float32]
PIECE = 65_536  # about how many samples are measured at a time
HOP_S = 0.005  # step of the level track
FRAMES_A_PIECE = 32  # short frames kept of each piece, for the look of the noise
MOST_FRAMES = 768
SLOW_S = 30.0  # how much of the decimated sound is kept for the mains lines
PLATEAU = np.float32(1e-4)  # samples this close to the extreme count as being at it


@dataclass
class Plateau:
    """How often one side's extreme was reached: samples at it, those within 3 % below it, and runs by length."""

    extreme: float = 0.0
    at: int = 0
    near: int = 0
    singles: int = 0
    pairs: int = 0
    longer: int = 0

    def add(self, other: Plateau) -> None:
        if other.extreme > self.extreme * (1 + PLATEAU):
            self.__dict__.update(other.__dict__)
        elif other.extreme >= self.extreme * (1 - PLATEAU):
            for name in ("at", "near", "singles", "pairs", "longer"):
                setattr(self, name, getattr(self, name) + getattr(other, name))


@dataclass
class Stream:
    """Feed it with `add`, then `finish`; the fields then hold what was measured."""

    rate_hz: float
    given: int = 0  # samples seen
    start: int = 0  # first sample that is not digital silence
    stop: int = 0
    count: int = 0  # samples measured: stop − start
    bad: int = 0  # samples that are no numbers
    total: float = 0.0
    first: float = 0.0  # value of the first sample measured
    squares: float = 0.0  # about that value: an offset would drown what little stands on it
    least: float = np.inf
    most: float = -np.inf
    step: float = np.inf  # smallest difference between samples: the quantisation
    high: Plateau = field(default_factory=Plateau)
    low: Plateau = field(default_factory=Plateau)
    dropouts: int = 0
    dropped: int = 0  # samples in dropouts
    flat: int = 0  # samples of digital silence between sounds
    first_dropout: int | None = None
    power: list[NDArray[np.float64]] = field(default_factory=list)
    slow: list[Samples] = field(default_factory=list)
    frames: list[NDArray[np.float32]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.slow_by = max(1, round(self.rate_hz * HOP_S / 10))
        self.hop = 10 * self.slow_by
        self._piece = self.hop * max(1, PIECE // self.hop)
        self._held: list[Samples] = []
        self._held_count = 0
        self._zeros = 0
        self._frame = 2 ** round(np.log2(max(64.0, self.rate_hz * 0.02)))
        self._window = np.hanning(self._frame + 1)[:-1].astype(np.float32)

    def add(self, block: Samples) -> None:
        """The next samples, (n,)."""
        block = np.asarray(block, np.float32)
        if block.ndim != 1:
            raise ValueError("one channel at a time")
        self.given += len(block)
        if not len(block):
            return
        if not np.isfinite(np.dot(block, block)):
            finite = np.isfinite(block)
            self.bad += int(len(block) - np.count_nonzero(finite))
            block = np.where(finite, block, np.float32(0))
        if block[0] == 0 or block[-1] == 0:
            live = np.flatnonzero(block)
            if not len(live):
                self._zeros += len(block)
                return
            before, after = int(live[0]), len(block) - 1 - int(live[-1])
        else:
            before = after = 0
        if self._held_count or self.count:
            self._zeros += before
            while self._zeros:  # silence between sounds belongs to the sound
                few = min(self._zeros, self._piece)
                self._take(np.zeros(few, np.float32))
                self._zeros -= few
        else:
            self.start = self.given - len(block) + before
        self._zeros = after
        self._take(block[before : len(block) - after])

    def finish(self) -> None:
        rest = np.concatenate(self._held) if self._held else np.zeros(0, np.float32)
        self._held, self._held_count = [], 0
        if len(rest):
            self._measure(rest)
        self.stop = self.start + self.count

    def _take(self, block: Samples) -> None:
        self._held.append(block)
        self._held_count += len(block)
        if self._held_count < self._piece:
            return
        whole = np.concatenate(self._held) if len(self._held) > 1 else self._held[0]
        cut = len(whole) - len(whole) % self._piece
        for at in range(0, cut, self._piece):
            self._measure(whole[at : at + self._piece])
        self._held, self._held_count = ([whole[cut:]], len(whole) - cut) if cut < len(whole) else ([], 0)

    def _measure(self, x: Samples) -> None:
        if not self.count:
            self.first = float(x[0])
        moved = x - np.float32(self.first)
        self.total += float(x.sum(dtype=np.float64))
        self.squares += float(np.dot(moved, moved))
        gaps = np.abs(np.diff(x[:4096]))
        self.step = min(self.step, float(np.min(gaps, initial=np.inf, where=gaps > 0)))
        least, most = float(x.min()), float(x.max())
        self.least, self.most = min(self.least, least), max(self.most, most)
        for side, extreme, sign in ((self.high, most, 1), (self.low, -least, -1)):
            if extreme >= side.extreme * (1 - PLATEAU):
                side.add(self._plateau(x if sign > 0 else -x, extreme))
        self._flats(x)
        whole = x[: len(x) - len(x) % self.hop]
        if len(whole):
            rows = whole.reshape(-1, self.hop)
            self.power.append(np.einsum("ij,ij->i", rows, rows).astype(np.float64) / self.hop)
            if self.count < SLOW_S * self.rate_hz:
                self.slow.append(whole.reshape(-1, self.slow_by).mean(axis=1))
        self._keep_frames(x)
        self.count += len(x)

    def _plateau(self, x: Samples, extreme: float) -> Plateau:
        if extreme <= 0:
            return Plateau()
        top = np.flatnonzero(x >= np.float32(0.97 * extreme))
        at = top[x[top] >= np.float32(extreme) * (1 - PLATEAU)]
        found = Plateau(extreme, len(at), len(top) - len(at))
        breaks = np.flatnonzero(np.diff(at) > 1)
        first = at[np.concatenate(([0], breaks + 1))]
        last = at[np.concatenate((breaks, [len(at) - 1]))]
        steep = max(10 * float(PLATEAU) * extreme, 4 * self.step if np.isfinite(self.step) else 0.0)
        inner = (first > 0) & (last < len(x) - 1)
        first, last = first[inner], last[inner]
        sharp = (extreme - x[first - 1] > steep) & (extreme - x[last + 1] > steep)
        length = (last - first + 1)[sharp]
        found.singles, found.pairs = int(np.sum(length == 1)), int(np.sum(length == 2))
        found.longer = int(np.sum(length > 2))
        return found

    def _flats(self, x: Samples) -> None:
        """Runs of one value that last a millisecond: dropouts where the sound breaks off, else digital silence."""
        least = max(16, round(self.rate_hz * 1e-3))
        same = np.flatnonzero(x[1:] == x[:-1])
        if len(same) < least:
            return
        breaks = np.flatnonzero(np.diff(same) > 1)
        first = same[np.concatenate(([0], breaks + 1))]
        last = same[np.concatenate((breaks, [len(same) - 1]))] + 1
        long = last - first + 1 >= least
        near = round(self.rate_hz * HOP_S)
        peak = max(float(x.max()), float(-x.min()))
        for a, b in zip(first[long].tolist(), last[long].tolist(), strict=True):
            if abs(x[a]) >= 0.98 * peak and peak > 0:
                continue  # a clipped plateau
            before, after = x[max(0, a - near) : a], x[b + 1 : b + 1 + near]
            local = float(np.sqrt(np.mean(np.square(before)))) if len(before) else 0.0
            least_jump = max(4 * self.step, 0.1 * local)
            broke = len(before) > 0 and abs(float(x[a]) - float(before[-1])) > least_jump
            held = len(after) > 0 and abs(x[a]) > 3 * self.step and abs(float(after[0]) - float(x[b])) > least_jump
            if broke or held:
                self.dropouts += 1
                self.dropped += b - a + 1
                if self.first_dropout is None:
                    self.first_dropout = self.start + self.count + a
            elif x[a] == 0:
                self.flat += b - a + 1

    def _keep_frames(self, x: Samples) -> None:
        kept = sum(len(f) for f in self.frames)
        few = min(FRAMES_A_PIECE, len(x) // self._frame, MOST_FRAMES - kept)
        if few < 4:
            return
        stride = (len(x) - self._frame) // (few - 1)
        frames = np.lib.stride_tricks.sliding_window_view(x, self._frame)[:: max(1, stride)][:few]
        spectrum = fft.rfft(frames * self._window, axis=1)
        self.frames.append((spectrum.real**2 + spectrum.imag**2).astype(np.float32))
