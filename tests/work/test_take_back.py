"""What was said by mistake counts no more, stays to be read, and undoes the repair that rested on it alone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from earwitness.errors import EarwitnessError
from earwitness.ledger import answers as stored
from earwitness.ledger import findings, schema, sites
from earwitness.work import desk_reports
from earwitness.work.answers import answer, answered_finding, local_rates, record_of_told, tell, told_of
from earwitness.work.exchange import export_json, import_json, read_export
from earwitness.work.file_survey import file_survey
from earwitness.work.findings import step_finding
from earwitness.work.opinion import Opinion, agreement, decide, opinions
from earwitness.work.take_back import take_back_answer, take_back_opinion, take_back_told
from tests.ledger.surveys import everything, folder, judged, row

AT = datetime(2026, 2, 1, 9, tzinfo=UTC)
LATER = AT + timedelta(hours=1)


@pytest.fixture
def book(ledger, tmp_path):
    file_survey(ledger, judged(folder(tmp_path / "s", [row(f"A-{n}", "leak", tag=f"T-{n}") for n in (1, 2)])))
    return ledger


def finding(book, text="T-1"):
    with book.reading() as c:
        return answered_finding(c, sites.site_of(c, None).id, text)


def rates(book):
    with book.reading() as c:
        return local_rates(c, sites.site_of(c, None).id)


def stamp(book):
    with book.reading() as c:
        site = sites.site_of(c, None)
        return desk_reports.of_period(c, site, AT.date().replace(month=1, day=1), AT.date()).stamp


def test_an_answer_taken_back_moves_no_probability_and_stays_to_be_read(book):
    answer(book, None, "T-1", who="Fitter", at=AT, found=True)
    one, before = rates(book), stamp(book)
    answer(book, None, "T-2", who="Fitter", at=AT, found=False)
    assert rates(book) != one
    _, said = take_back_answer(book, finding(book, "T-2"), None, who="Planner", at=LATER)
    assert rates(book) == one and "Fitter" in said.text
    assert stamp(book) != before  # reports are made anew
    with book.reading() as c:
        (kept,) = stored.answers(c, finding(book).site_id, finding(book, "T-2").id)
    assert (kept.found, kept.taken_back_by, kept.taken_back_at) == (False, "Planner", LATER)


def test_what_was_fixed_by_that_answer_alone_is_on_the_list_again(book):
    given = answer(book, None, "T-1", who="Fitter", at=AT, found=True, fixed=True).answer
    now, said = take_back_answer(book, finding(book), given.id, who="Fitter", at=LATER)
    assert now.state == "reopened" and "on the list again" in said.text
    with book.reading() as c:
        states = [s.state for s in findings.history(c, now.id)]
    assert states == ["open", "repaired", "reopened"]


@pytest.mark.parametrize("last", ["repaired by hand", "proven"])
def test_a_repair_that_rests_on_more_stands(last, book):
    of = finding(book)
    if last == "proven":
        given = answer(book, None, "T-1", who="Fitter", at=AT, found=True, fixed=True).answer
        with book.writing() as c:
            findings.take_step(c, of.id, findings.Step("verified", AT, "a reading", "quiet"))
    else:
        given = answer(book, None, "T-1", who="Fitter", at=AT, found=True).answer
        step_finding(book, of.id, "repaired", who="Planner", why="new hose", at=AT)
    now, _ = take_back_answer(book, of, given.id, who="Fitter", at=LATER)
    assert now.state == ("verified" if last == "proven" else "repaired")


def test_nothing_is_taken_back_twice_or_that_is_not_there(book):
    answer(book, None, "T-1", who="Fitter", at=AT, found=True)
    of = finding(book)
    with book.reading() as c:
        (given,) = stored.answers(c, of.site_id, of.id)
    with pytest.raises(EarwitnessError, match="nothing such stands"):
        take_back_answer(book, finding(book, "T-2"), None, who="Fitter", at=LATER)
    with pytest.raises(EarwitnessError, match="nothing such stands"):
        take_back_answer(book, finding(book, "T-2"), given.id, who="Fitter", at=LATER)
    take_back_answer(book, of, given.id, who="Fitter", at=LATER)
    with pytest.raises(EarwitnessError, match="already"):
        take_back_answer(book, of, given.id, who="Somebody else", at=LATER)


def test_nobody_counts_as_told_where_that_was_taken_back(book):
    of = finding(book)
    for who in ("shift lead", "wrong person"):
        tell(book, None, "T-1", who=who, by="Inspector", at=AT + timedelta(minutes=len(who)))
    take_back_told(book, of, None, who="Inspector", at=LATER)
    with book.reading() as c:
        assert [t["who"] for t in record_of_told(c, of)] == ["shift lead"]
        assert [t.who for t in told_of(c, of)] == ["shift lead", "wrong person"]
    take_back_told(book, of, None, who="Inspector", at=LATER)
    with pytest.raises(EarwitnessError, match="nothing such stands"):
        take_back_told(book, of, None, who="Inspector", at=LATER)


def test_a_verdict_of_ones_own_taken_back_leaves_the_one_before_it(book):
    of = finding(book)
    with book.writing() as c:
        for hour, verdict in enumerate(("leak", "no-leak-heard")):
            said = Opinion(AT + timedelta(hours=hour), "Inspector", verdict, "heard it")
            decide(c, of.opened_by, "leak", of.site_id, said)
    with book.reading() as c:
        last, _ = opinions(c, of.opened_by)
        assert agreement(c, of.site_id).agree == 0
    take_back_opinion(book, of.opened_by, last.id, who="Inspector", at=LATER)
    with book.reading() as c:
        assert (agreement(c, of.site_id).agree, agreement(c, of.site_id).judged) == (1, 1)
        assert len(opinions(c, of.opened_by)) == 2


def test_what_was_taken_back_is_so_after_export_and_import(book, place, tmp_path):
    answer(book, None, "T-1", who="Fitter", at=AT, found=True)
    take_back_answer(book, finding(book), None, who="Fitter", at=LATER)
    export_json(book, tmp_path / "all.json")
    with book.writing() as c:
        for table in reversed(schema.metadata.sorted_tables):
            c.execute(table.delete())
    import_json(book, read_export(tmp_path / "all.json"))
    assert everything(book)["answer"][0]["taken_back_by"] == "Fitter" and not rates(book)
