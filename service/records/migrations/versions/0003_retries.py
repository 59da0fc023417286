"""First answers to requests that may be sent again; versions of swings, which may be changed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_OWNERS = ("player", "lesson", "swing")


def upgrade() -> None:
    """Apply."""
    op.add_column("swing", sa.Column("version", sa.Integer(), nullable=False, server_default="1"))
    op.create_table(
        "retry",
        sa.Column("key", sa.String(240), nullable=False),
        sa.Column("fingerprint", sa.LargeBinary(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        *(sa.Column(f"{owner}_id", sa.Uuid(as_uuid=False)) for owner in _OWNERS),
        sa.Column("location", sa.Text(), nullable=False),
        sa.Column("etag", sa.Text(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        *(
            sa.ForeignKeyConstraint(
                [f"{owner}_id"],
                [f"{owner}.id"],
                name=f"fk_retry_{owner}_id",
                ondelete="CASCADE",
            )
            for owner in _OWNERS
        ),
        sa.PrimaryKeyConstraint("key", name="pk_retry"),
    )
    for column in ("created", *(f"{owner}_id" for owner in _OWNERS)):
        op.create_index(f"ix_retry_{column}", "retry", [column])


def downgrade() -> None:
    """Take back."""
    op.drop_table("retry")
    op.drop_column("swing", "version")
