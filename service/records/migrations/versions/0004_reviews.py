"""What coaches say of findings and recaps; the grades of findings, to be counted; consent."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from pydantic_core import from_json

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_FINDING = sa.table(
    "finding",
    sa.column("analysis_id", sa.Uuid(as_uuid=False)),
    sa.column("fault", sa.String),
    sa.column("status", sa.String),
    sa.column("grade", sa.String),
)
_ANALYSIS = sa.table(
    "analysis", sa.column("id", sa.Uuid(as_uuid=False)), sa.column("content", sa.Text)
)


def upgrade() -> None:
    """Apply."""
    op.add_column(
        "player",
        sa.Column("training_consent", sa.Boolean(), nullable=False, server_default=sa.false()),
    )
    op.add_column("finding", sa.Column("grade", sa.String(64)))
    _fill_grades()
    op.create_table(
        "review",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("swing_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("fault", sa.String(64), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reviewer", sa.Text(), nullable=False),
        sa.Column("analysis", sa.Integer(), nullable=False),
        sa.Column("verdict", sa.String(64)),
        sa.Column("grade", sa.String(64)),
        sa.Column("note", sa.Text()),
        sa.ForeignKeyConstraint(
            ["swing_id"], ["swing.id"], name="fk_review_swing_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_review"),
        sa.UniqueConstraint(
            "swing_id", "fault", "version", name="uq_review_swing_id_fault_version"
        ),
    )
    op.create_table(
        "recap_edits",
        sa.Column("lesson_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("changed", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reviewer", sa.Text(), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["lesson_id"], ["lesson.id"], name="fk_recap_edits_lesson_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("lesson_id", name="pk_recap_edits"),
    )
    op.create_table(
        "recap_approval",
        sa.Column("id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("lesson_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reviewer", sa.Text(), nullable=False),
        sa.Column("told", sa.Text()),
        sa.ForeignKeyConstraint(
            ["lesson_id"], ["lesson.id"], name="fk_recap_approval_lesson_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_recap_approval"),
        sa.UniqueConstraint("lesson_id", "number", name="uq_recap_approval_lesson_id_number"),
    )


def downgrade() -> None:
    """Take back."""
    op.drop_table("recap_approval")
    op.drop_table("recap_edits")
    op.drop_table("review")
    op.drop_column("finding", "grade")
    op.drop_column("player", "training_consent")


def _fill_grades() -> None:
    """Take the grades of what was found so far from the analyses, one at a time."""
    connection = op.get_bind()
    finding, analysis = _FINDING.c, _ANALYSIS.c
    graded = sa.select(finding.analysis_id).where(finding.status == "present").distinct()
    for analysis_id in connection.scalars(graded).all():
        whole = sa.select(analysis.content).where(analysis.id == analysis_id)
        content: str = connection.execute(whole).scalar_one()
        for found in from_json(content)["findings"]:
            if found.get("grade") is not None:
                same = sa.and_(finding.analysis_id == analysis_id, finding.fault == found["fault"])
                connection.execute(sa.update(_FINDING).where(same).values(grade=found["grade"]))
