"""Findings keep only what is searched; the rest stands in the analysis, and was only written."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_DROPPED: dict[str, sa.types.TypeEngine[Any]] = {
    "score": sa.Double(),
    "confidence": sa.Double(),
    "severity": sa.Double(),
    "severity_unit": sa.Text(),
    "grade": sa.String(64),
    "position": sa.Double(),
    "frame": sa.Integer(),
}


def upgrade() -> None:
    """Apply."""
    for name in _DROPPED:
        op.drop_column("finding", name)


def downgrade() -> None:
    """Take back; the columns come back empty."""
    for name, kind in _DROPPED.items():
        op.add_column("finding", sa.Column(name, kind))
