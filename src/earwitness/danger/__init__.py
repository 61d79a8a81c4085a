"""What it can do to people: burn, poison, suffocate, shock, turn. Signal words by a written rule.

The doors (plain numbers and names; what is not known is None and lowers no word):

    assess_gas.assess_gas(gas, *, place, release_m3_s, ventilation_m3_s, room_m3, liquid, gauge_pressure,
        specific_gravity, composition, lower_limit, inefficiency=1, superheated=False, to_open=True,
        process_flammable=False) -> tuple[Hazard, ...]        worst first; release_m3_s: upper end of the interval
    electrical.assess_electrical(verdict, voltage=None, supply=None) -> Hazard
    machine.assess_machine(verdict, *, act=False, guards_open=False, lifts_persons=False) -> Hazard | None
    cautions.standing_cautions(kind, *, medium=None, flammable_or_toxic=False, flammable=True, place=None,
        hazardous_area=None)
        -> tuple[Sentence, ...]
    hazard.Hazard(code, signal_word, sentence, basis, first_actions, urgent, args).as_json()   hazard.severity(word)
    signal_word.RULES, rule_for(hazard, Situation(...)) -> Rule(word, when, urgent)
    flammable.flammability(gas), lower_flammable_limit(gas); toxic.exposure_limits(gas)

`gas` is the plain name that `earwitness.gas.gases.find_gas(text).name` gives.
"""
