"""Batches tell what became of the last try to tell whoever asked."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply; of tries before this nothing is known."""
    op.add_column("batch", sa.Column("callback_tried", sa.DateTime(timezone=True)))
    op.add_column("batch", sa.Column("callback_status", sa.Integer()))
    op.add_column("batch", sa.Column("callback_problem", sa.Text()))


def downgrade() -> None:
    """Take back."""
    for name in ("callback_problem", "callback_status", "callback_tried"):
        op.drop_column("batch", name)
