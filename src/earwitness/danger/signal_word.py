"""The rule for signal words (ANSI Z535, ISO 3864), as one table. The first line that holds, from the top, gives the
word.

What is not known is None, and None never lowers a word: where a number would decide between two words, the number
missing counts as the worse one (a leak of flammable gas indoors whose concentration cannot be worked out is DANGER
until someone shows that it is not).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from earwitness.danger.hazard import Place, SignalWord
from earwitness.errors import InputError

LFL_DANGER = 0.25  # of the lower flammable limit, as a room's steady mean (HSE RR993)
LFL_CONFINED = 0.10  # a confined space counts as hazardous above it (OSHA 1910.146)
HIGH_PRESSURE_GAUGE = 40e5  # Pa above ambient
STEAM_PRESSURE_GAUGE = 10e5  # Pa above ambient
HIGH_VOLTAGE = 1000.0  # V


@dataclass(frozen=True)
class Situation:
    """What the rules look at. None: not known.

    lfl_fraction: steady mean concentration at the interval's upper end over the lower flammable limit [1];
    over_idlh, over_short_term: upper end against the toxic limits; oxygen_out_of_range: upper end leaves 19.5–23.5 %;
    gauge_pressure [Pa above ambient]; voltage [V phase to phase].
    """

    place: Place = "indoors"
    lfl_fraction: float | None = None
    liquid: bool | None = False
    over_idlh: bool | None = None
    over_short_term: bool | None = None
    is_oxygen: bool = False
    room_known: bool = False
    oxygen_out_of_range: bool | None = None
    gauge_pressure: float | None = None
    superheated: bool = False
    to_open: bool = True
    voltage: float | None = None
    act: bool = False
    guards_open: bool = False
    lifts_persons: bool = False

    @property
    def confined(self) -> bool:
        return self.place == "confined"

    @property
    def indoors(self) -> bool:
        return self.place == "indoors"


@dataclass(frozen=True)
class Rule:
    """One cell of the table; `now`: it must be acted on from the floor."""

    hazard: str
    word: SignalWord
    when: str
    holds: Callable[[Situation], bool]
    now: bool

    @property
    def urgent(self) -> bool:
        """It must be acted on from the floor: every DANGER, and each WARNING whose rule says now."""
        return self.word == "DANGER" or self.now


def _over(value: float | None, limit: float) -> bool:
    return value is None or not value <= limit  # not known counts as over


def _not_excluded(value: bool | None) -> bool:
    return value is not False


NOW, PLANNED = True, False

# fmt: off
RULES: tuple[Rule, ...] = tuple(Rule(*row) for row in (
    ("flammable", "DANGER", "confined space", lambda s: s.confined, NOW),
    ("flammable", "DANGER", "liquid escapes, or cannot be excluded", lambda s: _not_excluded(s.liquid), NOW),
    ("flammable", "DANGER", "indoors and over 25 % of the lower flammable limit, or not known",
        lambda s: s.indoors and _over(s.lfl_fraction, LFL_DANGER), NOW),
    ("flammable", "WARNING", "every other leak of flammable gas", lambda s: True, NOW),

    ("flammability-unknown", "DANGER", "confined space", lambda s: s.confined, NOW),
    ("flammability-unknown", "WARNING", "indoors", lambda s: s.indoors, NOW),
    ("flammability-unknown", "CAUTION", "outdoors", lambda s: True, PLANNED),

    ("toxic", "DANGER", "confined space", lambda s: s.confined, NOW),
    ("toxic", "DANGER", "upper end over the limit immediately dangerous to life (IDLH), or indoors and not known",
        lambda s: s.over_idlh is True or (s.indoors and s.over_idlh is None), NOW),
    ("toxic", "WARNING", "indoors, or over the short-term limit", lambda s: s.indoors or bool(s.over_short_term), NOW),
    ("toxic", "CAUTION", "outdoors", lambda s: True, PLANNED),

    ("oxygen-level", "DANGER", "confined space", lambda s: s.confined, NOW),
    ("oxygen-level", "DANGER", "upper end leaves 19.5 to 23.5 % oxygen", lambda s: s.oxygen_out_of_range is True, NOW),
    ("oxygen-level", "WARNING", "oxygen escapes", lambda s: s.is_oxygen, NOW),
    ("oxygen-level", "WARNING", "indoors without room data",
        lambda s: s.indoors and (not s.room_known or s.oxygen_out_of_range is None), NOW),
    ("oxygen-level", "CAUTION", "gas that displaces oxygen, otherwise", lambda s: True, PLANNED),

    ("steam", "DANGER", "superheated, over 10 bar or of unknown pressure, to the open",
        lambda s: s.to_open and (s.superheated or _over(s.gauge_pressure, STEAM_PRESSURE_GAUGE)), NOW),
    ("steam", "WARNING", "to the open", lambda s: s.to_open, NOW),
    ("steam", "CAUTION", "through a trap or valve", lambda s: True, PLANNED),

    ("pressure", "WARNING", "over 40 bar, or pressure not known",
        lambda s: _over(s.gauge_pressure, HIGH_PRESSURE_GAUGE), PLANNED),
    ("pressure", "CAUTION", "compressed air or vacuum, otherwise", lambda s: True, PLANNED),

    ("arcing", "DANGER", "always, when arcing is heard", lambda s: True, NOW),
    ("tracking", "DANGER", "at 1 kV and over, or voltage not known",
        lambda s: s.voltage is None or not s.voltage < HIGH_VOLTAGE, NOW),
    ("tracking", "WARNING", "under 1 kV", lambda s: True, NOW),
    ("corona", "WARNING", "always, when corona is heard", lambda s: True, PLANNED),
    ("electrical-standing", "NOTICE", "the standing electrical caution", lambda s: True, PLANNED),

    ("machine-damage", "WARNING", "damage at the act level with guards open or persons lifted",
        lambda s: s.act and (s.guards_open or s.lifts_persons), NOW),
    ("machine-damage", "CAUTION", "damage", lambda s: True, PLANNED),
    ("machine-friction", "NOTICE", "friction", lambda s: True, PLANNED),
))
# fmt: on


def rule_for(hazard: str, situation: Situation) -> Rule:
    """The first rule of this hazard that holds.

    Parameters
    ----------
    hazard : str
        A family of the table: "flammable", "toxic", "oxygen-level", "steam", "pressure", "arcing" and so on.
    situation : Situation

    References
    ----------
    ANSI Z535.4 and ISO 3864-2 for the words; the rule is this program's own and stands in `RULES`.

    Examples
    --------
    >>> rule_for("flammable", Situation("indoors", lfl_fraction=0.1)).word
    'WARNING'
    >>> rule_for("flammable", Situation("indoors")).word  # nothing known of the room
    'DANGER'
    """
    for rule in RULES:
        if rule.hazard == hazard and rule.holds(situation):
            return rule
    raise InputError("hazard", repr(hazard), "one of " + ", ".join(sorted({rule.hazard for rule in RULES})))
