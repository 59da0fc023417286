"""The database says which versions of the code can work with it while a newer one is rolled out."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_OLDEST = "0003"
"""Code of this version goes on working beside this one's."""


def upgrade() -> None:
    """Apply."""
    table = op.create_table(
        "compatibility",
        sa.Column("oldest", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("oldest", name="pk_compatibility"),
    )
    op.bulk_insert(table, [{"oldest": _OLDEST}])


def downgrade() -> None:
    """Take back."""
    op.drop_table("compatibility")
