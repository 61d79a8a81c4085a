"""What an electrical discharge can do to the one who listens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from earwitness.danger import actions
from earwitness.danger.hazard import SIGNAL_WORDS, Hazard
from earwitness.danger.signal_word import HIGH_VOLTAGE, Situation, rule_for
from earwitness.errors import InputError
from earwitness.sentence import Sentence, say

_BOUNDARY_EDITION = "NFPA 70E, table of shock approach boundaries for AC, as quoted from its 2015 to 2021 editions"
# phase to phase [V]: above, to; limited boundary of a fixed live part and restricted boundary [m]
_BOUNDARIES = ((150.0, 750.0, 1.07, 0.30), (750.0, 15_000.0, 1.52, 0.66))
DISCHARGES = ("arcing", "tracking", "corona")


def shock_boundaries(voltage: float | None) -> tuple[float, float] | None:
    """Limited (fixed live part) and restricted shock approach boundary [m], or None outside the two tabled ranges: then
    this program gives no distance. Shock boundaries are not arc-flash boundaries.

    Parameters
    ----------
    voltage : float or None, nominal, phase to phase [V]

    References
    ----------
    NFPA 70E shock approach boundaries, AC; edition-dependent: the site's edition and risk assessment come first.

    Examples
    --------
    >>> shock_boundaries(400.0)
    (1.07, 0.3)
    """
    if voltage is None:
        return None
    for above, to, limited, restricted in _BOUNDARIES:
        if above < voltage <= to:
            return limited, restricted
    return None


def assess_electrical(verdict: str, voltage: float | None = None, supply: str | None = None) -> Hazard:
    """The hazard of what was heard at electrical equipment.

    Parameters
    ----------
    verdict : str
        "arcing", "tracking", "corona", "mains-hum", "no-discharge-heard" or "inconclusive".
    voltage : float or None, nominal, phase to phase [V]
    supply : "sinusoidal", "inverter" or None

    References
    ----------
    The table of signal words, `earwitness.danger.signal_word.RULES`.

    Examples
    --------
    >>> assess_electrical("tracking", 400.0).signal_word, assess_electrical("tracking").signal_word
    ('WARNING', 'DANGER')
    """
    if voltage is not None and voltage < 0:
        raise InputError("voltage", f"{voltage:g} V", "0 V or more")
    family = verdict if verdict in DISCHARGES else "electrical-standing"
    no_corona = family == "corona" and voltage is not None and voltage < HIGH_VOLTAGE and supply != "inverter"
    rule = rule_for("tracking" if no_corona else family, Situation(voltage=voltage))
    first: list[Sentence] = []
    if family in DISCHARGES:
        first.append(actions.STOP_AND_TELL_ELECTRICAL if rule.urgent else actions.TELL_ELECTRICAL)
        first.append(_distance(voltage))
    if no_corona:
        first.append(_corona_below_1kv(voltage))
    sentence = _heard(verdict) if family in DISCHARGES else _standing(verdict)
    return Hazard(family, rule.word, sentence, rule.when, tuple(first), rule.urgent, dict(sentence.args))


def assess_open_discharge(kinds: Sequence[str], voltage: float | None = None, supply: str | None = None) -> Hazard:
    """The hazard of a discharge that was heard while its kind is open: that of the worst kind that it may be.

    Parameters
    ----------
    kinds : the kinds that it may be, of "arcing", "tracking", "corona", at least one
    voltage : float or None, nominal, phase to phase [V]
    supply : "sinusoidal", "inverter" or None

    References
    ----------
    The table of signal words: what is not known never lowers a word.

    Examples
    --------
    >>> assess_open_discharge(("tracking", "arcing"), 400.0).signal_word
    'DANGER'
    """
    if not kinds or not set(kinds) <= set(DISCHARGES):
        raise InputError("kinds", ", ".join(kinds) or "none", "some of arcing, tracking, corona")
    may_be = [assess_electrical(k, voltage, supply) for k in kinds]
    worst = min(may_be, key=lambda h: (SIGNAL_WORDS.index(h.signal_word), not h.urgent))
    text = (
        "An electrical discharge was heard, {kinds}: insulation is failing and can flash over; whoever is near can be "
        "burnt or killed."
    )
    sentence = say("discharge-of-open-kind", text, kinds=" or ".join(kinds))
    return replace(worst, sentence=sentence, args=dict(sentence.args))


def _heard(verdict: str) -> Sentence:
    return say(
        "discharge-heard",
        "Electrical {verdict} was heard: insulation is failing and can flash over; whoever is near can be burnt or "
        "killed.",
        verdict=verdict,
    )


def _standing(verdict: str) -> Sentence:
    if verdict == "no-discharge-heard":
        return say(
            "nothing-heard-proves-little",
            "Nothing heard proves little: discharge inside sealed or solid insulation and hot joints can be silent. "
            "The equipment stays energised and closed.",
        )
    return say(
        "equipment-energised",
        "The equipment is energised: keep it closed, stay outside the site's boundaries, do not open, touch or switch.",
    )


def _distance(voltage: float | None) -> Sentence:
    boundaries = shock_boundaries(voltage)
    if boundaries is None or voltage is None:
        return say(
            "no-distance-given",
            "This program gives no distance for this voltage; the site's electrical risk assessment does.",
        )
    return say(
        "shock-boundary",
        "Shock approach boundaries at {voltage:g} V: limited {limited:.2f} m, restricted {restricted:.2f} m "
        "({edition}; your edition and the site's assessment come first; the arc-flash boundary is another).",
        voltage=voltage,
        limited=boundaries[0],
        restricted=boundaries[1],
        edition=_BOUNDARY_EDITION,
    )


def _corona_below_1kv(voltage: float | None) -> Sentence:
    return say(
        "corona-below-1kv",
        "Corona is not to be expected at {voltage:g} V on a sinusoidal supply: take it as tracking or arcing until "
        "shown otherwise. That questions the word, not the urgency.",
        voltage=voltage,
    )
