"""What a fitter answered, who was told and an inspector's own verdict may be taken back: by whom and when."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for table in ("answer", "told", "opinion"):
        op.add_column(table, sa.Column("taken_back_at", sa.DateTime(timezone=True), nullable=True))
        op.add_column(table, sa.Column("taken_back_by", sa.Text(), nullable=True))


def downgrade() -> None:
    raise RuntimeError("a ledger is not taken back to an older schema; restore a backup")
