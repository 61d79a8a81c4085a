"""What a damaged bearing or gear can do to people."""

from __future__ import annotations

from earwitness.danger import actions
from earwitness.danger.hazard import Hazard
from earwitness.danger.signal_word import Situation, rule_for
from earwitness.sentence import say

DAMAGE = ("outer-race", "inner-race", "rolling-element", "cage", "irregular", "tooth", "wear")


def assess_machine(
    verdict: str, *, act: bool = False, guards_open: bool = False, lifts_persons: bool = False
) -> Hazard | None:
    """The hazard of what was heard at a bearing or gear; None where neither damage nor friction was heard.

    Parameters
    ----------
    verdict : str
        A bearing's or gear's verdict, "outer-race", "wear", "friction" and so on.
    act : bool
        The damage has reached the level *act*.
    guards_open, lifts_persons : bool

    References
    ----------
    The table of signal words, `earwitness.danger.signal_word.RULES`.

    Examples
    --------
    >>> assess_machine("outer-race", act=True, lifts_persons=True).signal_word
    'WARNING'
    """
    if verdict == "friction":
        rule = rule_for("machine-friction", Situation())
        sentence = say("friction-heard", "Raised friction was heard; left alone it becomes damage.")
        return Hazard("machine-friction", rule.word, sentence, rule.when, (actions.CHECK_LUBRICATION,), rule.urgent)
    if verdict not in DAMAGE:
        return None
    rule = rule_for("machine-damage", Situation(act=act, guards_open=guards_open, lifts_persons=lifts_persons))
    sentence = say(
        "damage-heard", "Damage was heard ({verdict}); it can seize or break while it turns.", verdict=verdict
    )
    first = actions.STOP_MACHINE if rule.urgent else actions.PLAN_MACHINE
    return Hazard("machine-damage", rule.word, sentence, rule.when, (first,), rule.urgent, dict(sentence.args))
