"""Fitters' answers: they mend, they correct the probabilities of a site, and dangers keep who was told."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from earwitness.errors import EarwitnessError
from earwitness.ledger import answers as stored
from earwitness.ledger import findings, sites
from earwitness.plant.assessment import Warned
from earwitness.report.blocks import reported
from earwitness.work import desk_reports
from earwitness.work.answers import answer, answered_finding, corrected, local_rates, record_of_told, tell
from earwitness.work.file_survey import file_survey
from earwitness.work.survey import SurveyResult
from tests.ledger.surveys import folder, judged, row

AT = datetime(2026, 2, 1, 9, tzinfo=UTC)


@pytest.fixture
def book(ledger, tmp_path):
    rows = [row(f"A-{n}", "leak", tag=f"T-{n}", point=f"Point {n}") for n in range(1, 10)]
    rows.append(row("A-0", "no-leak-heard", tag="T-0", point="Point 0"))
    file_survey(ledger, judged(folder(tmp_path / "s", rows)))
    return ledger


def finding(book, text):
    with book.reading() as c:
        return answered_finding(c, sites.site_of(c, None).id, text)


def test_found_and_fixed_is_repaired_and_not_yet_verified(book):
    done = answer(
        book, None, "T-1", who="Fitter", at=AT, found=True, what="seal", fixed=True, before_db=58, after_db=36
    )
    assert done.state == "repaired" and finding(book, "T-1").state == "repaired"
    with book.reading() as c:
        last = findings.history(c, finding(book, "T-1").id)[-1]
        (kept,) = stored.answers(c, last and sites.site_of(c, None).id)
    assert "seal" in last.why and "58 dB before, 36 dB after" in last.why
    assert (kept.probability, kept.verdict, kept.what_it_was) == (0.97, "leak", "seal")


def test_not_found_stays_on_the_list(book):
    done = answer(book, None, "T-2", who="Fitter", at=AT, found=False)
    assert done.state == "open" and "stays on the list" in done.sentence.text
    assert "pressure" not in done.sentence.text  # an arc or a bearing has none


@pytest.mark.parametrize("by", ["tag", "reading", "printed", "identity"])
def test_a_finding_is_reached_by_whatever_hangs_there(by, book):
    f = finding(book, "T-3")
    with book.reading() as c:
        from earwitness.ledger import points

        printed = points.point(c, f.point_id).tag
    text = {"tag": "T-3", "reading": "A-3", "printed": printed.lower(), "identity": str(f.id)[:8]}[by]
    assert finding(book, text).id == f.id


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"text": "T-0", "found": True}, "nothing was ever found"),
        ({"text": "T-77", "found": True}, "findings list"),
        ({"text": "T-1", "found": False, "fixed": True}, "cannot be fixed"),
        ({"text": "T-1", "found": True, "who": " "}, "--who"),
    ],
)
def test_what_cannot_be_is_said(given, says, book):
    with pytest.raises(EarwitnessError, match=says):
        stated = {"who": "Fitter", "at": AT, **given}
        answer(book, None, stated.pop("text"), **stated)


def test_answers_correct_the_probabilities_of_their_verdict_and_say_how_many(book):
    for n in range(1, 10):
        answer(book, None, f"T-{n}", who="Fitter", at=AT, found=n <= 5)
    with book.reading() as c:
        rates = local_rates(c, sites.site_of(c, None).id)
    # beta-binomial by hand: prior 0.97 worth 20 answers, five of nine found
    assert rates["leak"].rate.rate == pytest.approx((0.97 * 20 + 5) / 29)
    p, basis = corrected(rates, "leak", 0.9)
    odds = 0.9 / 0.1 * (24.4 / 4.6) / (0.97 / 0.03)  # Bayes in odds
    assert p == pytest.approx(odds / (1 + odds)) and "9 answers" in basis.text
    assert corrected(rates, "corona", 0.8) == (0.8, corrected({}, "corona", 0.8)[1])
    assert corrected({}, "corona", 0.8)[1].text == "simulated sound"


def test_a_site_whose_fitters_find_everything_is_believed_more(book):
    for n in range(1, 10):
        answer(book, None, f"T-{n}", who="Fitter", at=AT, found=True)
    with book.reading() as c:
        assert corrected(local_rates(c, sites.site_of(c, None).id), "leak", 0.9)[0] > 0.9


def test_a_danger_keeps_who_was_told_and_when(ledger, tmp_path):
    rows = [row("A-1", "leak", tag="T-1", reported_to="shift lead", reported_at="2026-01-10T08:00")]
    file_survey(ledger, judged(folder(tmp_path / "s", rows)))
    tell(ledger, None, "T-1", who="safety officer", by="Inspector", at=AT, words="gas escapes")
    with ledger.reading() as c:
        record = record_of_told(c, finding(ledger, "T-1"))
    assert [(t["who"], t["by"]) for t in record] == [("shift lead", "the inspector"), ("safety officer", "Inspector")]
    assert record[1]["at"] == AT.isoformat() and record[1]["text"] == "gas escapes"
    with pytest.raises(EarwitnessError, match="--by"):
        tell(ledger, None, "T-1", who="somebody", by="", at=AT)


def test_a_report_from_the_ledger_names_who_was_told_since(ledger, tmp_path):
    result = judged(folder(tmp_path / "s", [row(f"A-{n}", "leak", tag=f"T-{n}") for n in (1, 2)]))
    hazard = Warned("flammable", {}, "DANGER", "It burns.", "rule", (), True)
    urgent = tuple(replace(a, hazards=(hazard,)) for a in result.assessments)
    file_survey(ledger, SurveyResult(result.survey, urgent, result.findings, {}))

    def report(timezone=None):
        with ledger.reading() as c:
            site = replace(sites.site_of(c, None), timezone=timezone)
            about = desk_reports.of_period(c, site, AT.date().replace(month=1, day=1), AT.date())
        readings = desk_reports.in_words(ledger, site, about).findings["readings"]
        return about.stamp, sorted(reported(r) for r in readings)

    stamp, said = report()
    assert said == ["", ""]
    tell(ledger, None, "T-1", who="shift lead", by="Inspector", at=AT)
    later, said = report()
    assert said[0] == "" and said[1].startswith("Reported to shift lead, 1\u00a0February\u00a02026, 09:00")
    assert later != stamp  # what was made before is made anew
    answer(ledger, None, "T-2", who="Fitter", at=AT, found=False)
    assert report()[0] != later  # what fitters find moves the probabilities in it
    _, said = report("Europe/Berlin")  # by the clock of the site, as Today has it
    assert said[1].startswith("Reported to shift lead, 1\u00a0February\u00a02026, 10:00")
