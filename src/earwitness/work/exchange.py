"""A ledger out and in again: all of it as JSON, without loss; points, readings and findings as sheets for people.

Each line of the JSON file is one row, in the order of identities, so that equal ledgers give equal files.
"""

from __future__ import annotations

import json
import os
import uuid
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Date, Table, Uuid, select

from earwitness import __version__
from earwitness.errors import EarwitnessError
from earwitness.given_file import other_kind, refuse_no_file
from earwitness.ledger import Ledger, schema
from earwitness.ledger.column_types import Moment
from earwitness.ledger.currencies import fill_in
from earwitness.ledger.rows import put
from earwitness.ledger.store import CHUNK

SCHEMA = "earwitness.ledger/1"
WOULD_DO = (
    "a whole .json file from `earwitness export` would do (points in a sheet: `earwitness points import`; a survey's "
    "folder: `earwitness survey --ledger`)"
)
ROWS = 1000
ENCODE = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode


@dataclass(frozen=True)
class Exported:
    """An exported file as it was read: the rows of each table; its recordings lie beside it."""

    path: Path
    tables: Mapping[str, list[dict[str, Any]]]


def export_json(ledger: Ledger, out: Path, *, recordings: bool = False) -> dict[str, int]:
    """Every row of every table; how many of each. `recordings` puts the files beside, as a folder of that name."""
    counts: dict[str, int] = {}
    with ledger.reading() as c, _whole(out) as file:
        if c.dialect.name == "postgresql":
            c.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        else:
            c.exec_driver_sql("BEGIN")
        file.write(f'{{"schema":"{SCHEMA}","revision":"{schema.REVISION}","made_by":"{__version__}","tables":{{')
        for number, table in enumerate(schema.metadata.sorted_tables):
            file.write(f'{"," if number else ""}\n"{table.name}":[')
            counts[table.name] = _write_rows(c, table, file)
            file.write("]")
        file.write("\n}}\n")
        named = list(c.scalars(select(schema.recording.c.sha256))) if recordings else []
        c.rollback()
    for sha256 in named:
        _copy(ledger.store.verified(sha256), beside(out) / sha256)
    return counts


def beside(out: Path) -> Path:
    """The folder of recordings that belongs to an exported file; not that of a ledger of the same name."""
    return out.with_name(out.name + ".recordings")


def _write_rows(c: Connection, table: Table, file: Any) -> int:
    count = 0
    asked = select(table).order_by(*table.primary_key.columns).execution_options(yield_per=ROWS)
    for row in c.execute(asked):
        file.write(("," if count else "") + "\n" + ENCODE({k: _plain(v) for k, v in row._mapping.items()}))
        count += 1
    return count


def _plain(value: Any) -> Any:
    if isinstance(value, uuid.UUID):
        return str(value)
    return value.isoformat() if isinstance(value, date) else value


def import_json(ledger: Ledger, exported: Exported) -> dict[str, int]:
    """Fill a ledger with what was exported; how many rows of each table. A site that is there already is refused."""
    tables = exported.tables
    with ledger.store.storing():
        files = _keep_recordings(ledger, exported.path, {r["sha256"] for r in tables.get("recording", ())})
        with ledger.writing(storing=True) as c:
            there = {r.id: r.name for r in c.execute(select(schema.site.c.id, schema.site.c.name))}
            for row in tables.get("site", ()):
                if uuid.UUID(row["id"]) in there or row["name"] in there.values():
                    raise EarwitnessError(f"the ledger holds {row['name']} already; import into a new ledger")
            for table in schema.metadata.sorted_tables:
                rows = [_row(table, r) for r in tables.get(table.name, ())]
                for first in range(0, len(rows), ROWS):
                    put(c, table, rows[first : first + ROWS])
            fill_in(c)  # what an earlier version exported
    return {name: len(rows) for name, rows in tables.items()} | {"files": files}


def read_export(path: Path) -> Exported:
    """What `export_json` wrote.

    Raises
    ------
    EarwitnessError : the file is not there, is another one, is cut short, or comes from a newer version
    """
    refuse_no_file(path, WOULD_DO)
    try:
        data = json.loads(path.read_text("utf-8"))
        known = data.get("schema") == SCHEMA and isinstance(data["tables"], dict)
    except (ValueError, AttributeError, KeyError):
        known = False
    if not known:
        kind = other_kind(path)
        what = f"is {kind}, not an exported ledger" if kind else "is no exported ledger, or is cut short"
        raise EarwitnessError(f"{path} {what}; {WOULD_DO}")
    if str(data.get("revision")) > schema.REVISION:
        raise EarwitnessError(f"{path} comes from a newer version ({data['revision']}); install a newer earwitness")
    return Exported(path, data["tables"])


def _row(table: Table, row: Mapping[str, Any]) -> dict[str, Any]:
    try:
        return {c.name: _typed(c.type, row.get(c.name)) for c in table.columns}
    except (ValueError, TypeError, AttributeError) as error:
        raise EarwitnessError(f"a row of {table.name} cannot be read: {error}") from error


def _typed(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, Uuid):
        return uuid.UUID(value)
    if isinstance(kind, Moment):
        return datetime.fromisoformat(value)
    return date.fromisoformat(value) if isinstance(kind, Date) else value


def _keep_recordings(ledger: Ledger, path: Path, wanted: set[str]) -> int:
    """Files that lie beside, in a folder or a zip; each must be what its name says."""
    count = 0
    folder, packed = beside(path), path.with_name(path.name + ".recordings.zip")
    if folder.is_dir():
        for sha256 in sorted(wanted):
            if (folder / sha256).is_file():
                _same(ledger.store.keep(folder / sha256).sha256, sha256)
                count += 1
    elif packed.is_file():
        with zipfile.ZipFile(packed) as archive:
            inside = {Path(name).name: name for name in archive.namelist()}
            for sha256 in sorted(wanted & set(inside)):
                _same(ledger.store.keep_bytes(archive.read(inside[sha256]), sha256).sha256, sha256)
                count += 1
    return count


def _same(found: str, named: str) -> None:
    if found != named:
        raise EarwitnessError(f"the recording {named[:12]}… beside the file is damaged; export it anew")


def _copy(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    if target.is_file() and target.stat().st_size == source.stat().st_size:
        return
    part = target.with_suffix(".part")
    with source.open("rb") as read, part.open("wb") as write:
        while chunk := read.read(CHUNK):
            write.write(chunk)
    part.replace(target)


@contextmanager
def _whole(out: Path) -> Iterator[Any]:
    """A text file that appears whole or not at all."""
    part = out.with_name(out.name + ".part")
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with part.open("w", encoding="utf-8", newline="\n") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(out)
    except OSError as error:
        raise EarwitnessError(f"cannot write {out}: {error.strerror}") from error
    finally:
        part.unlink(missing_ok=True)
