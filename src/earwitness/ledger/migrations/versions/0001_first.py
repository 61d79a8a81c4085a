"""The first schema."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    _recording()
    _site()
    _area()
    _calibration_leak()
    _instrument()
    _system_test()
    _asset()
    _plan_drawing()
    _sensitivity_check()
    _survey()
    _point()
    _survey_file()
    _greasing()
    _reading()
    _assessment()
    _finding()
    _opinion()
    _reading_revision()
    _told()
    _answer()
    _finding_step()


def _recording() -> None:
    op.create_table(
        "recording",
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_recording")),
    )


def _site() -> None:
    op.create_table(
        "site",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("timezone", sa.Text(), nullable=True),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
        sa.UniqueConstraint("name", name=op.f("uq_site_name")),
    )


def _area() -> None:
    op.create_table(
        "area",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_area_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_area")),
    )
    op.create_index(op.f("ix_area_site_id"), "area", ["site_id"], unique=False)


def _calibration_leak() -> None:
    op.create_table(
        "calibration_leak",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("level_db", sa.Float(), nullable=False),
        sa.Column("pressure_abs", sa.Float(), nullable=False),
        sa.Column("distance_m", sa.Float(), nullable=False),
        sa.Column("flow_m3_s", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_calibration_leak_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibration_leak")),
    )
    op.create_index(op.f("ix_calibration_leak_site_id"), "calibration_leak", ["site_id"], unique=False)


def _instrument() -> None:
    op.create_table(
        "instrument",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("receiver", sa.Text(), nullable=True),
        sa.Column("serial", sa.Text(), nullable=True),
        sa.Column("sensor", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_instrument_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument")),
    )
    op.create_index(op.f("ix_instrument_site_id"), "instrument", ["site_id"], unique=False)


def _system_test() -> None:
    op.create_table(
        "system_test",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("given", sa.JSON(), nullable=False),
        sa.Column("flow_m3_s", sa.Float(), nullable=False),
        sa.Column("sigma_ln", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_system_test_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_system_test")),
    )
    op.create_index("ix_system_test_site_day", "system_test", ["site_id", "day"], unique=False)


def _asset() -> None:
    op.create_table(
        "asset",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("area_id", sa.Uuid(), nullable=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_asset_area_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_asset_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_asset")),
    )
    op.create_index(op.f("ix_asset_site_id"), "asset", ["site_id"], unique=False)


def _plan_drawing() -> None:
    op.create_table(
        "plan_drawing",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("area_id", sa.Uuid(), nullable=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("image_sha256", sa.String(length=64), nullable=False),
        sa.Column("width_m", sa.Float(), nullable=True),
        sa.Column("height_m", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_plan_drawing_area_id")),
        sa.ForeignKeyConstraint(["image_sha256"], ["recording.sha256"], name=op.f("fk_plan_drawing_image_sha256")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_plan_drawing_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plan_drawing")),
    )


def _sensitivity_check() -> None:
    op.create_table(
        "sensitivity_check",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("level_db", sa.Float(), nullable=False),
        sa.Column("expected_db", sa.Float(), nullable=False),
        sa.Column("tolerance_db", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(["instrument_id"], ["instrument.id"], name=op.f("fk_sensitivity_check_instrument_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sensitivity_check")),
    )
    op.create_index(op.f("ix_sensitivity_check_instrument_id"), "sensitivity_check", ["instrument_id"], unique=False)


def _survey() -> None:
    op.create_table(
        "survey",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("inspector", sa.Text(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=True),
        sa.Column("settings_toml", sa.Text(), nullable=False),
        sa.Column("inputs_sha256", sa.String(length=64), nullable=False),
        sa.Column("filed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("problems", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["instrument_id"], ["instrument.id"], name=op.f("fk_survey_instrument_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_survey_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_survey")),
        sa.UniqueConstraint("site_id", "title", "day", "inspector", name=op.f("uq_survey_site_id_title_day_inspector")),
    )
    op.create_index("ix_survey_site_day", "survey", ["site_id", "day"], unique=False)


def _point() -> None:
    op.create_table(
        "point",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("area_id", sa.Uuid(), nullable=True),
        sa.Column("asset_id", sa.Uuid(), nullable=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("tag", sa.String(length=16), nullable=False),
        sa.Column("plant_tag", sa.Text(), nullable=True),
        sa.Column("component", sa.Text(), nullable=True),
        sa.Column("location", sa.Text(), nullable=True),
        sa.Column("medium", sa.Text(), nullable=True),
        sa.Column("pressure_abs", sa.Float(), nullable=True),
        sa.Column("machine", sa.JSON(), nullable=False),
        sa.Column("baseline_db", sa.Float(), nullable=True),
        sa.Column("watch_db", sa.Float(), nullable=True),
        sa.Column("act_db", sa.Float(), nullable=True),
        sa.Column("how_to_listen", sa.Text(), nullable=True),
        sa.Column("dangers", sa.Text(), nullable=True),
        sa.Column("plan_x", sa.Float(), nullable=True),
        sa.Column("plan_y", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_point_area_id")),
        sa.ForeignKeyConstraint(["asset_id"], ["asset.id"], name=op.f("fk_point_asset_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_point_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_point")),
        sa.UniqueConstraint("site_id", "tag", name=op.f("uq_point_site_id_tag")),
    )
    op.create_index(op.f("ix_point_area_id"), "point", ["area_id"], unique=False)
    op.create_index("ix_point_site_kind_key", "point", ["site_id", "kind", "key"], unique=False)
    op.create_index("ix_point_site_name", "point", ["site_id", "name", "id"], unique=False)
    op.create_index("ix_point_site_plant_tag", "point", ["site_id", "plant_tag"], unique=False)


def _survey_file() -> None:
    op.create_table(
        "survey_file",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("survey_id", sa.Uuid(), nullable=False),
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("modified_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("filed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("current", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["sha256"], ["recording.sha256"], name=op.f("fk_survey_file_sha256")),
        sa.ForeignKeyConstraint(["survey_id"], ["survey.id"], name=op.f("fk_survey_file_survey_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_survey_file")),
    )
    op.create_index(op.f("ix_survey_file_survey_id"), "survey_file", ["survey_id"], unique=False)


def _greasing() -> None:
    op.create_table(
        "greasing",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("point_id", sa.Uuid(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("grams", sa.Float(), nullable=False),
        sa.Column("level_before_db", sa.Float(), nullable=True),
        sa.Column("levels_db", sa.JSON(), nullable=False),
        sa.Column("level_after_db", sa.Float(), nullable=True),
        sa.Column("stopped_because", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["point_id"], ["point.id"], name=op.f("fk_greasing_point_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_greasing_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_greasing")),
    )
    op.create_index(op.f("ix_greasing_point_id"), "greasing", ["point_id"], unique=False)


def _reading() -> None:
    op.create_table(
        "reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("survey_id", sa.Uuid(), nullable=False),
        sa.Column("point_id", sa.Uuid(), nullable=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("row", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("status", sa.String(length=16), nullable=False),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("level_db", sa.Float(), nullable=True),
        sa.Column("background_db", sa.Float(), nullable=True),
        sa.Column("comparable", sa.JSON(), nullable=False),
        sa.Column("cells", sa.JSON(), nullable=False),
        sa.Column("recording_sha256", sa.String(length=64), nullable=True),
        sa.Column("background_sha256", sa.String(length=64), nullable=True),
        sa.Column("photo_sha256", sa.String(length=64), nullable=True),
        sa.ForeignKeyConstraint(["background_sha256"], ["recording.sha256"], name=op.f("fk_reading_background_sha256")),
        sa.ForeignKeyConstraint(["photo_sha256"], ["recording.sha256"], name=op.f("fk_reading_photo_sha256")),
        sa.ForeignKeyConstraint(["point_id"], ["point.id"], name=op.f("fk_reading_point_id")),
        sa.ForeignKeyConstraint(["recording_sha256"], ["recording.sha256"], name=op.f("fk_reading_recording_sha256")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_reading_site_id")),
        sa.ForeignKeyConstraint(["survey_id"], ["survey.id"], name=op.f("fk_reading_survey_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
        sa.UniqueConstraint("survey_id", "name", name=op.f("uq_reading_survey_id_name")),
    )
    op.create_index("ix_reading_point_taken", "reading", ["point_id", "taken_at"], unique=False)
    op.create_index("ix_reading_site_name", "reading", ["site_id", "name"], unique=False)
    op.create_index("ix_reading_site_taken", "reading", ["site_id", "taken_at"], unique=False)


def _assessment() -> None:
    op.create_table(
        "assessment",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("reading_id", sa.Uuid(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.String(length=32), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.Column("inputs_sha256", sa.String(length=64), nullable=False),
        sa.Column("current", sa.Boolean(), nullable=False),
        sa.Column("verdict", sa.String(length=24), nullable=True),
        sa.Column("probability", sa.Float(), nullable=True),
        sa.Column("signal_word", sa.String(length=8), nullable=True),
        sa.Column("urgent", sa.Boolean(), nullable=False),
        sa.Column("cost_per_year", sa.Float(), nullable=True),
        sa.Column("saving_per_year", sa.Float(), nullable=True),
        sa.Column("result", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name=op.f("fk_assessment_reading_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_assessment_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_assessment")),
    )
    op.create_index("ix_assessment_reading_current", "assessment", ["reading_id", "current"], unique=False)


def _finding() -> None:
    op.create_table(
        "finding",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("point_id", sa.Uuid(), nullable=True),
        sa.Column("kind", sa.String(length=16), nullable=False),
        sa.Column("verdict", sa.String(length=24), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("opened_by", sa.Uuid(), nullable=False),
        sa.Column("standing", sa.Boolean(), nullable=False),
        sa.Column("urgent", sa.Boolean(), nullable=False),
        sa.Column("word_order", sa.Integer(), nullable=False),
        sa.Column("loss_per_hour", sa.Float(), nullable=True),
        sa.Column("cost_per_year", sa.Float(), nullable=True),
        sa.Column("saving_per_year", sa.Float(), nullable=True),
        sa.Column("repair", sa.JSON(), nullable=False),
        sa.Column("rank_class", sa.Integer(), nullable=False),
        sa.Column("rank_loss", sa.Float(), nullable=False),
        sa.Column("rank_rest", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(["opened_by"], ["reading.id"], name=op.f("fk_finding_opened_by")),
        sa.ForeignKeyConstraint(["point_id"], ["point.id"], name=op.f("fk_finding_point_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_finding_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_finding")),
    )
    op.create_index(op.f("ix_finding_opened_by"), "finding", ["opened_by"], unique=False)
    op.create_index(op.f("ix_finding_point_id"), "finding", ["point_id"], unique=False)
    op.create_index(
        "ix_finding_rank",
        "finding",
        ["site_id", "standing", "rank_class", "rank_loss", "rank_rest", "id"],
        unique=False,
    )
    op.create_index("ix_finding_site_state", "finding", ["site_id", "state"], unique=False)


def _opinion() -> None:
    op.create_table(
        "opinion",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("reading_id", sa.Uuid(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("verdict", sa.String(length=24), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name=op.f("fk_opinion_reading_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_opinion_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_opinion")),
    )
    op.create_index(op.f("ix_opinion_reading_id"), "opinion", ["reading_id"], unique=False)


def _reading_revision() -> None:
    op.create_table(
        "reading_revision",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("reading_id", sa.Uuid(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("replaced_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("cells", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name=op.f("fk_reading_revision_reading_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading_revision")),
        sa.UniqueConstraint("reading_id", "revision", name=op.f("uq_reading_revision_reading_id_revision")),
    )
    op.create_index(op.f("ix_reading_revision_reading_id"), "reading_revision", ["reading_id"], unique=False)


def _told() -> None:
    op.create_table(
        "told",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("reading_id", sa.Uuid(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name=op.f("fk_told_reading_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_told_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_told")),
    )
    op.create_index(op.f("ix_told_reading_id"), "told", ["reading_id"], unique=False)


def _answer() -> None:
    op.create_table(
        "answer",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("finding_id", sa.Uuid(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("found", sa.Boolean(), nullable=False),
        sa.Column("what_it_was", sa.Text(), nullable=True),
        sa.Column("fixed_on_spot", sa.Boolean(), nullable=False),
        sa.Column("level_before_db", sa.Float(), nullable=True),
        sa.Column("level_after_db", sa.Float(), nullable=True),
        sa.Column("verdict", sa.String(length=24), nullable=False),
        sa.Column("probability", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["finding_id"], ["finding.id"], name=op.f("fk_answer_finding_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_answer_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_answer")),
    )
    op.create_index(op.f("ix_answer_finding_id"), "answer", ["finding_id"], unique=False)


def _finding_step() -> None:
    op.create_table(
        "finding_step",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("finding_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("reading_id", sa.Uuid(), nullable=True),
        sa.Column("saving_per_year", sa.Float(), nullable=True),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["finding_id"], ["finding.id"], name=op.f("fk_finding_step_finding_id")),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name=op.f("fk_finding_step_reading_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_finding_step_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_finding_step")),
        sa.UniqueConstraint("finding_id", "number", name=op.f("uq_finding_step_finding_id_number")),
    )
    op.create_index("ix_finding_step_reading", "finding_step", ["reading_id"], unique=False)
    op.create_index("ix_finding_step_site_state_at", "finding_step", ["site_id", "state", "at"], unique=False)
