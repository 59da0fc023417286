"""Academies, their keys, consent, an audit; everything kept so far goes to the default academy.

The version before goes on working beside it: what it writes gets the default academy, and on
PostgreSQL, where it says nothing of academies, it sees that one.
"""

from __future__ import annotations

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

_DEFAULT = "00000000-0000-7000-8000-000000000001"
_OWNED = (
    "player",
    "lesson",
    "swing",
    "analysis",
    "finding",
    "retry",
    "review",
    "recap_edits",
    "recap_approval",
)
_LISTED = ("player", "swing")
_SEALED = (*_OWNED, "audit")

# Whoever says nothing is of the version before and sees what that version kept. `all` is for
# migrations and backups.
_MINE = (
    "coalesce(nullif(current_setting('swing.academy', true), ''), "
    f"'{_DEFAULT}') IN (academy_id::text, 'all')"
)


def upgrade() -> None:
    """Apply."""
    _make_academies()
    _make_audit()
    op.create_table(
        "allowance",
        sa.Column("who", sa.String(64), nullable=False),
        sa.Column("arrival", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("who", name="pk_allowance"),
        prefixes=["UNLOGGED"] if _on_postgres() else [],
    )
    op.add_column("player", sa.Column("birth_year", sa.Integer()))
    op.add_column("player", sa.Column("consent_given_on", sa.Date()))
    op.add_column("player", sa.Column("consent_by", sa.String(64)))
    for table in _OWNED:
        op.add_column(table, _academy())
    for table in _LISTED:
        op.create_index(f"ix_{table}_academy_id_id", table, ["academy_id", "id"])
    op.create_index("ix_swing_lesson_id_academy_id_id", "swing", ["lesson_id", "academy_id", "id"])
    op.drop_index("ix_swing_lesson_id", "swing")
    _key_retries("academy_id", "key")
    if _on_postgres():
        for table in _SEALED:
            op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
            op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
            op.execute(f"CREATE POLICY academy ON {table} USING ({_MINE})")


def _make_academies() -> None:
    academy = op.create_table(
        "academy",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_academy"),
        sa.UniqueConstraint("name", name="uq_academy_name"),
    )
    now = datetime.now(UTC)
    op.bulk_insert(academy, [{"id": _DEFAULT, "name": "default", "created": now}])
    op.create_table(
        "api_key",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("academy_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("prefix", sa.String(64), nullable=False),
        sa.Column("digest", sa.LargeBinary(), nullable=False),
        sa.Column("scopes", sa.Text(), nullable=False),
        sa.Column("name", sa.Text()),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires", sa.DateTime(timezone=True)),
        sa.Column("revoked", sa.DateTime(timezone=True)),
        sa.ForeignKeyConstraint(
            ["academy_id"], ["academy.id"], name="fk_api_key_academy_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_api_key"),
        sa.UniqueConstraint("prefix", name="uq_api_key_prefix"),
    )
    op.create_index("ix_api_key_academy_id", "api_key", ["academy_id"])


def _make_audit() -> None:
    op.create_table(
        "audit",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        _academy(),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("key_prefix", sa.String(64)),
        sa.Column("request_id", sa.String(64), nullable=False),
        sa.Column("method", sa.String(64), nullable=False),
        sa.Column("route", sa.Text(), nullable=False),
        sa.Column("action", sa.String(64), nullable=False),
        sa.Column("subjects", sa.Text(), nullable=False),
        sa.Column("omitted", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_audit"),
    )
    op.create_index("ix_audit_academy_id_id", "audit", ["academy_id", "id"])
    op.create_index("ix_audit_at", "audit", ["at"])
    refusal = "what the audit holds is not changed"
    if not _on_postgres():
        op.execute(
            "CREATE TRIGGER audit_stands BEFORE UPDATE ON audit "
            f"BEGIN SELECT RAISE(ABORT, '{refusal}'); END"
        )
        return
    op.execute(
        "CREATE FUNCTION audit_stands() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{refusal}'; END $$"
    )
    op.execute(
        "CREATE TRIGGER audit_stands BEFORE UPDATE ON audit "
        "FOR EACH ROW EXECUTE FUNCTION audit_stands()"
    )


def downgrade() -> None:
    """Take back, which mixes what was kept for different academies."""
    if _on_postgres():
        for table in _OWNED:
            op.execute(f"DROP POLICY academy ON {table}")
            op.execute(f"ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY")
            op.execute(f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY")
    op.execute(f"DELETE FROM retry WHERE academy_id <> '{_as_kept(_DEFAULT)}'")
    _key_retries("key")
    op.create_index("ix_swing_lesson_id", "swing", ["lesson_id"])
    op.drop_index("ix_swing_lesson_id_academy_id_id", "swing")
    for table in _LISTED:
        op.drop_index(f"ix_{table}_academy_id_id", table)
    for table in _OWNED:
        op.drop_column(table, "academy_id")
    for column in ("consent_by", "consent_given_on", "birth_year"):
        op.drop_column("player", column)
    for table in ("allowance", "audit", "api_key", "academy"):
        op.drop_table(table)
    if _on_postgres():
        op.execute("DROP FUNCTION audit_stands()")


def _academy() -> sa.Column[str]:
    return sa.Column(
        "academy_id",
        sa.Uuid(as_uuid=False),
        nullable=False,
        server_default=sa.text(f"'{_as_kept(_DEFAULT)}'"),
    )


def _key_retries(*columns: str) -> None:
    """Make these the key of first answers, as two academies may choose the same one."""
    with op.batch_alter_table("retry") as retry:
        retry.drop_constraint("pk_retry", type_="primary")
        retry.create_primary_key("pk_retry", list(columns))


def _as_kept(academy_id: str) -> str:
    """An id as the database writes it: SQLite has no type for it."""
    return academy_id if _on_postgres() else academy_id.replace("-", "")


def _on_postgres() -> bool:
    return op.get_bind().dialect.name == "postgresql"
