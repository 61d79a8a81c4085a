"""The standing cautions: what is said with a kind of reading, whatever the numbers say."""

from __future__ import annotations

from earwitness.sentence import Sentence, say

LOCAL_RULES = say(
    "local-rules",
    "The site's rules and the people licensed for gas, pressure and electrical work come before this program.",
)
NEVER_TIGHTEN = say(
    "never-tighten",
    "Never tighten or open without these first: isolate, vent, prove zero pressure.",
)
HEADPHONES = say(
    "headphones", "Headphones mask alarms, horns and vehicles: look round, keep one ear free where you walk."
)
NOT_CERTIFIED = say(
    "not-certified",
    "Phones and most receivers are not certified for hazardous areas: take in only what is marked for the zone, with "
    "the permit that the site asks for.",
)
ENERGISED = say(
    "energised",
    "Energised equipment stays closed: listen from outside the boundaries of the site's electrical risk assessment; do "
    "not open, touch or switch.",
)
TURNING = say(
    "turning",
    "Keep hands, cables, sleeves and hair away from what turns; never reach past a guard, not with a tool.",
)
PRESSURE = say(
    "pressure", "A jet goes through skin and throws particles: never feel for a leak; protect eyes and ears."
)
STEAM = say("steam", "Steam is invisible where it leaks and burns before it is seen; keep to the side, hands away.")
CONFINED = say(
    "confined",
    "Confined space: no entry without the site's permit, measured air and a watch outside. A confined space counts as "
    "hazardous above 10 % of the lower flammable limit.",
)
IGNITABLE = say(
    "may-be-ignitable",
    "Gas at the leak may already be ignitable; this calculation gives no permission to stay, enter or delay.",
)
DETECTOR = say(
    "gas-detector", "Ultrasound alone never clears a flammable or toxic leak: use a gas detector made for the gas."
)
ZONING = say(
    "zoning",
    "What is worked out here is no classification of hazardous areas (IEC 60079-10-1): that is for competent persons.",
)
TONE_NO_CERTIFICATE = say(
    "tone-no-certificate", "A tone test is no certificate that a seal holds pressure, gas or water out."
)


def standing_cautions(
    kind: str,
    *,
    medium: str | None = None,
    flammable_or_toxic: bool | None = False,
    flammable: bool = True,
    place: str | None = None,
    hazardous_area: str | None = None,
) -> tuple[Sentence, ...]:
    """The cautions that go with a kind of reading, most pressing first.

    Parameters
    ----------
    kind : str
        "leak", "seal", "bearing", "gear", "electrical", "valve", "trap" or "other".
    medium : str or None
        This program's name of the gas; "steam", "vacuum".
    flammable_or_toxic : bool or None
        None (not known) counts as yes.
    flammable : bool
        False where it is known that it poisons only.
    place : str or None
    hazardous_area : str or None
        As on the sheet: "no", a zone, or not stated.

    Examples
    --------
    >>> [c.code for c in standing_cautions("bearing")]
    ['turning', 'headphones', 'local-rules']
    """
    cautions: list[Sentence] = []
    holds_gas = kind in ("leak", "valve", "trap", "other")
    if place == "confined":
        cautions.append(CONFINED)
    if holds_gas and flammable_or_toxic is not False:
        cautions += [IGNITABLE, DETECTOR, ZONING] if flammable else [DETECTOR]
    if kind in ("electrical", "other"):
        cautions.append(ENERGISED)
    if kind in ("bearing", "gear", "other"):
        cautions.append(TURNING)
    if kind == "trap" or medium == "steam":
        cautions.append(STEAM)
    if holds_gas and medium != "steam" and kind != "trap":
        cautions.append(PRESSURE)
    if holds_gas:
        cautions.append(NEVER_TIGHTEN)
    if kind == "seal":
        cautions.append(TONE_NO_CERTIFICATE)
    if hazardous_area not in (None, "no") or (holds_gas and flammable_or_toxic is not False):
        cautions.append(NOT_CERTIFIED)
    return (*cautions, HEADPHONES, LOCAL_RULES)
