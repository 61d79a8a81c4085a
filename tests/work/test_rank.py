"""One rule ranks what was just judged and what a ledger keeps of it."""

from __future__ import annotations

import json
from pathlib import Path

from earwitness.work.rank import merit_of_result


def test_what_is_kept_is_ranked_as_what_was_judged(demo: Path):
    found = json.loads((demo / "findings.json").read_text("utf-8"))
    order = sorted(found["readings"], key=lambda r: merit_of_result(r).key)
    assert [r["reading"] for r in order if r["urgent"]] == found["urgent"]
    assert [r["rank"] for r in order if "rank" in r] == list(range(1, 1 + sum("rank" in r for r in order)))


def test_act_stands_before_money_and_money_before_the_rest():
    def reading(name: str, **more: object) -> dict:
        return {"reading": name, "signal_word": "CAUTION", **more}

    money = {"quantities": {"saving_per_year": {"mean": 500.0}}, "repair": {"hours": 2.0}}
    less = {"quantities": {"cost_per_year": {"mean": 200.0}}}
    readings = [
        reading("level", conditions={"level_db": {"value": 60.0}, "background_db": {"value": 40.0}}),
        reading("less", **less),
        reading("money", **money),
        reading("act", severity={"word": "act"}),
        reading("word", signal_word="NOTICE", **money),
    ]
    order = sorted(readings, key=lambda r: merit_of_result(r).key)
    assert [r["reading"] for r in order] == ["act", "money", "less", "level", "word"]
