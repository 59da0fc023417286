"""From measures to findings: what is present, what is absent, what can't be told."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from math import hypot
from typing import Final

import numpy as np
from scipy.special import ndtr

from service.analysis.events.normalized import GRID
from service.analysis.events.orientation import LEAST_VIEW_CONFIDENCE
from service.analysis.faults import CATALOGUE, Criterion, FaultDefinition
from service.analysis.judging.calibration import UNCALIBRATED, LogisticCalibration
from service.analysis.measured import MeasuredSwing
from service.analysis.measures.definition import MeasuredValue
from service.analysis.pose.geometry import frame_interval
from service.analysis.types import (
    Evidence,
    Finding,
    FloatArray,
    Grade,
    Intent,
    Moment,
    Reason,
    Status,
    View,
)

DECISIVE: Final[tuple[float, float]] = (0.14, 0.90)
"""Scores up to and from which even a vague measure tells. They differ, as a score knows nothing of
how rare faults are. Set on simulated makes of golfers left out, together with
:data:`_WITHIN_MARKED`: than with 0.12 and 1, 4 % more verdicts can be given and 0.68 instead of
0.69 % are wrong."""
_CONTRADICTED: Final[Mapping[str, Reason]] = {
    "joints_out_of_order": Reason(
        "joints_out_of_order",
        "Two joints of an arm or a leg seem exchanged; check the order of the points that are "
        "sent.",
    ),
    "picture_squeezed": Reason(
        "picture_squeezed",
        "The picture seems squeezed or stretched, so that angles and lengths are off; send it at "
        "its true proportions.",
    ),
    "view_contradicts_picture": Reason(
        "view_unsure",
        "The clip looks as if filmed from another side than was said; leave view out or correct "
        "it.",
    ),
    "handedness_contradicts_motion": Reason(
        "handedness_unsure",
        "The player moves as if playing the other way round than was said, so that lead and trail "
        "may be exchanged; leave handedness out or correct it, or mirror a mirrored film back.",
    ),
}
"""By the remark on what was sent and contradicts what is seen: why nothing is judged by it."""
_HIDDEN: Final[Mapping[str, Reason]] = {
    "camera_moves": Reason(
        "camera_moves",
        "The picture moves, so that what travels over the ground can't be told; hold the camera "
        "still.",
    ),
    "camera_leans": Reason(
        "camera_leans",
        "The picture is well off level or the player stands on a steep slope, so that what lies "
        "over what can't be told; level the camera.",
    ),
    "legs_exchanged": Reason(
        "legs_exchanged",
        "Left and right seem exchanged in the legs; check the order of the points that are sent.",
    ),
}
"""By the remark why faults that :attr:`FaultDefinition.unless` names it for are not judged."""
_SITS: Final = Reason(
    "player_sits", "The player seems to sit, and this is a fault of players who stand."
)
_CLOCK_OFF: Final[frozenset[str]] = frozenset({"plays_slow", "plays_fast", "plays_unevenly"})
"""Remarks on a film whose times are not the player's, by which no haste is judged: where only part
of a film plays slow, backswing and downswing go by different clocks."""
_VAGUE: Final[float] = 0.2
"""A measure is vague when its uncertainty exceeds this share of the way from the threshold to a
marked fault. Set likewise: with 0.3, 1 % more verdicts can be given, a tenth more are wrong, and
more findings are uncertain."""
_WITHIN_MARKED: Final[float] = 0.9
"""Share of that way that the uncertainty of a measure may have at most by which a fault is told as
present: with all of it 4 % more faults were told, of which one in ten was wrong."""
USEFUL_CONFIDENCE: Final[float] = 0.7
"""Below this the finding is uncertain: three in ten such verdicts would be wrong. A judgement:
from 0.6 on, verdicts on motion capture were wrong twice as often."""


Calibrations = Callable[[str, View], LogisticCalibration]


def _uncalibrated(_fault: str, _view: View) -> LogisticCalibration:
    return UNCALIBRATED


def judge_all(
    swing: MeasuredSwing, calibration: Calibrations = _uncalibrated
) -> tuple[Finding, ...]:
    """One finding for every fault of the catalogue, in its order.

    Parameters
    ----------
    calibration
        The calibration of a fault in a view.
    """
    view = swing.view.value
    return tuple(judge(d, swing, calibration(d.name, view)) for d in CATALOGUE.values())


def judge(
    definition: FaultDefinition,
    swing: MeasuredSwing,
    calibration: LogisticCalibration = UNCALIBRATED,
) -> Finding:
    """Judge one fault.

    The rule's score is the chance that the measure lies beyond its threshold when both
    the measure's own error and the grey zone of the threshold are taken as normal
    distributions; of several criteria, all of which must be met, the least met decides. It is
    above one half exactly when every value lies beyond its threshold. Calibration keeps the side.
    """
    weighed = _weighed(definition, swing)
    if isinstance(weighed, Reason):
        return Finding(definition.name, definition.title, Status.NOT_ASSESSABLE, reason=weighed)
    score = min(score for _, _, score in weighed)
    chance = calibration.chance(score)
    status, (leading, measured, _) = _status(score, chance), weighed[0]
    is_present = status is Status.PRESENT
    return Finding(
        definition.name,
        definition.title,
        status,
        score=score,
        confidence=max(chance, 1.0 - chance),
        evidence=tuple(_evidence(c, m) for c, m, _ in weighed),
        chance=chance,
        severity=measured.value if is_present else None,
        severity_unit=leading.measure.unit if is_present else None,
        grade=_grade(leading, measured.value) if is_present else None,
        shows_most=_most(definition, leading, measured, swing) if is_present else None,
        span=_span(leading, measured, swing) if is_present else None,
    )


def _status(score: float, chance: float) -> Status:
    """Uncertain where the score or what calibration makes of it is too near even."""
    if min(max(s, 1.0 - s) for s in (score, chance)) < USEFUL_CONFIDENCE:
        return Status.UNCERTAIN
    return Status.PRESENT if chance > 0.5 else Status.ABSENT


_Weighed = tuple[Criterion, MeasuredValue, float]
"""A criterion, what was measured for it and its score."""


def _weighed(definition: FaultDefinition, swing: MeasuredSwing) -> list[_Weighed] | Reason:
    """What a fault is judged by, or why it can't be judged."""
    criteria, codes = definition.criteria.get(swing.view.value, ()), swing.quality.codes
    if definition.full_speed_only and swing.intent is Intent.REHEARSAL:
        return Reason("rehearsal", "A slow rehearsal can't show this; film it at full speed.")
    if definition.full_speed_only and not _CLOCK_OFF.isdisjoint(codes):
        return Reason(
            "times_off",
            "The film seems to play slow or fast, so that times can't be judged; say how "
            "fast it plays (playback_speed), or film anew.",
        )
    contradicted = next((_CONTRADICTED[code] for code in codes if code in _CONTRADICTED), None)
    if contradicted is not None:
        return contradicted
    if not criteria:
        return _other_view(definition.views, swing.view.value)
    hidden = _hidden(definition, codes)
    if hidden is not None:
        return hidden
    if len(definition.views) == 1 and swing.view.confidence < LEAST_VIEW_CONFIDENCE:
        return Reason(
            "view_unsure",
            "It is not clear from where the clip was filmed; say whether it is face on or down the "
            "line.",
        )
    weighed = []
    for criterion in criteria:
        measured = swing.values[criterion.measure.name]
        if isinstance(measured, Reason):
            return measured
        weighed.append((criterion, measured, _score(criterion, measured)))
    return _too_vague(weighed) or _too_few_frames(definition, criteria[0], swing) or weighed


def _hidden(definition: FaultDefinition, remarks: Sequence[str]) -> Reason | None:
    """Why the footage does not show this fault, by the codes of its remarks."""
    if "player_sits" in remarks and not definition.full_speed_only:
        return _SITS
    return next((_HIDDEN[code] for code in remarks if code in definition.unless), None)


@cache
def _other_view(views: tuple[View, ...], view: View) -> Reason:
    names = " or ".join(_in_words(each) for each in views)
    return Reason("view", f"This can only be seen {names}; the clip is {_in_words(view)}.")


def _too_vague(weighed: Sequence[_Weighed]) -> Reason | None:
    """Why what was measured is too uncertain to judge by.

    One criterion that is clearly not met settles the matter, however vague the others are; that
    one is met takes an uncertainty smaller than a marked fault.
    """
    if min(score for _, _, score in weighed) <= DECISIVE[0]:
        return None
    for criterion, measured, score in weighed:
        marked = criterion.excess(criterion.marked)
        most = (_WITHIN_MARKED if score >= DECISIVE[1] else _VAGUE) * marked
        if measured.uncertainty > most:
            return Reason(
                "too_uncertain",
                f"{criterion.measure.title}: {_short(measured.value, 3)} ± "
                f"{_short(measured.uncertainty, 2)} "
                f"{criterion.measure.unit} is too uncertain to judge; it takes less than "
                f"± {_short(most, 2)} {criterion.measure.unit}.",
            )
    return None


def _short(value: float, digits: int) -> str:
    """A value to some digits, without powers of ten.

    >>> _short(4.781, 3), _short(138.2, 2)
    ('4.78', '140')
    """
    return np.format_float_positional(float(f"{value:.{digits}g}"), trim="-")


def _too_few_frames(
    definition: FaultDefinition, leading: Criterion, swing: MeasuredSwing
) -> Reason | None:
    measure = leading.measure
    if measure.start == measure.end:
        return None
    frames = swing.frames_within(measure.start, measure.end)
    if frames >= definition.min_frames:
        return None
    needed = definition.min_frames / max(frames, 1e-6)
    rate = needed / frame_interval(swing.times)
    return Reason(
        "frame_rate",
        f"{_too_few_in_words(frames)} between {measure.at.replace('-', ' and ')}; "
        f"film at {_usual_rate(rate)} frames a second or more.",
    )


def _too_few_in_words(frames: float) -> str:
    """A count of frames, which may be a mean over the window, as one would say it."""
    if frames < 0.75:
        return "Hardly a frame falls"
    count = max(round(frames), 1)
    return "Only one frame falls" if count == 1 else f"Only about {count} frames fall"


def _usual_rate(rate: float) -> int:
    return next((r for r in (60, 120, 240) if r >= rate), 480)


def criteria_score(
    criterion: Criterion, value: FloatArray | float, uncertainty: FloatArray | float
) -> FloatArray:
    """Chance that a value lies beyond its threshold, its own error and the grey zone both normal.

    Parameters
    ----------
    value, uncertainty : numbers or arrays of one shape
    """
    return np.asarray(ndtr(criterion.excess(value) / np.hypot(uncertainty, criterion.grey)))


def _score(criterion: Criterion, measured: MeasuredValue) -> float:
    # As criteria_score does it; arrays of one number take several times as long.
    spread = hypot(measured.uncertainty, criterion.grey)
    return float(ndtr(criterion.excess(measured.value) / spread))


def _grade(criterion: Criterion, value: float) -> Grade:
    excess = criterion.excess(value)
    if excess >= criterion.excess(criterion.marked):
        return Grade.MARKED
    return Grade.MODERATE if excess >= criterion.excess(criterion.moderate) else Grade.MILD


def _evidence(criterion: Criterion, measured: MeasuredValue) -> Evidence:
    return Evidence(
        measure=criterion.measure.name,
        title=criterion.measure.title,
        unit=criterion.measure.unit,
        value=measured.value,
        uncertainty=measured.uncertainty,
        threshold=criterion.threshold,
        direction=criterion.direction.value,
        reference=criterion.reference,
        note=criterion.note,
        as_measured=measured.as_measured,
    )


def _excess_along(criterion: Criterion, measured: MeasuredValue) -> FloatArray:
    """How far the signal lies beyond the threshold over the measure's window."""
    return criterion.excess(measured.signal[criterion.measure.window])


def _most(
    definition: FaultDefinition, criterion: Criterion, measured: MeasuredValue, swing: MeasuredSwing
) -> Moment:
    """The moment at which it shows most."""
    if definition.shows_at is not None:
        return swing.moment(definition.shows_at)
    most = np.nanargmax(_excess_along(criterion, measured))
    return swing.moment(float(GRID[criterion.measure.window][most]))


def _span(
    criterion: Criterion, measured: MeasuredValue, swing: MeasuredSwing
) -> tuple[Moment, Moment]:
    """First and last moment of the window at which the measure is beyond its threshold."""
    inside = np.flatnonzero(_excess_along(criterion, measured) > 0.0)
    grid = GRID[criterion.measure.window]
    first, last = (inside[0], inside[-1]) if inside.size else (0, len(grid) - 1)
    return swing.moment(float(grid[first])), swing.moment(float(grid[last]))


def _in_words(view: View) -> str:
    return view.value.replace("_", " ")
