"""What stands on a card that is carried to the machine: whoever mends has nothing else there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from earwitness.report import blocks

NO_PERMIT = "Isolate, lock and prove it dead or free of pressure by the local rules first. This card is no permit."
FOR_OTHERS = frozenset({"headphones", "zoning", "tone-no-certificate"})  # for who listens or reads, not who mends
SAID_BY = {"may-be-ignitable": "no-permission", "gas-detector": "use-gas-detector", "pressure": "hand-off-jet"}


def before_work(heard: Mapping[str, Any]) -> dict[str, Any]:
    """Of a judgement: the signal word, what it is for and what comes first, what else is dangerous there, the next
    step, the cautions that apply, and that the card is no permit."""
    strongest, *others = blocks.dangers(heard) or (None,)
    said = FOR_OTHERS | {a["code"] for h in heard.get("hazards") or () for a in h.get("first_actions") or ()}
    cautions = [c for c in heard.get("cautions") or () if not {c["code"], SAID_BY.get(c["code"])} & said]
    return {
        "word": strongest.word if strongest else "",
        "danger": strongest.text if strongest else "",
        "first": list(strongest.first) if strongest else [],
        "others": [f"{d.word}: {d.text}" for d in others],
        "next": blocks.text(heard.get("next_step")),
        "cautions": list(blocks.texts(cautions)),
        "permit": NO_PERMIT,
    }
