"""The ledger's tables. Everything belongs to a site; every identity is a UUID made where the thing is made.

What happened is never overwritten: a corrected reading keeps its earlier cells in `reading_revision`, a newer judgement
stands beside the older ones in `assessment`, and a finding's life is the rows of `finding_step`. Moments are UTC.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Date,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    UniqueConstraint,
    Uuid,
)

from earwitness.ledger.column_types import Json, Moment, Number, Words

REVISION = "0004"  # of this schema; a test compares it with the last migration

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _id() -> Column[Any]:
    return Column("id", Uuid, primary_key=True)


def _of(table: str, *, name: str | None = None, optional: bool = False, index: bool = False) -> Column[Any]:
    return Column(name or f"{table}_id", Uuid, ForeignKey(f"{table}.id"), nullable=optional, index=index)


def _text(name: str, *, optional: bool = True) -> Column[Any]:
    return Column(name, Words, nullable=optional)


def _number(name: str) -> Column[Any]:
    return Column(name, Number)


def _taken_back() -> tuple[Column[Any], Column[Any]]:
    """A person's word that was a mistake stays as it was said, and counts no more."""
    return Column("taken_back_at", Moment), Column("taken_back_by", Words)


site = Table(
    "site",
    metadata,
    _id(),
    Column("name", Words, nullable=False, unique=True),
    _text("timezone"),
    Column("settings", Json, nullable=False),
)
area = Table("area", metadata, _id(), _of("site", index=True), _text("name", optional=False))
asset = Table(
    "asset",
    metadata,
    _id(),
    _of("site", index=True),
    _of("area", optional=True),
    _text("name", optional=False),
)
point = Table(
    "point",
    metadata,
    _id(),
    _of("site"),
    _of("area", optional=True, index=True),
    _of("asset", optional=True),
    _text("name", optional=False),
    _text("key", optional=False),  # the name as it is compared: case and spaces do not matter
    Column("kind", String(16), nullable=False),
    Column("tag", String(16), nullable=False),
    _text("plant_tag"),  # the number that the plant itself hung on the spot
    _text("component"),
    _text("location"),
    _text("medium"),
    _number("pressure_abs"),
    Column("machine", Json, nullable=False),
    _number("baseline_db"),
    _number("watch_db"),
    _number("act_db"),
    _text("how_to_listen"),
    _text("dangers"),
    _number("plan_x"),
    _number("plan_y"),
    UniqueConstraint("site_id", "tag"),
    Index("ix_point_site_kind_key", "site_id", "kind", "key"),
    Index("ix_point_site_plant_tag", "site_id", "plant_tag"),
    Index("ix_point_site_name", "site_id", "name", "id"),
)
instrument = Table(
    "instrument",
    metadata,
    _id(),
    _of("site", index=True),
    _text("receiver"),
    _text("serial"),
    _text("sensor"),
)
sensitivity_check = Table(
    "sensitivity_check",
    metadata,
    _id(),
    _of("instrument", index=True),
    Column("day", Date, nullable=False),
    Column("level_db", Number, nullable=False),
    Column("expected_db", Float, nullable=False),
    Column("tolerance_db", Float, nullable=False),
)
recording = Table(  # the files themselves lie in the store, by this hash
    "recording",
    metadata,
    Column("sha256", String(64), primary_key=True),
    Column("size", Integer, nullable=False),
    _text("name", optional=False),
)
survey = Table(
    "survey",
    metadata,
    _id(),
    _of("site"),
    _text("title", optional=False),
    Column("day", Date, nullable=False),
    _text("inspector", optional=False),
    _of("instrument", optional=True),
    _text("settings_toml", optional=False),
    Column("inputs_sha256", String(64), nullable=False),
    Column("filed_at", Moment, nullable=False),
    Column("problems", Json, nullable=False),
    UniqueConstraint("site_id", "title", "day", "inspector"),
    Index("ix_survey_site_day", "site_id", "day"),
)
survey_file = (
    Table(  # what the survey folder held, byte for byte in the store; a corrected file stands beside the first
        "survey_file",
        metadata,
        _id(),
        _of("survey", index=True),
        _text("path", optional=False),
        Column("sha256", String(64), ForeignKey("recording.sha256"), nullable=False),
        Column("modified_at", Moment),
        Column("filed_at", Moment, nullable=False),
        Column("current", Boolean, nullable=False),
    )
)
reading = Table(
    "reading",
    metadata,
    _id(),
    _of("site"),
    _of("survey"),
    _of("point", optional=True),
    _text("name", optional=False),
    Column("row", Integer, nullable=False),
    Column("kind", String(16), nullable=False),
    Column("status", String(16), nullable=False),
    Column("taken_at", Moment, nullable=False),
    Column("revision", Integer, nullable=False),
    _number("level_db"),
    _number("background_db"),
    Column("comparable", Json, nullable=False),  # distance, gain, pressure, speed: what a comparison rests on
    Column("cells", Json, nullable=False),  # the row as it was read; the sheet itself is a survey_file
    Column("recording_sha256", String(64), ForeignKey("recording.sha256")),
    Column("background_sha256", String(64), ForeignKey("recording.sha256")),
    Column("photo_sha256", String(64), ForeignKey("recording.sha256")),
    UniqueConstraint("survey_id", "name"),
    Index("ix_reading_point_taken", "point_id", "taken_at"),
    Index("ix_reading_site_taken", "site_id", "taken_at"),
    Index("ix_reading_site_name", "site_id", "name"),
)
reading_revision = Table(
    "reading_revision",
    metadata,
    _id(),
    _of("reading", index=True),
    Column("revision", Integer, nullable=False),
    Column("replaced_at", Moment, nullable=False),
    Column("cells", Json, nullable=False),
    UniqueConstraint("reading_id", "revision"),
)
assessment = Table(
    "assessment",
    metadata,
    _id(),
    _of("site"),
    _of("reading"),
    Column("made_at", Moment, nullable=False),
    Column("version", String(32), nullable=False),
    Column("settings", Json, nullable=False),
    Column("inputs_sha256", String(64), nullable=False),
    Column("current", Boolean, nullable=False),
    Column("verdict", String(24)),
    _number("probability"),
    Column("signal_word", String(8)),
    Column("urgent", Boolean, nullable=False),
    _number("cost_per_year"),
    _number("saving_per_year"),
    Column("result", Json, nullable=False),  # one element of `readings` of the contract
    Index("ix_assessment_reading_current", "reading_id", "current"),
    Index("ix_assessment_site_made_at", "site_id", "made_at"),
)
finding = Table(  # state and figures as its last step and reading left them; the history is in finding_step
    "finding",
    metadata,
    _id(),
    _of("site"),
    _of("point", optional=True, index=True),  # none where it is in doubt which point the reading belongs to
    Column("kind", String(16), nullable=False),
    Column("verdict", String(24), nullable=False),
    Column("state", String(12), nullable=False),
    Column("opened_at", Moment, nullable=False),
    Column("closed_at", Moment),
    _of("reading", name="opened_by", index=True),
    Column("standing", Boolean, nullable=False),  # on the list: open, scheduled or reopened
    Column("urgent", Boolean, nullable=False),
    Column("word_order", Integer, nullable=False),  # 0 DANGER … 3 NOTICE, 4 none
    _number("loss_per_hour"),
    _number("cost_per_year"),
    _number("saving_per_year"),
    Column("currency", String(8)),  # of the three numbers above
    Column("repair", Json, nullable=False),
    # what work.rank sorts by, in its order, all ascending
    Column("rank_class", Integer, nullable=False),
    Column("rank_loss", Float, nullable=False),
    Column("rank_rest", Float, nullable=False),
    Index("ix_finding_rank", "site_id", "standing", "rank_class", "rank_loss", "rank_rest", "id"),
    Index("ix_finding_site_state", "site_id", "state"),
    Index("ix_finding_site_currency", "site_id", "currency"),
)
finding_step = Table(
    "finding_step",
    metadata,
    _id(),
    _of("site"),
    _of("finding"),
    Column("number", Integer, nullable=False),
    Column("state", String(12), nullable=False),
    Column("at", Moment, nullable=False),
    _text("who", optional=False),
    _text("why", optional=False),
    _of("reading", optional=True),
    _number("saving_per_year"),
    Column("currency", String(8)),
    Column("data", Json, nullable=False),
    UniqueConstraint("finding_id", "number"),
    Index("ix_finding_step_site_state_at", "site_id", "state", "at"),
    Index("ix_finding_step_reading", "reading_id"),
)
answer = Table(  # what the fitter found
    "answer",
    metadata,
    _id(),
    _of("site"),
    _of("finding", index=True),
    Column("at", Moment, nullable=False),
    _text("who", optional=False),
    Column("found", Boolean, nullable=False),
    _text("what_it_was"),
    Column("fixed_on_spot", Boolean, nullable=False),
    _number("level_before_db"),
    _number("level_after_db"),
    Column("verdict", String(24), nullable=False),
    _number("probability"),
    *_taken_back(),
)
told = Table(  # a danger, and who was told
    "told",
    metadata,
    _id(),
    _of("site"),
    _of("reading", index=True),
    Column("at", Moment, nullable=False),
    _text("who", optional=False),
    _text("by", optional=False),
    _text("text", optional=False),
    *_taken_back(),
)
opinion = Table(  # the inspector's own verdict, kept apart from the tool's
    "opinion",
    metadata,
    _id(),
    _of("site"),
    _of("reading", index=True),
    Column("at", Moment, nullable=False),
    _text("who", optional=False),
    Column("verdict", String(24), nullable=False),
    _text("why", optional=False),
    *_taken_back(),
)
greasing = Table(
    "greasing",
    metadata,
    _id(),
    _of("site"),
    _of("point", index=True),
    Column("at", Moment, nullable=False),
    _text("who", optional=False),
    Column("grams", Float, nullable=False),
    _number("level_before_db"),
    Column("levels_db", Json, nullable=False),
    _number("level_after_db"),
    _text("stopped_because"),
)
system_test = Table(
    "system_test",
    metadata,
    _id(),
    _of("site"),
    Column("day", Date, nullable=False),
    Column("kind", String(16), nullable=False),
    Column("given", Json, nullable=False),
    Column("flow_m3_s", Float, nullable=False),
    Column("sigma_ln", Float, nullable=False),
    Index("ix_system_test_site_day", "site_id", "day"),
)
calibration_leak = Table(
    "calibration_leak",
    metadata,
    _id(),
    _of("site", index=True),
    Column("day", Date, nullable=False),
    Column("level_db", Number, nullable=False),
    Column("pressure_abs", Float, nullable=False),
    Column("distance_m", Float, nullable=False),
    Column("flow_m3_s", Float, nullable=False),
)
plan_drawing = Table(
    "plan_drawing",
    metadata,
    _id(),
    _of("site"),
    _of("area", optional=True),
    _text("name", optional=False),
    Column("image_sha256", String(64), ForeignKey("recording.sha256"), nullable=False),
    _number("width_m"),
    _number("height_m"),
)
pin = Table(  # where a drawing shows a point: fractions of its width and height
    "pin",
    metadata,
    _id(),
    _of("plan_drawing", index=True),
    _of("point", index=True),
    Column("x", Float, nullable=False),
    Column("y", Float, nullable=False),
)
