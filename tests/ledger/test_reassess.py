"""What is filed can be judged again: the same by the same version, beside the old by a newer one."""

from __future__ import annotations

import numpy as np
import pytest

from earwitness.audio import write_wav
from earwitness.intake import read_survey
from earwitness.ledger import readings
from earwitness.work.file_survey import file_survey
from earwitness.work.reassess import reassess
from earwitness.work.survey import judge_survey
from tests.ledger.surveys import everything, folder, judged, row

ROWS = [row("A-1", "leak"), row("A-2", "no-leak-heard")]


def test_the_same_version_gives_the_same_result(ledger, tmp_path):
    """With the real detectors, on real files: a hiss, a silence, and a recording matched by the file's date alone."""
    rows = [row("A-1", ""), row("A-2", ""), row("A-3", "", recording="", taken_at="2026-01-10T10:00:00Z")]
    path = folder(tmp_path / "s", rows)
    for number in (1, 2, 3):
        noise = np.random.default_rng(number).normal(0, 0.05 if number == 1 else 0.001, 96_000)
        write_wav(path / "recordings" / f"A-{number}.wav", noise.astype(np.float32), 48_000, 16)
    result = judge_survey(read_survey(path), exhibits=False)
    file_survey(ledger, result)
    before = everything(ledger)
    done = reassess(ledger)
    assert (done.surveys, done.same, done.anew, done.differing, done.failed) == (1, 3, 0, 0, ())
    assert everything(ledger) == before


def test_a_newer_version_stands_beside_the_older(ledger, tmp_path):
    filed = file_survey(ledger, judged(folder(tmp_path / "s", ROWS)))
    newer = {"A-1": "inconclusive", "A-2": "leak"}
    done = reassess(ledger, judge=lambda path, seed: judged(path, version="2", verdicts=newer))
    assert (done.anew, done.differing) == (2, 0)
    assert {(t.reading, t.before, t.after) for t in done.turned} == {
        ("A-1", "leak", "inconclusive"),
        ("A-2", "no-leak-heard", "leak"),
    }
    with ledger.reading() as c:
        for reading in readings.readings_of_survey(c, filed.survey_id):
            found = readings.judgements(c, reading.id)
            assert [(j.version, j.current) for j in found] == [("2", True), ("1", False)]
            assert reading.revision == 1
    kinds = {e.sentence.code for e in done.events}
    assert kinds == {"finding-in-doubt", "finding-open"}, "the old finding is said, not dismissed; a new one is opened"
    before = everything(ledger)
    reassess(ledger, judge=lambda path, seed: judged(path, version="2", verdicts=newer))
    assert everything(ledger) == before


@pytest.mark.parametrize("harm", ["changed", "missing"])
def test_a_recording_that_is_not_what_was_filed_is_not_judged(ledger, tmp_path, harm):
    file_survey(ledger, judged(folder(tmp_path / "s", ROWS)))
    before = everything(ledger)
    file = ledger.store.path(before["reading"][0]["recording_sha256"])
    if harm == "changed":
        file.write_bytes(file.read_bytes()[:-1] + b"?")
    else:
        file.unlink()
    done = reassess(ledger, judge=lambda path, seed: judged(path, version="2"))
    (failed,) = done.failed
    assert done.surveys == 0 and "backup" in failed.text
    assert everything(ledger) == before
