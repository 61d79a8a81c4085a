"""What to do next, in one or two plain sentences. Pressure is never worked on before: isolate, vent, prove zero."""

from __future__ import annotations

from collections.abc import Sequence, Set

from earwitness.hearing.evidence import Judgement
from earwitness.plant.assessment import Warned
from earwitness.plant.reading import Reading
from earwitness.programme.greasing import Dose, grease_amount
from earwitness.sentence import Sentence, say
from earwitness.work.warn import is_dangerous

HAZARDOUS = frozenset({"flammable", "flammability-unknown", "toxic", "oxygen-level"})  # codes of what a gas does

LEAK = (
    "Hang the tag{tag} and plan the repair{spot}: isolate, vent and prove zero pressure before any fitting is "
    "touched; then listen again from the same distance."
)
HAZARDOUS_LEAK = (
    "Tell the responsible person{now} and confirm with a gas detector; repair is for licensed people, after "
    "isolating, purging and proving zero pressure{spot}. Listen again afterwards, and measure the gas again: "
    "silence clears nothing."
)
HAZARDOUS_MENDED = (
    "Mended on the spot, as noted: have a competent person measure with a gas detector before anyone relies on it, and "
    "listen again from the same distance."
)
HAZARDOUS_QUIET = (
    "No leak was heard, which clears nothing where {medium} may escape: check with a gas detector before anyone relies "
    "on it."
)
STEAM_LEAK = (
    "Keep everyone clear, close the area off and tell the responsible person now{spot}; before anybody works on it: "
    "isolate, vent, drain, let it cool and prove zero pressure. Then listen again from the same distance."
)
DAMAGE = (
    "Confirm by vibration or a second reading under the same load, order the bearing, and plan the change "
    "with the machine locked off; until then listen at shorter intervals."
)
ELECTRICAL = (
    "Keep the equipment closed: do not open, touch or switch it. Tell the authorised electrical person, who "
    "decides on isolation and on a second method (a partial-discharge, thermal or visual inspection)."
)
BY_VERDICT = {
    "outer-race": DAMAGE,
    "inner-race": DAMAGE,
    "rolling-element": DAMAGE,
    "cage": DAMAGE,
    "irregular": (
        "Look at lubrication and dirt first, then listen again within days: impacts without rhythm are often "
        "the first sign of damage."
    ),
    "tooth": (
        "Inspect the teeth of both wheels at the next stop, with the machine locked off; until then watch the "
        "oil for metal and listen at shorter intervals."
    ),
    "wear": ("Check oil, alignment and load; take an oil sample and follow the trend."),
    "corona": ELECTRICAL,
    "tracking": ELECTRICAL,
    "arcing": ELECTRICAL,
    "mains-hum": (
        "Mechanical hum, no discharge heard: note it, and have fixings checked by the authorised electrical "
        "person at the next planned outage."
    ),
    "passage": (
        "Reseal at the places found, then repeat the test with the emitter in the same place. A tone test "
        "gives no size, and is no certificate of weathertightness or pressure."
    ),
    "passing": (
        "Check that it is fully closed from its own drive, then plan the overhaul of seat and packing: "
        "isolate, vent and prove zero pressure first."
    ),
    "blowing": (
        "Check for wrong size or dirt, then plan the repair or change of the trap: isolate both sides, vent, "
        "and prove zero pressure; steam and condensate burn."
    ),
    "blocked": (
        "Check strainer and valves upstream; a blocked trap floods the line and can cause water hammer. "
        "Isolate both sides, vent, and prove zero pressure before opening."
    ),
}
QUIET = {
    "no-leak-heard": "No action from this reading; it holds for what would have been heard, as stated.",
    "no-passage-heard": "No action from this reading.",
    "no-fault-heard": "Keep to the usual interval; this reading serves the trend.",
    "no-discharge-heard": "Keep to the usual interval; nothing heard proves little about closed equipment.",
    "working": "Keep to the usual interval.",
}
STATUS = {
    "not-running": "Listen again when the machine runs under its usual load; nothing was judged.",
    "not-pressurised": "Listen again under working pressure; nothing was judged.",
    "not-reached": "Find a way to reach it safely, or listen from a fixed sensor; nothing was judged.",
    "unreadable": "Mend row {row} of the sheet as its problem says, and run the survey again.",
}


def next_step(reading: Reading, judgement: Judgement | None, hazards: Sequence[Warned] = ()) -> Sentence:
    """The next step for a reading. `hazards`: what it can do to people, as `warn.hazards_of` says."""
    if reading.status != "read":
        return say(f"next-{reading.status}", STATUS[reading.status], row=reading.row)
    if judgement is None:
        return say("next-record-again", "Record again and judge anew; nothing could be judged.")
    verdict = judgement.verdict
    codes, urgent = {h.code for h in hazards}, any(h.urgent for h in hazards)
    if reading.seen and not reading.repair.fixed_now:
        return _leak(reading, codes, urgent)
    if verdict == "inconclusive":
        text = "Listen again, longer and closer, with the background noted: that would settle it."
        return judgement.settle or say("next-listen-again", text)
    if reading.repair.fixed_now and verdict not in QUIET:
        if codes & HAZARDOUS:
            return say("next-prove-with-detector", HAZARDOUS_MENDED)
        return say("next-prove", "Mended on the spot, as noted: listen again from the same distance to prove it.")
    if verdict == "leak":
        return _leak(reading, codes, urgent)
    if verdict == "friction":
        return _friction(reading)
    if verdict == "no-leak-heard" and is_dangerous(reading.medium):
        return say("next-clears-nothing", HAZARDOUS_QUIET, medium=str(reading.medium))
    if verdict in QUIET:
        return say(f"next-{verdict}", QUIET[verdict])
    return say(f"next-{verdict}", BY_VERDICT[verdict])


def _leak(reading: Reading, codes: Set[str], urgent: bool) -> Sentence:
    """What burns, poisons, suffocates or scalds goes first, whatever it blows for and whether it was found or not."""
    spot = f" ({reading.location})" if reading.location else ""
    if codes & HAZARDOUS:
        return say("next-hazardous-leak", HAZARDOUS_LEAK, now=" now" if urgent else "", spot=spot)
    if "steam" in codes:
        return say("next-steam-leak", STEAM_LEAK, spot=spot)
    if reading.confirmed == "not-found":
        return say("next-not-found", "Looked for and not found: listen again under pressure before it is closed.")
    if reading.cause == "deliberate":
        text = (
            "It blows on purpose: ask whether it must, how long it must, and whether a nozzle made for the task or a "
            "valve that closes with the machine would do."
        )
        return say("next-deliberate", text)
    if reading.cause == "drain":
        return say("next-drain", "Check whether the drain closes; one that opens on level loses no air.")
    tag = f" {reading.tag}" if reading.tag else ""
    return say("next-leak", LEAK, tag=tag, spot=spot)


def _friction(reading: Reading) -> Sentence:
    m = reading.machine
    dose: Dose | None = None
    if m.outside_m and m.width_m:
        dose = grease_amount(m.outside_m, m.width_m, m.bearing or "")
    amount = f" {dose.sentence.text}" if dose else ""
    text = (
        "Look at the lubrication first: add grease slowly while listening and stop when the level is back at baseline "
        "or begins to rise.{amount} Never reach past a guard. If the level stays high, check load and alignment."
    )
    return say("next-friction", text, amount=amount)
