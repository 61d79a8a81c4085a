"""The schema as migrated is the schema of the code; what is newer is refused, what is older is upgraded."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

import earwitness.ledger
from earwitness.errors import EarwitnessError
from earwitness.ledger import schema
from earwitness.work.file_survey import file_survey
from tests.ledger.surveys import everything, folder, judged, row


def test_the_migrations_make_the_schema_of_the_code(ledger):
    scripts = ScriptDirectory(Path(earwitness.ledger.__file__).with_name("migrations"))
    assert scripts.get_current_head() == schema.REVISION
    with ledger.reading() as c:
        assert compare_metadata(MigrationContext.configure(c), schema.metadata) == []


def test_a_ledger_keeps_its_data_when_it_is_opened_again(place, tmp_path):
    ledger = place.open()
    file_survey(ledger, judged(folder(tmp_path / "s", [row("A-1", "leak")])))
    before = everything(ledger)
    ledger.close()
    again = place.open()
    assert everything(again) == before
    again.close()


def test_a_newer_ledger_is_refused_in_one_line_and_left_alone(place):
    ledger = place.open()
    with ledger.writing() as c:
        c.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    ledger.close()
    with pytest.raises(EarwitnessError, match="newer than this program") as caught:
        place.open()
    assert "\n" not in str(caught.value)


def test_another_database_is_refused(place):
    ledger = place.open()
    with ledger.writing() as c:
        c.execute(text("DROP TABLE alembic_version"))
    ledger.close()
    with pytest.raises(EarwitnessError, match="other tables"):
        place.open()


def test_foreign_keys_hold(ledger, tmp_path):
    file_survey(ledger, judged(folder(tmp_path / "s", [row("A-1", "leak")])))
    with pytest.raises(Exception, match=r"(?i)foreign key"), ledger.writing() as c:
        c.execute(schema.point.delete())
    assert everything(ledger)["point"]


def test_a_failed_filing_leaves_nothing(ledger, tmp_path, monkeypatch):
    from earwitness.work import file_survey as module

    monkeypatch.setattr(module._Filing, "_decide", lambda *a: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        file_survey(ledger, judged(folder(tmp_path / "s", [row("A-1", "leak")])))
    assert not any(everything(ledger).values())


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["findings", "list", "--ledger", "none.db"], "no ledger"),
        (["points", "import", "none.csv", "--ledger", "x/new.db"], "no file"),
        (["export", "--ledger", "none.db", "--out", "x.txt"], ".json or .xlsx"),
        (["import", "none.json", "--ledger", "y.db"], "no file"),
        (["survey", "none", "--out", "o", "--ledger", "new.db"], "no folder"),
        (["reassess", "--ledger", "mysql://x/y"], "no ledger"),
        (["reassess", "--ledger", "postgresql://nobody@127.0.0.1:1/none"], "--recordings"),
        (["reassess", "--ledger", "postgresql://n@127.0.0.1:1/n", "--recordings", "r"], "cannot be opened"),
        (["tags", "--ledger", "none.db", "--out", "t.pdf"], "no ledger"),
    ],
)
def test_what_cannot_be_is_one_plain_line(arguments, says, tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "earwitness", *arguments], cwd=tmp_path, capture_output=True, text=True
    )
    assert done.returncode == 2 and says in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1 and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == [], "a command that fails leaves nothing behind"
