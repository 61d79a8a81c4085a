"""A pin for each drawing that shows a point."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "pin",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("plan_drawing_id", sa.Uuid(), nullable=False),
        sa.Column("point_id", sa.Uuid(), nullable=False),
        sa.Column("x", sa.Float(), nullable=False),
        sa.Column("y", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(["plan_drawing_id"], ["plan_drawing.id"], name=op.f("fk_pin_plan_drawing_id")),
        sa.ForeignKeyConstraint(["point_id"], ["point.id"], name=op.f("fk_pin_point_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pin")),
    )
    op.create_index(op.f("ix_pin_plan_drawing_id"), "pin", ["plan_drawing_id"])
    op.create_index(op.f("ix_pin_point_id"), "pin", ["point_id"])


def downgrade() -> None:
    raise RuntimeError("a ledger is not taken back to an older schema; restore a backup")
