"""The currency of a finding's money and of each step's, so that sums are made for each currency alone; and when a site
was last judged, found without counting."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from earwitness.ledger.currencies import fill_in

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for table in ("finding", "finding_step"):
        op.add_column(table, sa.Column("currency", sa.String(8), nullable=True))
    fill_in(op.get_bind())
    op.create_index(op.f("ix_finding_site_currency"), "finding", ["site_id", "currency"])
    op.create_index(op.f("ix_assessment_site_made_at"), "assessment", ["site_id", "made_at"])


def downgrade() -> None:
    raise RuntimeError("a ledger is not taken back to an older schema; restore a backup")
