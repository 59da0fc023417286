"""The height of players, by which lengths are told in centimetres."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply."""
    op.add_column("player", sa.Column("height_cm", sa.Double(), nullable=True))


def downgrade() -> None:
    """Take back."""
    op.drop_column("player", "height_cm")
