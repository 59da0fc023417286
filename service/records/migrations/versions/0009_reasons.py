"""Findings keep why they are not assessable, so that it can be counted."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply; of what was found before the reason stays in the analysis alone."""
    op.add_column("finding", sa.Column("reason", sa.String(64)))


def downgrade() -> None:
    """Take back."""
    op.drop_column("finding", "reason")
