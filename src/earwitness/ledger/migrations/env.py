"""Run by Alembic with the connection that `ledger.database` hands over."""

from __future__ import annotations

from alembic import context

from earwitness.ledger.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transaction_per_migration=False,
    transactional_ddl=False,  # the caller's transaction holds the whole upgrade
)
context.run_migrations()
