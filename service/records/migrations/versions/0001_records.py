"""Players, lessons, swings, analyses and findings."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply."""
    op.create_table(
        "player",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("handedness", sa.String(64)),
        sa.Column("note", sa.Text()),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_player"),
    )
    op.create_table(
        "lesson",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("player_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("title", sa.Text()),
        sa.Column("coach_note", sa.Text()),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["player_id"], ["player.id"], name="fk_lesson_player_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_lesson"),
    )
    op.create_index("ix_lesson_date", "lesson", ["date"])
    op.create_index("ix_lesson_player_id", "lesson", ["player_id"])
    op.create_table(
        "swing",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("lesson_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("role", sa.String(64), nullable=False),
        sa.Column("intent", sa.String(64), nullable=False),
        sa.Column("club", sa.String(64)),
        sa.Column("client_reference", sa.Text()),
        sa.Column("n_frames", sa.Integer(), nullable=False),
        sa.Column("analyses", sa.Integer(), nullable=False),
        sa.Column("request", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["lesson_id"], ["lesson.id"], name="fk_swing_lesson_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_swing"),
    )
    op.create_index("ix_swing_club", "swing", ["club"])
    op.create_index("ix_swing_lesson_id", "swing", ["lesson_id"])
    op.create_table(
        "analysis",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("swing_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("service_version", sa.Text(), nullable=False),
        sa.Column("model_version", sa.Text()),
        sa.Column("swing_found", sa.Boolean(), nullable=False),
        sa.Column("view", sa.String(64)),
        sa.Column("handedness", sa.String(64)),
        sa.Column("frame_rate", sa.Double(), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["swing_id"], ["swing.id"], name="fk_analysis_swing_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_analysis"),
        sa.UniqueConstraint("swing_id", "number", name="uq_analysis_swing_id_number"),
    )
    op.create_index("ix_analysis_view", "analysis", ["view"])
    op.create_table(
        "finding",
        sa.Column("analysis_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("fault", sa.String(64), nullable=False),
        sa.Column("status", sa.String(64), nullable=False),
        sa.Column("score", sa.Double()),
        sa.Column("confidence", sa.Double()),
        sa.Column("severity", sa.Double()),
        sa.Column("severity_unit", sa.Text()),
        sa.Column("grade", sa.String(64)),
        sa.Column("position", sa.Double()),
        sa.Column("frame", sa.Integer()),
        sa.ForeignKeyConstraint(
            ["analysis_id"], ["analysis.id"], name="fk_finding_analysis_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("analysis_id", "fault", name="pk_finding"),
    )
    op.create_index("ix_finding_fault_status", "finding", ["fault", "status"])


def downgrade() -> None:
    """Take back."""
    for table in ("finding", "analysis", "swing", "lesson", "player"):
        op.drop_table(table)
