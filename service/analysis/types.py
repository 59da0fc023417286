"""What goes into an analysis and what comes out: plain frozen dataclasses.

Nothing here computes; the words are those of :mod:`service.analysis.vocabulary`, passed on here.
Arrays are numpy ``float64``; a missing value is NaN in an array and ``None`` in a field. Times are
seconds of the player's own time (slow-motion playback already undone) from the first frame; frames
are zero-based and may be fractional where a moment lies between two frames.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from service.analysis.vocabulary import Club as Club
from service.analysis.vocabulary import CoachVerdict as CoachVerdict
from service.analysis.vocabulary import Grade as Grade
from service.analysis.vocabulary import Handedness as Handedness
from service.analysis.vocabulary import Intent as Intent
from service.analysis.vocabulary import Level as Level
from service.analysis.vocabulary import Source as Source
from service.analysis.vocabulary import Status as Status
from service.analysis.vocabulary import View as View

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class SwingRecording:
    """One clip as it came from a pose estimator.

    Attributes
    ----------
    points : array of shape (n_frames, n_points, 2)
        Image coordinates in the order of :data:`service.analysis.pose.points.ANATOMICAL`:
        x to the right, y *down*, both axes in the same unit (pixels, or any other
        square unit); NaN where a point is missing.
    confidence : array of shape (n_frames, n_points)
        The estimator's confidence from 0 to 1; 1 where it gave none, 0 where missing.
    times : array of shape (n_frames,)
        Strictly increasing, seconds of the player's time.
    stop_at
        The position coordinate at which the backswing was asked to stop, if it was.
    remarks
        What is to be said of how the clip was read; they come back with the analysis.
    """

    points: FloatArray
    confidence: FloatArray
    times: FloatArray
    view: View | None = None
    handedness: Handedness | None = None
    intent: Intent = Intent.FULL_SPEED
    club: Club | None = None
    remarks: tuple[Remark, ...] = ()
    stop_at: float | None = None


@dataclass(frozen=True)
class Reason:
    """Why something could not be told: a stable code and a sentence for the reader."""

    code: str
    text: str


T = TypeVar("T")


@dataclass(frozen=True)
class Judged(Generic[T]):
    """A property of the clip, either given by the caller or inferred."""

    value: T
    confidence: float
    given: bool


@dataclass(frozen=True)
class Position:
    """One of P1 to P10.

    ``time`` and ``frame`` are ``None`` exactly when ``source`` is ``NOT_FOUND``, and
    then ``reason`` says why. ``uncertainty`` is one standard deviation in seconds.
    """

    number: int
    source: Source
    time: float | None = None
    frame: float | None = None
    uncertainty: float | None = None
    confidence: float = 0.0
    reason: Reason | None = None

    @property
    def name(self) -> str:
        """The position's name, P1 to P10."""
        return f"P{self.number}"

    @property
    def in_doubt(self) -> bool:
        """Whether it is somewhere in the clip, but can't be told where."""
        why = self.reason
        return self.time is None and why is not None and why.code == "too_unsure"


@dataclass(frozen=True)
class SwingSpan:
    """A swing found in the clip, by its frames and times (start of takeaway to finish)."""

    first_frame: int
    last_frame: int
    start: float
    end: float
    analysed: bool


@dataclass(frozen=True)
class Measurement:
    """A measure at a position or between two.

    ``value`` is ``None`` exactly when ``reason`` is given. ``uncertainty`` is one
    standard deviation in the same unit. Where ``value`` is a trained estimate, ``as_measured``
    is what was measured in the picture.
    """

    name: str
    title: str
    unit: str
    at: str
    value: float | None
    uncertainty: float | None
    reason: Reason | None = None
    as_measured: float | None = None


@dataclass(frozen=True)
class Moment:
    """A frame with its time and its position coordinate (4.5 is halfway from P4 to P5)."""

    frame: int
    time: float
    position: float


@dataclass(frozen=True)
class Evidence:
    """One value against its threshold.

    ``direction`` is ``above`` when larger values speak for the fault, else ``below``. Where
    ``value`` is a trained estimate, ``as_measured`` is what was measured in the picture.
    """

    measure: str
    title: str
    unit: str
    value: float
    uncertainty: float
    threshold: float
    direction: str
    reference: str
    note: str | None = None
    as_measured: float | None = None

    @property
    def excess(self) -> float:
        """How far the value lies beyond its threshold, positive where it speaks for the fault."""
        beyond = self.value - self.threshold
        return beyond if self.direction == "above" else -beyond


@dataclass(frozen=True)
class Review:
    """A coach's word on one fault in one swing.

    ``grade`` is the coach's own, only of a fault that is confirmed. ``analysis`` is the number of
    the analysis that the coach looked at, ``version`` counts the reviews of the fault in the swing
    from 1.
    """

    verdict: CoachVerdict
    grade: Grade | None
    note: str | None
    reviewer: str
    created: datetime
    analysis: int
    version: int


@dataclass(frozen=True)
class Finding:
    """What was found about one fault in one swing.

    ``score`` grades the rule from 0 (clearly absent) to 1 (clearly present). ``chance`` is the
    calibrated chance that the fault is present and ``confidence`` that of ``status``; when the
    chance is too near even to be useful, the status is uncertain and ``confidence`` is that of
    the likelier side. All three are ``None`` when the fault is not assessable, and then
    ``reason`` says why. ``review`` is a coach's word on it, which changes nothing of the rest.
    """

    fault: str
    title: str
    status: Status
    score: float | None = None
    confidence: float | None = None
    severity: float | None = None
    severity_unit: str | None = None
    grade: Grade | None = None
    shows_most: Moment | None = None
    span: tuple[Moment, Moment] | None = None
    evidence: tuple[Evidence, ...] = ()
    reason: Reason | None = None
    chance: float | None = None
    review: Review | None = None


@dataclass(frozen=True)
class Remark:
    """One thing about the footage, and what the person filming should change."""

    code: str
    level: Level
    text: str
    fix: str


@dataclass(frozen=True)
class FootageQuality:
    """How far the footage allows a swing to be judged."""

    frame_rate: float
    joints_seen: dict[str, float]
    remarks: tuple[Remark, ...] = ()

    @cached_property
    def codes(self) -> tuple[str, ...]:
        """Of the remarks, in their order."""
        return tuple(remark.code for remark in self.remarks)


@dataclass(frozen=True)
class ModelVersion:
    """Which trained model it was: its version, the day it was trained and its data's version."""

    version: str
    trained: str
    data: str


@dataclass(frozen=True)
class Familiarity:
    """How far a swing lies from the clips that the trained estimators were made from.

    ``outside`` is the share of what they look at that lies outside its usual range there, and
    ``inside`` whether that is little enough for them to be used.
    """

    outside: float
    inside: bool


@dataclass(frozen=True)
class StoppedAt:
    """Where a backswing ended that was asked to stop somewhere.

    ``asked`` and ``value`` are position coordinates on the scale of
    :mod:`service.analysis.backswing`; ``uncertainty`` is one standard deviation, ``frame`` the one
    nearest to the top of the swing. ``value`` is ``None`` exactly when ``reason`` is given.
    """

    asked: float
    value: float | None = None
    uncertainty: float | None = None
    frame: int | None = None
    time: float | None = None
    reason: Reason | None = None


@dataclass(frozen=True)
class SwingAnalysis:
    """Everything the service says about one clip.

    When ``swing_found`` is false, ``reason`` says why and positions, measures and
    findings are empty. ``coordinate`` holds the continuous position coordinate of
    every frame, NaN outside the analysed swing. ``model`` is the trained part that was
    used, ``None`` where rules judged what was measured; ``familiarity`` says how like its training
    clips the swing is. ``intent``, ``club`` and ``times`` (array of shape (n_frames,), seconds from
    the first frame) are those of the recording, so that nobody needs it again to answer;
    ``times`` is empty in analyses kept before they carried it. ``stopped_at`` is given where the
    recording was asked to stop somewhere.
    """

    swing_found: bool
    reason: Reason | None
    view: Judged[View] | None
    handedness: Judged[Handedness] | None
    quality: FootageQuality
    swings: tuple[SwingSpan, ...] = ()
    positions: tuple[Position, ...] = ()
    coordinate: FloatArray = field(default_factory=lambda: np.empty(0))
    measures: tuple[Measurement, ...] = ()
    findings: tuple[Finding, ...] = ()
    model: ModelVersion | None = None
    intent: Intent = Intent.FULL_SPEED
    club: Club | None = None
    times: FloatArray = field(default_factory=lambda: np.empty(0))
    familiarity: Familiarity | None = None
    stopped_at: StoppedAt | None = None
