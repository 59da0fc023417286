"""Visits made up of analyses, for recaps that no database holds."""

from __future__ import annotations

from datetime import UTC, date, datetime

from service.analysis.types import SwingAnalysis
from service.records import KeptAnalysis, KeptSwing, Lesson, Provenance, Role, Swing
from service.use_cases.recap import Visit


def visit(
    *swings: tuple[Role, SwingAnalysis], day: date = date(2025, 5, 20), note: str | None = None
) -> Visit:
    """A visit of these swings on a day."""
    now = datetime.combine(day, datetime.min.time(), UTC)
    lesson = Lesson("lesson", "player", day, None, note, now, 1)
    return Visit(lesson, [kept(f"{day} {n}", *swing) for n, swing in enumerate(swings)])


def kept(swing_id: str, role: Role, analysis: SwingAnalysis) -> KeptSwing:
    now = datetime(2025, 5, 20, tzinfo=UTC)
    meta = Swing(
        id=swing_id,
        lesson_id="lesson",
        player_id="player",
        created=now,
        recorded_at=now,
        role=role,
        intent=analysis.intent,
        club=analysis.club,
        client_reference=None,
        n_frames=len(analysis.times),
        frame_rate=analysis.quality.frame_rate,
        analyses=1,
        swing_found=analysis.swing_found,
        view=analysis.view.value if analysis.view else None,
        handedness=analysis.handedness.value if analysis.handedness else None,
        version=1,
    )
    made_by = Provenance("1.0", None)
    return KeptSwing(meta, KeptAnalysis("analysis", swing_id, 1, now, made_by, analysis))
