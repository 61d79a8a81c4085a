"""The server's own tables, beside the ledger's in the same database: who may come in, what runs, what is coming up.

They are no part of the ledger's memory and are not exported with it.
"""

from __future__ import annotations

from sqlalchemy import Column, Float, ForeignKey, Index, Integer, MetaData, String, Table, Text, UniqueConstraint, Uuid

from earwitness.ledger.column_types import Json, Moment
from earwitness.ledger.database import Ledger

metadata = MetaData()

user = Table(
    "server_user",
    metadata,
    Column("id", Uuid, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("password", Text, nullable=False),  # Argon2id, with its own salt and cost in the text
    Column("made_at", Moment, nullable=False),
)
role = Table(
    "server_role",
    metadata,
    Column("id", Uuid, primary_key=True),
    Column("user_id", Uuid, ForeignKey("server_user.id", ondelete="CASCADE"), nullable=False),
    Column("site_id", Uuid),  # none: every site
    Column("role", String(12), nullable=False),
    UniqueConstraint("user_id", "site_id"),
)
session = Table(
    "server_session",
    metadata,
    Column("token_sha256", String(64), primary_key=True),
    Column("user_id", Uuid, ForeignKey("server_user.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("made_at", Moment, nullable=False),
    Column("seen_at", Moment, nullable=False),
)
job = Table(
    "server_job",
    metadata,
    Column("id", Uuid, primary_key=True),
    Column("kind", String(32), nullable=False),
    Column("who", Text, nullable=False),
    Column("site_id", Uuid),
    Column("asked", Json, nullable=False),
    Column("state", String(8), nullable=False),  # waiting, running, done, failed
    Column("asked_at", Moment, nullable=False),
    Column("beat_at", Moment, nullable=False),
    Column("worker", Text),
    Column("tries", Integer, nullable=False),
    Column("done", Integer, nullable=False),
    Column("of", Integer, nullable=False),
    Column("came", Json),
    Column("error", Json),
    Index("ix_server_job_state_asked", "state", "asked_at"),
)
upload = Table(
    "server_upload",
    metadata,
    Column("id", Uuid, primary_key=True),
    Column("who", Text, nullable=False),
    Column("begun_at", Moment, nullable=False),
    Column("job_id", Uuid, ForeignKey("server_job.id")),
)
upload_file = Table(
    "server_upload_file",
    metadata,
    Column("upload_id", Uuid, ForeignKey("server_upload.id", ondelete="CASCADE"), primary_key=True),
    Column("path", Text, primary_key=True),
    Column("sha256", String(64), nullable=False),
    Column("size", Float, nullable=False),
    Column("kind", String(8), nullable=False),
)
sheet = Table(  # a paper round that is being typed in
    "server_sheet",
    metadata,
    Column("id", Uuid, primary_key=True),
    Column("site_id", Uuid, nullable=False),
    Column("who", Text, nullable=False),
    Column("begun_at", Moment, nullable=False),
    Column("title", Text, nullable=False),
    Column("day", String(10), nullable=False),
    Column("inspector", Text, nullable=False),
    Column("job_id", Uuid),
)
sheet_row = Table(
    "server_sheet_row",
    metadata,
    Column("sheet_id", Uuid, ForeignKey("server_sheet.id", ondelete="CASCADE"), primary_key=True),
    Column("row", Integer, primary_key=True),
    Column("cells", Json, nullable=False),
)
watch = Table(  # what the last survey showed of trends, worked out once
    "server_watch",
    metadata,
    Column("survey_id", Uuid, primary_key=True),
    Column("site_id", Uuid),
    Column("made_at", Moment, nullable=False),
    Column("stamp", Text, nullable=False),
    Column("points", Json, nullable=False),
)


def make_tables(ledger: Ledger) -> None:
    with ledger.writing() as connection:
        metadata.create_all(connection)
