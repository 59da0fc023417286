"""What is kept of coaches' words, as plain frozen dataclasses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from service.analysis.types import CoachVerdict, Grade, Review
from service.lessons.coach.edits import RecapEdits


@dataclass(frozen=True)
class NewReview:
    """A coach's word on a fault in a swing before it is kept.

    ``analysis`` is the number of the analysis that the coach looked at, ``None`` for the newest.
    """

    verdict: CoachVerdict
    reviewer: str
    grade: Grade | None = None
    note: str | None = None
    analysis: int | None = None


@dataclass(frozen=True)
class ReviewEntry:
    """One entry of the history of a review; ``verdict`` is ``None`` where it was withdrawn.

    ``version`` counts the entries from 1.
    """

    id: str
    swing_id: str
    fault: str
    version: int
    created: datetime
    reviewer: str
    analysis: int
    verdict: CoachVerdict | None
    grade: Grade | None
    note: str | None

    @property
    def review(self) -> Review | None:
        """The review that it made; ``None`` where it withdrew one."""
        if self.verdict is None:
            return None
        return Review(
            self.verdict,
            self.grade,
            self.note,
            self.reviewer,
            self.created,
            self.analysis,
            self.version,
        )


@dataclass(frozen=True)
class KeptEdits:
    """The edits of a lesson's recap; ``version`` counts the changes from 1."""

    lesson_id: str
    version: int
    changed: datetime
    reviewer: str
    edits: RecapEdits


@dataclass(frozen=True)
class Label:
    """What a coach decided on a fault in a swing of a player who consents to its being used."""

    player_id: str
    swing_id: str
    fault: str
    verdict: CoachVerdict
    grade: Grade | None
