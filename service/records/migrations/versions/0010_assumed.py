"""Batches of folders keep what is assumed of swings that don't tell."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply; nothing is assumed of what was sent before."""
    op.add_column("batch", sa.Column("assumed", sa.Text()))


def downgrade() -> None:
    """Take back."""
    op.drop_column("batch", "assumed")
