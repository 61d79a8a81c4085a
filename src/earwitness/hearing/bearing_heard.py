"""What is heard of a bearing: of each part, of the cage, and altogether."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.bearing_sound import BearingSound
from earwitness.hearing.geometry import Expected, Part
from earwitness.sound.orders import Family


@dataclass(frozen=True)
class PartHeard:
    """What stands for a fault on one part."""

    part: Part
    hz: float
    order: float  # hz over the shaft's speed
    share: float  # of all that stands out in the envelope spectrum, mean over views
    chance: float  # -log10 of the chance of its family in noise, looks accounted for
    explains: float  # share of all swelling and jumping of the sound, in the view where that is most
    family: Family
    sidebands: float = 0.0  # share that stands in the sidebands alone
    alone: float = 0.0  # share of its harmonics without them
    first: float = 0.0  # share of its fundamental
    hump: float = 0.0  # -log10 of the chance of a broad rise at its rate

    @property
    def off(self) -> float | None:
        """How far from where it stands without slip, in per cent; None where that is not known."""
        return None if self.part.nominal is None else 100 * abs(self.order / self.part.nominal - 1)

    @property
    def beyond_chance(self) -> float:
        """-log10 of the chance of its family or of its broad rise, whichever is clearer."""
        return max(self.chance, self.hump)


@dataclass(frozen=True)
class CageHeard:
    """The cage's rate, and what its multiples account for."""

    hz: float
    share: float  # of all that stands out
    explains: float  # of everything
    found: int  # harmonics that stand out
    turned: float = 0.0  # share of the multiples of the cage's rate against the turning ring
    chance: float = 0.0  # -log10 of the chance of its family

    @property
    def comb(self) -> float:
        """How far its multiples are a comb beyond doubt and nearly all that stands out: 1 where nothing else does. A
        fault on an element swells with the cage too."""
        return max(self.share / 0.4 - 1.5, 0.0) * min(max(self.chance / 6 - 1, 0.0), 1.0)


@dataclass(frozen=True)
class FamiliesHeard:
    """The parts' families, the cage's, and what the speed was."""

    parts: Mapping[str, PartHeard]
    speed_hz: float
    speed_seen: float  # -log10 of chance of the shaft's own lines
    cage: CageHeard
    hidden: tuple[str, ...] = ()  # parts whose line coincides with a multiple of the shaft's speed or the mains
    overshadowed: tuple[str, ...] = ()  # parts beside whose line a multiple of the shaft's speed stands higher
    avoid: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))
    step_hz: float = 1.0  # of the lines, and of `avoid`
    sided: float = 0.0  # -log10 of the chance of an inner race's family with sidebands at the shaft's speed
    cage_sides: float | None = None  # energy at ± the cage's rate about the strongest family's lines, over theirs

    @property
    def strongest(self) -> float:
        """The largest share of all lines that one part accounts for."""
        return max(part.share for part in self.parts.values())


@dataclass(frozen=True)
class Listened:
    """Everything heard of a bearing: where its lines were expected, the speed and where that came from ("given",
    "sound", "unknown"), lines and impacts, and whose they are."""

    expected: Expected
    speed_hz: float | None
    speed_from: str = "given"
    sound: BearingSound | None = None
    families: FamiliesHeard | None = None
    rhythm: float = 0.0  # where the speed is unknown: -log10 of the chance of the strongest family of any rate
