"""Batches: what is to be done, by whom it is being done, and what came of it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

_DEFAULT = "00000000-0000-7000-8000-000000000001"
_TABLES = ("batch", "batch_item", "batch_result")
_MINE = (
    "coalesce(nullif(current_setting('swing.academy', true), ''), "
    f"'{_DEFAULT}') IN (academy_id::text, 'all')"
)


def upgrade() -> None:
    """Apply."""
    _make_batches()
    _make_items()
    with op.batch_alter_table("retry") as retry:
        retry.add_column(sa.Column("batch_id", sa.Uuid(as_uuid=False)))
        retry.create_foreign_key(
            "fk_retry_batch_id", "batch", ["batch_id"], ["id"], ondelete="CASCADE"
        )
    op.create_index("ix_retry_batch_id", "retry", ["batch_id"])
    if _on_postgres():
        for table in _TABLES:
            op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
            op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
            op.execute(f"CREATE POLICY academy ON {table} USING ({_MINE})")


def _make_batches() -> None:
    op.create_table(
        "batch",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        _academy(),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("started", sa.DateTime(timezone=True)),
        sa.Column("finished", sa.DateTime(timezone=True)),
        sa.Column("state", sa.String(64), nullable=False),
        sa.Column("problem", sa.Text()),
        sa.Column("folder", sa.Text()),
        sa.Column("lesson_id", sa.Uuid(as_uuid=False)),
        sa.Column("role", sa.String(64), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True)),
        sa.Column("needs_consent", sa.Boolean(), nullable=False),
        sa.Column("key_prefix", sa.String(64)),
        sa.Column("request_id", sa.String(64), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("failed", sa.Integer(), nullable=False),
        sa.Column("callback_url", sa.Text()),
        sa.Column("callback_secret", sa.Text()),
        sa.Column("callback_state", sa.String(64)),
        sa.Column("callback_tries", sa.Integer(), nullable=False),
        sa.Column("callback_due", sa.Double()),
        sa.ForeignKeyConstraint(
            ["lesson_id"], ["lesson.id"], name="fk_batch_lesson_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_batch"),
    )
    op.create_index("ix_batch_academy_id_id", "batch", ["academy_id", "id"])
    op.create_index("ix_batch_lesson_id", "batch", ["lesson_id"])


def _make_items() -> None:
    op.create_table(
        "batch_item",
        _batch("batch_item"),
        sa.Column("number", sa.Integer(), nullable=False, autoincrement=False),
        _academy(),
        sa.Column("kind", sa.String(64), nullable=False),
        sa.Column("path", sa.Text()),
        sa.Column("first_line", sa.Integer(), nullable=False),
        sa.Column("first_in_file", sa.Integer(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("leased_by", sa.String(64)),
        sa.Column("leased_until", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("batch_id", "number", name="pk_batch_item"),
    )
    op.create_index(
        "ix_batch_item_academy_id_number_batch_id",
        "batch_item",
        ["academy_id", "number", "batch_id"],
    )
    op.create_table(
        "batch_result",
        _batch("batch_result"),
        sa.Column("first_line", sa.Integer(), nullable=False, autoincrement=False),
        _academy(),
        sa.Column("n_lines", sa.Integer(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("batch_id", "first_line", name="pk_batch_result"),
    )


def downgrade() -> None:
    """Take back."""
    op.drop_index("ix_retry_batch_id", "retry")
    with op.batch_alter_table("retry") as retry:
        retry.drop_constraint("fk_retry_batch_id", type_="foreignkey")
        retry.drop_column("batch_id")
    for table in reversed(_TABLES):
        op.drop_table(table)


def _batch(table: str) -> sa.Column[str]:
    return sa.Column(
        "batch_id",
        sa.Uuid(as_uuid=False),
        sa.ForeignKey("batch.id", name=f"fk_{table}_batch_id", ondelete="CASCADE"),
        nullable=False,
    )


def _academy() -> sa.Column[str]:
    default = _DEFAULT if _on_postgres() else _DEFAULT.replace("-", "")
    return sa.Column(
        "academy_id",
        sa.Uuid(as_uuid=False),
        nullable=False,
        server_default=sa.text(f"'{default}'"),
    )


def _on_postgres() -> bool:
    return op.get_bind().dialect.name == "postgresql"
