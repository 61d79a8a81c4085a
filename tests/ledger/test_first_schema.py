"""A ledger of the first released schema opens with its data, whatever has been added since.

first_ledger.json holds what version 0.1.0 filed under schema 0001: a survey, its correction, a repair, its proof.
"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import text

import earwitness.ledger
from earwitness.ledger.database import _engine
from earwitness.work.exchange import export_json, import_json, read_export

STORED = Path(__file__).with_name("first_ledger.json")
TABLES = json.loads(STORED.read_text("utf-8"))["tables"]


def as_first(place) -> None:
    """Make the ledger as the first version did: its own migration, and rows that only the driver has seen."""
    engine = _engine(place.where if place.is_postgres else f"sqlite:///{place.where}")
    config = Config()
    config.set_main_option("script_location", str(Path(earwitness.ledger.__file__).with_name("migrations")))
    with engine.begin() as c:
        config.attributes["connection"] = c
        command.upgrade(config, "0001")
        for table, rows in TABLES.items():
            for row in rows:
                names = ", ".join(f'"{n}"' for n in row)
                marks = ", ".join(f":{n}" for n in row)
                values = {n: _written(n, v, place.is_postgres) for n, v in row.items()}
                c.execute(text(f'INSERT INTO "{table}" ({names}) VALUES ({marks})'), values)
    engine.dispose()


def _written(column: str, value: Any, postgres: bool) -> Any:
    """As SQLite holds identities and moments; PostgreSQL reads them as text."""
    if isinstance(value, dict | list):
        return json.dumps(value)
    if postgres or not isinstance(value, str):
        return value
    if column == "id" or column.endswith("_id") or column == "opened_by":
        return UUID(value).hex
    return datetime.fromisoformat(value).strftime("%Y-%m-%d %H:%M:%S.%f") if column.endswith("at") else value


def test_a_ledger_of_the_first_schema_opens_with_its_data(place, tmp_path):
    as_first(place)
    ledger = place.open()
    export_json(ledger, tmp_path / "now.json")
    ledger.close()
    now = json.loads((tmp_path / "now.json").read_text("utf-8"))["tables"]
    assert sum(len(rows) for rows in TABLES.values()) > 30
    _holds(now)


def test_what_the_first_version_exported_can_be_imported(ledger, tmp_path):
    import_json(ledger, read_export(STORED))
    export_json(ledger, tmp_path / "now.json")
    _holds(json.loads((tmp_path / "now.json").read_text("utf-8"))["tables"])


def _holds(now: dict[str, list[dict[str, Any]]]) -> None:
    """Every row of then is there with every value; columns may have been added."""
    for table, rows in TABLES.items():
        assert len(now[table]) == len(rows), table
        for before, after in zip(rows, now[table], strict=True):
            assert {name: after[name] for name in before} == before


@pytest.mark.parametrize("table", ["reading_revision", "finding_step", "survey_file"])
def test_the_stored_ledger_has_a_history(table):
    assert TABLES[table]
