"""What else stands among a bearing's lines: multiples of the shaft's speed and of the mains, and what they hide."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.bearing_heard import PartHeard
from earwitness.hearing.geometry import Expected, Part
from earwitness.sound.orders import Lines

SPEED_SEEN = 4.0  # -log10 of chance from which the shaft's own lines correct the speed given
_READ, _READ_AT_MOST = 0.003, 0.1  # how far a speed read off a plate or a counter is off; of a turn
HIDDEN = 0.004  # a line this close to where it is expected may be the fault's although something else stands there
_SKIRT = 0.01  # a multiple of the shaft's speed may flicker this far off
_SAME = 0.0005  # lines nearer than this, or than their spacing, are one
_STANDS_ALONE = 6.0  # decades of a broad rise


@dataclass(frozen=True)
class Others:
    """The shaft and the mains. turning_hz : the speed that the parts' lines are laid by; shown_hz : that the shaft's
    own lines show; seen : -log10 of the chance of those; mains_hz : grids that may hum or click."""

    lines: Lines
    expected: Expected
    turning_hz: float
    shown_hz: float
    seen: float
    mains_hz: tuple[float, ...]

    @cached_property
    def taken(self) -> NDArray[np.bool_]:
        """Lines that say nothing of a part."""
        return self._of_shaft | self.of_mains

    @cached_property
    def of_mains(self) -> NDArray[np.bool_]:
        return self.lines.near_multiples(self.mains_hz, at_most=1.0)

    @cached_property
    def _of_shaft(self) -> NDArray[np.bool_]:
        """Lines of the shaft's multiples (blades, vanes, lobes). Where no line of its own says how fast it turns, and
        parts that are known only by range may lie anywhere, all within what a stated speed is read to: of a hundred
        bearings less than one has a part's line there, of machines many have vanes."""
        lines, turning = self.lines, self.turning_hz
        on = lines.near_multiples([turning], at_most=0.03 * turning, peaked=True)
        if self.seen >= SPEED_SEEN or self.expected.known == "given":
            return on
        hz = np.arange(len(on)) * lines.step_hz
        multiple = np.maximum(np.rint(hz / turning), 1) * turning
        reach = np.minimum(_READ * multiple, _READ_AT_MOST * turning) + 2 * lines.step_hz
        return np.asarray(on | (np.abs(hz - multiple) <= reach))

    def hide(self, part: Part) -> bool:
        """Whether a strong family stands where this part's line may be, but on a multiple of something else: of the
        shaft or the mains where it is without slip, or within its slip on the mains' frequency itself or its double."""
        if part.nominal is None:
            return False
        lines, turning = self.lines, self.turning_hz
        nominal, low, high = (order * turning for order in (part.nominal, part.low, part.high))
        reach = max(HIDDEN * nominal, 1.5 * lines.step_hz)
        spots = [hz for one in self.mains_hz for hz in (one, 2 * one) if low < hz < high]
        if any(abs(max(round(nominal / hz), 1) * hz - nominal) <= reach for hz in (turning, *self.mains_hz)):
            spots.append(nominal)  # a multiple farther off is parted from it
        for at in spots:
            family = lines.best_family(at - reach, at + reach)
            on_other = bool(self.taken[min(round(family.hz / lines.step_hz), len(self.taken) - 1)])
            if family.score > 4 and len(family.found_hz) >= 2 and on_other:
                return True
        return False

    def overshadow(self, heard: PartHeard) -> bool:
        """Whether a part's lines may all be the shaft's: on its multiples, or on the skirts of some that together stand
        higher."""
        if heard.hump > _STANDS_ALONE:  # a rise of its own, higher than what is on either side
            return False
        step_hz, turning = self.lines.step_hz, self.shown_hz
        power = np.square(self.lines.amplitude[heard.family.view])
        middles = np.rint(np.array(heard.family.found_hz or (heard.family.hz,)) / step_hz).astype(np.intp)
        around = np.clip(middles, 2, len(power) - 3)[:, None] + np.arange(-2, 3)
        at = around[np.arange(len(middles)), power[around].argmax(axis=1)]
        found = at * step_hz
        multiples = np.maximum(np.rint(found / turning), 1) * turning
        off = np.abs(found - multiples)
        if len(found) > 1 and bool((off <= np.maximum(_SAME * found, 1.5 * step_hz)).all()):
            return True
        if (off > _SKIRT * found).any():
            return False
        beside = np.minimum(np.rint(multiples / step_hz).astype(np.intp)[:, None] + np.arange(-1, 2), len(power) - 1)
        return float(power[beside].max(axis=1).sum()) > float(power[at].sum())
