"""The table that people read is the table that decides."""

from pathlib import Path

from earwitness.danger.signal_word import RULES

PAGE = Path(__file__).parents[2] / "docs" / "danger.md"


def test_the_page_has_every_rule_in_order_and_no_other():
    rows = [
        tuple(cell.strip() for cell in line.strip("|\n").split("|"))
        for line in PAGE.read_text("utf-8").splitlines()
        if line.startswith("|") and line.count("|") == 5
    ][2:]
    assert rows == [(r.hazard, r.word, r.when, "now" if r.urgent else "planned") for r in RULES]
