"""What an escaping gas can do where it escapes: burn, poison, suffocate, feed fire, cut and burn the skin."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from earwitness.danger import actions
from earwitness.danger.flammable import KEPT_LIQUID, MIXTURES, flammability, lower_flammable_limit
from earwitness.danger.hazard import Hazard, known_place, severity
from earwitness.danger.room import OXYGEN_HIGH, OXYGEN_LOW, oxygen_fraction, steady_mean_fraction
from earwitness.danger.signal_word import Situation, rule_for
from earwitness.danger.toxic import ExposureLimits, exposure_limits
from earwitness.sentence import Sentence, say

HEAVY, LIGHT = 1.1, 0.9  # against air; between them it drifts with the air


@dataclass(frozen=True)
class GasRelease:
    """A leak and the room it is in; None: not known. Flows are the upper ends of their intervals.

    release_m3_s: gas at room conditions [m3/s]; ventilation_m3_s: fresh air [m3/s]; gauge_pressure [Pa above ambient];
    specific_gravity against air; liquid: a liquid escapes; lower_limit: volume fraction, instead of the table's.
    """

    gas: str | None
    place: str | None = None
    release_m3_s: float | None = None
    ventilation_m3_s: float | None = None
    room_m3: float | None = None
    liquid: bool | None = None
    gauge_pressure: float | None = None
    specific_gravity: float | None = None
    composition: Mapping[str, float] | None = None
    lower_limit: float | None = None
    inefficiency: float = 1.0

    @property
    def shown(self) -> str:
        """The gas's name as a sentence begins with it."""
        name = self.gas or "this gas"
        return "LPG" if name == "lpg" else name[0].upper() + name[1:]

    @property
    def mean_fraction(self) -> float | None:
        """Steady mean volume fraction in the room at the upper end; None outdoors and where it cannot be known."""
        if known_place(self.place) == "outdoors" or self.release_m3_s is None or self.ventilation_m3_s is None:
            return None
        if self.release_m3_s != self.release_m3_s or self.ventilation_m3_s != self.ventilation_m3_s:
            return None  # NaN: not known
        return steady_mean_fraction(self.release_m3_s, self.ventilation_m3_s, self.inefficiency)


def assess_gas(
    gas: str | None,
    *,
    place: str | None = None,
    release_m3_s: float | None = None,
    ventilation_m3_s: float | None = None,
    room_m3: float | None = None,
    liquid: bool | None = None,
    gauge_pressure: float | None = None,
    specific_gravity: float | None = None,
    composition: Mapping[str, float] | None = None,
    lower_limit: float | None = None,
    inefficiency: float = 1.0,
    superheated: bool = False,
    to_open: bool = True,
    process_flammable: bool = False,
) -> tuple[Hazard, ...]:
    """The hazards of a leak, worst first. What is not known is None and lowers no word.

    Parameters
    ----------
    gas : str or None
        This program's plain name ("air", "natural gas", "vacuum", "steam"); None or a name in no table: unknown.
    place : "indoors", "outdoors", "confined" or None
    release_m3_s : float or None, upper end of the interval of the flow, at room conditions [m3/s]
    ventilation_m3_s : float or None, fresh air [m3/s]
    room_m3 : float or None, volume of the room [m3]
    liquid : bool or None
        A liquid escapes; None: not known, which counts for gases that are kept as a liquid.
    gauge_pressure : float or None, in the pipe [Pa above ambient]
    specific_gravity : float or None, against air [1]
    composition : mapping of gas name to mole fraction, optional [mol/mol]
    lower_limit : float or None, lower flammable limit of your own [volume fraction]
    inefficiency : float, of the room's mixing, 1 to 5 [1]
    superheated, to_open : bool
        Of steam: superheated; escaping to the open rather than through a trap or valve.
    process_flammable : bool
        Of vacuum: the process holds flammable gas or vapour.

    References
    ----------
    The table of signal words, `earwitness.danger.signal_word.RULES`.

    Examples
    --------
    >>> [h.signal_word for h in assess_gas("air", gauge_pressure=7e5)]
    ['CAUTION']
    >>> hazard = assess_gas("methane", release_m3_s=3.4e-3, ventilation_m3_s=0.5)[0]
    >>> hazard.signal_word, round(hazard.args["lfl_fraction"], 2)
    ('WARNING', 0.15)
    """
    leak = GasRelease(
        gas,
        place,
        release_m3_s,
        ventilation_m3_s,
        room_m3,
        liquid,
        gauge_pressure,
        specific_gravity,
        composition,
        lower_limit,
        inefficiency,
    )
    if gas == "steam":
        return (_steam(leak, superheated, to_open),)
    if gas in ("air", "vacuum") and not composition:
        return _air(leak, process_flammable)
    hazards = [*_burning(leak), *_poisoning(leak), *_oxygen(leak)]
    if gauge_pressure is not None and rule_for("pressure", Situation(gauge_pressure=gauge_pressure)).word == "WARNING":
        hazards.append(_pressure(leak))
    return tuple(sorted(hazards, key=lambda h: -severity(h.signal_word)))


def _hazard(code: str, situation: Situation, sentence: Sentence, *first: Sentence) -> Hazard:
    rule = rule_for(code, situation)
    return Hazard(code, rule.word, sentence, rule.when, first, rule.urgent, dict(sentence.args))


def _burning(leak: GasRelease) -> list[Hazard]:
    burns = "flammable" if leak.lower_limit else flammability(leak.gas, leak.composition)
    place = known_place(leak.place)
    entry = (actions.NO_ENTRY,) if place == "confined" else ()
    if burns == "not flammable":
        return []
    if burns == "unknown":
        sentence = say(
            "flammability-unknown",
            "{gas}: it is not known whether it burns; until it is, treat it as a gas that does.",
            gas=leak.shown,
        )
        unknown = (*entry, actions.GET_AWAY, actions.USE_FLAMMABLE_DETECTOR)
        return [_hazard("flammability-unknown", Situation(place), sentence, *unknown)]
    limit = leak.lower_limit or lower_flammable_limit(leak.gas or "", leak.composition)
    mean = leak.mean_fraction
    fraction = None if mean is None or limit is None else mean / limit
    liquid = leak.liquid if leak.liquid is not None else (None if leak.gas in KEPT_LIQUID else False)
    situation = Situation(place, lfl_fraction=fraction, liquid=liquid)
    where = _where_it_goes(leak)
    first = [*entry, actions.GET_AWAY, actions.NO_PERMISSION, actions.USE_DETECTOR]
    first += [said for said in (where, _characteristic(leak, limit)) if said is not None]
    return [_hazard("flammable", situation, _flammable_sentence(leak, fraction, limit, place), *first)]


def _characteristic(leak: GasRelease, limit: float | None) -> Sentence | None:
    """W/(ρ·LFL) is the volume flow over the limit; `flammable.release_characteristic` is the same from a mass flow."""
    if limit is None or leak.release_m3_s is None or not leak.release_m3_s > 0:
        return None
    return say(
        "release-characteristic",
        "At its upper end the leak makes {shown:.10g} m3 of air a second as rich as the lower flammable limit (release "
        "characteristic in the form of IEC 60079-10-1:2015). Zoning is for competent persons.",
        shown=_two_digits(leak.release_m3_s / limit, 1e-5),
        m3_s=leak.release_m3_s / limit,
    )


def _flammable_sentence(leak: GasRelease, fraction: float | None, limit: float | None, place: str) -> Sentence:
    if leak.liquid:
        return say(
            "flammable-liquid-escapes",
            "{gas} escapes as a liquid and makes many times its volume of gas that burns; it spreads low and far.",
            gas=leak.shown,
        )
    if fraction is not None:
        return say(
            "flammable-in-room",
            "{gas} burns from {limit_percent:g} % of the air on; in this room the mean would come to as much as "
            "{lfl_percent:.10g} % of that limit, and near the leak and in corners to far more.",
            gas=leak.shown,
            limit_percent=round(100 * (limit or 0.0), 1),
            lfl_percent=_two_digits(100 * fraction),
            lfl_fraction=fraction,
        )
    if place == "outdoors":
        return say("flammable-outdoors", "{gas} burns; near the leak it may be ignitable.", gas=leak.shown)
    return say(
        "flammable-room-unknown",
        "{gas} burns, and how much of it gathers here cannot be worked out: {missing} not known.",
        gas=leak.shown,
        missing=_missing(leak, limit),
    )


def _two_digits(value: float, finest: float = 0.01) -> float:
    """Rounded up to two digits, and no finer than `finest`: it is an upper end."""
    if value <= finest:
        return finest
    step = 10 ** (math.floor(math.log10(value)) - 1)
    return round(math.ceil(value / step - 1e-9) * step, 10)


def _missing(leak: GasRelease, limit: float | None = 1.0) -> str:
    lacking = [
        word
        for word, value in (
            ("the flow", leak.release_m3_s),
            ("the ventilation", leak.ventilation_m3_s),
            ("its flammable limit", limit),
        )
        if value is None or value != value
    ]
    return " and ".join(lacking) + (" is" if len(lacking) == 1 else " are")


def _poisoning(leak: GasRelease) -> list[Hazard]:
    parts = leak.composition or (MIXTURES.get(leak.gas) if leak.gas else None)
    limits = exposure_limits(leak.gas, parts)
    if limits is None:
        return []
    place, mean = known_place(leak.place), leak.mean_fraction
    ppm = None if mean is None else mean * 1e6
    over_idlh = None if ppm is None else ppm > limits.idlh_ppm
    over_short = None if ppm is None else ppm > limits.short_term_ppm
    situation = Situation(place, over_idlh=over_idlh, over_short_term=over_short)
    first = [actions.LEAVE_TOXIC, actions.USE_DETECTOR]
    if place == "confined":
        first.insert(0, actions.NO_ENTRY)
    if leak.gas == "carbon dioxide" or (parts and "carbon dioxide" in parts):
        first.append(actions.OXYGEN_MONITOR_NO_USE)
    where = _where_it_goes(leak)
    return [_hazard("toxic", situation, _toxic_sentence(leak, limits, ppm), *first, *((where,) if where else ()))]


def _toxic_sentence(leak: GasRelease, limits: ExposureLimits, ppm: float | None) -> Sentence:
    if ppm is None:
        return say(
            "toxic",
            "{gas} poisons: {short:g} ppm for a short time, {idlh:g} ppm immediately dangerous to life ({source}).",
            gas=leak.shown,
            short=limits.short_term_ppm,
            idlh=limits.idlh_ppm,
            source=limits.source,
        )
    return say(
        "toxic-in-room",
        "{gas} poisons; in this room the mean would come to as much as {ppm:.10g} ppm, against {short:g} ppm for a "
        "short time and {idlh:g} ppm immediately dangerous to life ({source}).",
        gas=leak.shown,
        ppm=_two_digits(ppm),
        short=limits.short_term_ppm,
        idlh=limits.idlh_ppm,
        source=limits.source,
    )


def _oxygen(leak: GasRelease) -> list[Hazard]:
    """Displacing or enriching; not for what burns or poisons long before it suffocates."""
    if leak.gas != "oxygen" and flammability(leak.gas, leak.composition) != "not flammable":
        return []
    if leak.gas == "carbon dioxide":
        return []
    place, mean = known_place(leak.place), leak.mean_fraction
    enriches = leak.gas == "oxygen"
    oxygen = None if mean is None else oxygen_fraction(mean, 1.0 if enriches else 0.0)
    out = None if oxygen is None else not OXYGEN_LOW <= oxygen <= OXYGEN_HIGH
    situation = Situation(place, is_oxygen=enriches, room_known=mean is not None, oxygen_out_of_range=out)
    first = [actions.NO_OIL_NO_FLAME] if enriches else [actions.MEASURE_OXYGEN]
    if place == "confined":
        first.insert(0, actions.NO_ENTRY)
    if oxygen is not None:
        sentence = say(
            "oxygen-in-room",
            "{gas} {effect}; in this room the air would come to as {extreme} as {percent:.1f} % oxygen on the mean "
            "(19.5 to 23.5 % is the range to stay in).",
            gas=leak.shown,
            effect="feeds fire" if enriches else "takes the place of oxygen",
            extreme="much" if enriches else "little",
            percent=100 * oxygen,
        )
    elif enriches:
        sentence = say("oxygen-enriches", "Oxygen feeds fire: things burn in it that do not burn in air.")
    else:
        sentence = say("oxygen-displaced", "{gas} takes the place of oxygen, without warning.", gas=leak.shown)
    where = _where_it_goes(leak)
    return [_hazard("oxygen-level", situation, sentence, *first, *((where,) if where else ()))]


def _where_it_goes(leak: GasRelease) -> Sentence | None:
    gravity = leak.specific_gravity
    if leak.liquid or (gravity is not None and gravity > HEAVY):
        return say("collects-low", "It is heavier than air and collects low: in pits, drains, cellars.")
    if gravity is not None and gravity < LIGHT:
        return say("collects-high", "It is lighter than air and collects high: under roofs and ceilings, in hoods.")
    return None


def _steam(leak: GasRelease, superheated: bool, to_open: bool) -> Hazard:
    situation = Situation(
        known_place(leak.place), gauge_pressure=leak.gauge_pressure, superheated=superheated, to_open=to_open
    )
    if to_open:
        sentence = say("steam-burns", "Steam to the open scalds and cuts; at the leak it cannot be seen.")
    else:
        sentence = say("steam-inside", "Steam passes inside; body and pipes are hot.")
    return _hazard("steam", situation, sentence, actions.INVISIBLE_STEAM)


def _pressure(leak: GasRelease) -> Hazard:
    situation = Situation(known_place(leak.place), gauge_pressure=leak.gauge_pressure)
    if leak.gauge_pressure is None:
        sentence = say(
            "pressure-unknown", "The pressure is not known; a jet can go through skin and harm eyes and ears."
        )
    else:
        sentence = say(
            "pressure-jet",
            "{bar:.3g} bar over ambient: a jet can go through skin, throw particles and harm eyes and ears.",
            bar=leak.gauge_pressure / 1e5,
        )
    return _hazard("pressure", situation, sentence, actions.HAND_OFF_JET)


def _air(leak: GasRelease, process_flammable: bool) -> tuple[Hazard, ...]:
    if leak.gas == "air":
        return (_pressure(leak),)
    sentence = say("vacuum-draws", "The vacuum draws in air, dust and skin; keep hands and hair away from the opening.")
    hazard = _hazard("pressure", Situation(known_place(leak.place), gauge_pressure=0.0), sentence)
    if not process_flammable:
        return (hazard,)
    into = say("air-into-process", "Air is drawn into a process that holds flammable gas or vapour.")
    situation = Situation("outdoors", liquid=False)  # nothing escapes into the room: every other flammable case
    return (_hazard("flammable", situation, into, actions.SECURE_PROCESS, actions.USE_DETECTOR), hazard)
