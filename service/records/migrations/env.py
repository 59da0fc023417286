"""Runs migrations on the connection it is handed."""

from __future__ import annotations

from alembic import context

from service.records.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    transactional_ddl=True,  # SQLite can undo DDL too, as the driver lets it
)
with context.begin_transaction():
    context.run_migrations()
