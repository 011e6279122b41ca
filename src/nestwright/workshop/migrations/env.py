"""Run by Alembic: the migrations on the connection that it was given."""

from __future__ import annotations

from alembic import context

from nestwright.workshop.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transaction_per_migration=False,
)
context.run_migrations()
