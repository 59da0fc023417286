"""Batches of folders tell which files they passed over."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply; of folders listed before this nothing is known."""
    op.add_column("batch", sa.Column("passed_over", sa.Text()))


def downgrade() -> None:
    """Take back."""
    op.drop_column("batch", "passed_over")
