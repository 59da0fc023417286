"""What is kept, as plain frozen dataclasses; the tables behind them stay in this package."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from service.analysis.types import Club, Handedness, Intent, SwingAnalysis, View


class Role(StrEnum):
    """The part a swing plays in its lesson."""

    BEFORE = "before"
    AFTER = "after"
    REHEARSAL = "rehearsal"
    REFERENCE = "reference"
    OTHER = "other"

    @property
    def intent(self) -> Intent:
        """What a swing in this role is meant to be where its request doesn't say."""
        return Intent.REHEARSAL if self is Role.REHEARSAL else Intent.FULL_SPEED


class ConsentBy(StrEnum):
    """Who agreed that a player's data are kept."""

    PLAYER = "player"
    GUARDIAN = "guardian"


@dataclass(frozen=True)
class Consent:
    """That a player's data may be kept; ``given_on`` is the day where it was given."""

    given_on: date
    by: ConsentBy


class AuditAction(StrEnum):
    """What somebody did with what is kept."""

    READ = "read"
    CHANGED = "changed"


@dataclass(frozen=True)
class Player:
    """A player. ``created`` is UTC; ``version`` counts the changes from 1.

    ``training_consent`` says whether the player's reviewed swings may be learned from.
    """

    id: str
    name: str
    handedness: Handedness | None
    note: str | None
    birth_year: int | None
    consent: Consent | None
    created: datetime
    version: int
    height_cm: float | None = None
    training_consent: bool = False


@dataclass(frozen=True)
class Lesson:
    """One visit of a player. ``date`` is the day where it was given."""

    id: str
    player_id: str
    date: date
    title: str | None
    coach_note: str | None
    created: datetime
    version: int


@dataclass(frozen=True)
class NewSwing:
    """What is known of a swing beside its analysis before it is kept.

    Attributes
    ----------
    request
        The request as it was sent, JSON text; kept so that the swing can be analysed again.
    """

    recorded_at: datetime
    role: Role
    client_reference: str | None
    request: bytes


@dataclass(frozen=True)
class Swing:
    """A swing that is kept, and what its newest analysis says of the clip as a whole.

    Attributes
    ----------
    analyses
        How many analyses it has; the newest bears this number.
    frame_rate
        Frames a second of the player's time.
    version
        Counts the changes and analyses from 1.
    """

    id: str
    lesson_id: str
    player_id: str
    created: datetime
    recorded_at: datetime
    role: Role
    intent: Intent
    club: Club | None
    client_reference: str | None
    n_frames: int
    frame_rate: float
    analyses: int
    swing_found: bool
    view: View | None
    handedness: Handedness | None
    version: int


@dataclass(frozen=True)
class Provenance:
    """What made an analysis. ``model`` is ``None`` where rules alone judged."""

    service: str
    model: str | None


@dataclass(frozen=True)
class AnalysisEntry:
    """When and by what a swing was analysed; ``number`` counts its analyses from 1."""

    id: str
    swing_id: str
    number: int
    created: datetime
    made_by: Provenance


@dataclass(frozen=True)
class KeptAnalysis(AnalysisEntry):
    """One analysis of a swing; later ones stand beside it and never replace it."""

    analysis: SwingAnalysis


@dataclass(frozen=True)
class KeptSwing:
    """What the database holds of a swing: who, when and how, and one of its analyses.

    The request that it came in as is read and unpacked only when asked for
    (:func:`service.records.keeping.swings.requests_of`).
    """

    meta: Swing
    kept: KeptAnalysis

    @property
    def id(self) -> str:
        """The id of the swing."""
        return self.meta.id

    @property
    def analysis(self) -> SwingAnalysis:
        """What was found."""
        return self.kept.analysis
