"""Random draws of what a clip may be: faults, footage, and the clip itself."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np

from service.analysis.pose.layouts import resolve
from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS
from service.analysis.types import BoolArray, FloatArray, Intent, SwingRecording, View
from training.simulator import (
    EstimatorNoise,
    FaultAmounts,
    Movement,
    film,
    random_camera,
)
from training.simulator.filming.estimating.estimator import LIKE_AN_ANNOTATOR, LIKE_AN_ESTIMATOR

FAULTS: Final[tuple[str, ...]] = tuple(f.name for f in fields(FaultAmounts))
_MOST: Final[float] = 1.7
"""Largest amount of a fault; 1 is clearly there."""
_MOST_HURRIED: Final[float] = 1.4
"""A backswing shorter still leaves the body no time to unwind from the ground up."""
_CO_OCCURRENCE: Final[tuple[str, ...]] = ("clean", "alone", "chain", "mixed")
_CO_OCCURRENCE_SHARES: Final[tuple[float, ...]] = (0.2, 0.32, 0.2, 0.28)
_MIXED_SHARE: Final[float] = 0.3
"""How often each fault is in a swing of any mix; some five faults at once."""
# A fault that no other brings is drawn alone more often, so that all are about as frequent.
_BROUGHT: Final[tuple[str, ...]] = (
    "shaft_steep_at_top",
    "trail_heel_kick",
    "handle_rise",
    "elbows_separate",
    "trunk_straightens",
)
_ALONE_SHARES: Final[tuple[float, ...]] = tuple(
    (0.5 if f in _BROUGHT else 1.0) / (len(FAULTS) - 0.5 * len(_BROUGHT)) for f in FAULTS
)
# What brings what, in the order in which it comes about: (cause, effect, how often).
_CHAIN: Final[tuple[tuple[str, str, float], ...]] = (
    ("arms_lift_at_top", "shaft_steep_at_top", 0.8),
    ("arms_lift_at_top", "long_backswing", 0.3),
    ("hurried_transition", "shaft_steep_at_top", 0.3),
    ("shaft_steep_at_top", "trail_heel_kick", 0.6),
    ("shaft_steep_at_top", "trail_shoulder_drop", 0.5),
    ("shaft_steep_at_top", "handle_rise", 0.5),
    ("trail_heel_kick", "trail_knee_drive", 0.5),
    ("trail_heel_kick", "handle_rise", 0.3),
    ("trail_shoulder_drop", "elbows_separate", 0.3),
    ("handle_rise", "elbows_separate", 0.6),
    ("chest_stall", "elbows_separate", 0.4),
    ("chest_stall", "lead_wrist_cup", 0.4),
    ("shaft_steep_at_top", "trunk_straightens", 0.3),
    ("trunk_straightens", "handle_rise", 0.4),
    ("shaft_steep_at_top", "hips_toward_ball", 0.4),
    ("hips_toward_ball", "trunk_straightens", 0.6),
    ("hips_toward_ball", "handle_rise", 0.4),
    ("hips_toward_ball", "trail_knee_drive", 0.3),
    ("upper_body_drift", "hips_past_lead_foot", 0.3),
    ("hips_past_lead_foot", "trail_shoulder_drop", 0.5),
    ("hurried_transition", "wrists_open_early", 0.5),
    ("wrists_open_early", "shaft_steep_at_top", 0.3),
    ("wrists_open_early", "trunk_straightens", 0.3),
    ("wrists_open_early", "lead_wrist_cup", 0.3),
)
_CHAIN_STARTS: Final[tuple[str, ...]] = (
    "arms_lift_at_top",
    "hurried_transition",
    "chest_stall",
    "hips_past_lead_foot",
)
_CHAIN_START_SHARES: Final[tuple[float, ...]] = (0.5, 0.15, 0.2, 0.15)

_SHORTEST: Final[float] = 0.35
"""Of a full swing: shorter ones are chips, with neither shaft nor arms level, of which hardly a
fault can be told (a judgement)."""
_FULL: Final[tuple[float, float]] = (0.94, 1.03)
"""Lengths of swings that are meant to be full."""

_RATES: Final[tuple[float, ...]] = (24.0, 25.0, 30.0, 50.0, 60.0, 120.0, 240.0)
_RATE_SHARES: Final[tuple[float, ...]] = (0.04, 0.04, 0.28, 0.06, 0.26, 0.18, 0.14)
LAYOUTS_WITH_FEET: Final[tuple[str, ...]] = (
    "landmarks_33",
    "halpe_26",
    "coco_wholebody_133",
    "body_25",
)
LAYOUTS: Final[tuple[str, ...]] = ("coco_17", *LAYOUTS_WITH_FEET)
"""The layouts clips are drawn in: a list of their own, so that a layout added to the service
changes no data set and no model."""
_NOISE: Final[tuple[float, float]] = (0.12, 0.5)
"""Levels of the estimator's noise, drawn evenly on a log scale."""
_MOST_STEADY: Final[float] = 0.3
"""Of the annotators' spread: estimators differ less in where a joint is than people do."""
_MEASURED_SHARE: Final[float] = 0.4
"""Share of the clips whose errors are those measured of a real estimator
(:mod:`training.simulator.filming.estimating.measured_errors`), the others' being gentler."""
_MEASURED: Final[tuple[float, float]] = (0.4, 1.2)
"""How large they are, in units of what was measured on pictures of 320 x 240 pixels: larger
pictures are read better, other estimators may be worse (a judgement)."""
_BY_HAND_SHARE: Final[float] = 0.15
"""Share of those clips that were marked frame by frame by people, without confidence."""
_HELD_SHARE: Final[float] = 0.5
_HELD: Final[float] = 0.004
"""Share of those clips that were taken by hand rather than from a tripod (a judgement), and body
heights by which such a camera wanders: less than in old clips of the web, where people who film a
swing to look at it hold still."""
_LAGGING_SHARE: Final[float] = 0.3
_MOST_LAG: Final[float] = 0.02
"""Seconds: an estimator that tracks a person through a film often smooths what it tells."""
PHONE_RATE: Final[float] = 30.0
PHONE_NOISE: Final[float] = 0.25
"""Phone-grade footage has no more frames a second than the one and no less noise than the other."""


@dataclass(frozen=True)
class Footage:
    """How a clip is filmed and what the estimator makes of it.

    ``layout`` is one of :data:`LAYOUTS`; ``uneven`` is the spread of the time between frames as a
    share of it, ``dropped`` the share of frames lost, and ``tell_view`` says whether the view
    comes with the request.
    """

    rate: float
    noise: EstimatorNoise
    layout: str
    club: bool
    uneven: float
    dropped: float
    tell_view: bool


def random_amounts(rng: np.random.Generator, intent: Intent) -> tuple[str, FaultAmounts]:
    """Faults of a swing and how they co-occur: none, one alone, a chain as in life, or any mix.

    A fault that another brings is about as large as its cause; alone it is of any size, so that
    one fault can't be told from those it usually comes with. A rehearsal is not hurried.
    """
    co_occurrence, amounts = _random_amounts(rng)
    calm = intent is Intent.REHEARSAL
    hurry = 0.0 if calm else min(amounts.hurried_transition, _MOST_HURRIED)
    return co_occurrence, replace(amounts, hurried_transition=hurry)


def _random_amounts(rng: np.random.Generator) -> tuple[str, FaultAmounts]:
    co_occurrence = str(rng.choice(_CO_OCCURRENCE, p=_CO_OCCURRENCE_SHARES))
    if co_occurrence == "clean":
        return co_occurrence, FaultAmounts()
    if co_occurrence == "alone":
        return co_occurrence, FaultAmounts(
            **{str(rng.choice(FAULTS, p=_ALONE_SHARES)): _amount(rng)}
        )
    if co_occurrence == "mixed":
        return co_occurrence, FaultAmounts(
            **{f: _amount(rng) for f in FAULTS if rng.random() < _MIXED_SHARE}
        )
    return co_occurrence, _chain(rng)


def _amount(rng: np.random.Generator) -> float:
    return float(rng.uniform(0.05, _MOST))


def _chain(rng: np.random.Generator) -> FaultAmounts:
    amounts = {str(rng.choice(_CHAIN_STARTS, p=_CHAIN_START_SHARES)): _amount(rng)}
    for cause, effect, often in _CHAIN:
        if cause in amounts and effect not in amounts and rng.random() < often:
            amounts[effect] = float(
                np.clip(amounts[cause] * rng.uniform(0.5, 1.2) + rng.normal(0.0, 0.15), 0.05, _MOST)
            )
    return FaultAmounts(**amounts)


def random_intent(rng: np.random.Generator) -> Intent:
    """Most swings are meant at full speed."""
    return Intent.REHEARSAL if rng.random() < 0.2 else Intent.FULL_SPEED


def random_length(rng: np.random.Generator) -> float:
    """From pitches, whose arms don't come level, to overlong swings, mostly full."""
    kind = rng.random()
    if kind < 0.75:
        return float(rng.uniform(*_FULL))
    return float(rng.uniform(_SHORTEST, _FULL[0]) if kind < 0.92 else rng.uniform(_FULL[1], 1.12))


def random_footage(rng: np.random.Generator) -> Footage:
    """Footage of any quality; one clip in five has uneven frames."""
    level = float(np.exp(rng.uniform(*np.log(_NOISE))))
    club = rng.random() < 0.6
    uneven = rng.random() < 0.2
    footage = Footage(
        rate=float(rng.choice(_RATES, p=_RATE_SHARES)),
        noise=EstimatorNoise(
            level=level,
            steady=float(rng.uniform(0.0, _MOST_STEADY)),
            swaps=float(rng.uniform(0.0, 0.12)),
            gaps=float(rng.uniform(0.0, 0.08)),
            club=club,
        ),
        layout=str(rng.choice(LAYOUTS)),
        club=club,
        uneven=float(rng.uniform(0.05, 0.25)) if uneven else 0.0,
        dropped=float(rng.uniform(0.0, 0.06)) if uneven else 0.0,
        tell_view=bool(rng.random() < 0.7),
    )
    return _like_an_estimator(footage, rng) if rng.random() < _MEASURED_SHARE else footage


def _like_an_estimator(footage: Footage, rng: np.random.Generator) -> Footage:
    """The same footage through a real estimator, mostly of 33 landmarks, or marked by hand; a club
    is found as in the others."""
    by_hand = rng.random() < _BY_HAND_SHARE
    usual = LIKE_AN_ANNOTATOR if by_hand else LIKE_AN_ESTIMATOR
    lagging = not by_hand and rng.random() < _LAGGING_SHARE
    noise = replace(
        usual,
        level=footage.noise.level,
        measured=float(rng.uniform(*_MEASURED)),
        lag=float(rng.uniform(0.0, _MOST_LAG)) if lagging else 0.0,
        gaps=footage.noise.gaps if footage.club else usual.gaps,
        club=footage.club,
        held=_HELD if rng.random() < _HELD_SHARE else 0.0,
    )
    layout = footage.layout if by_hand or rng.random() < 0.4 else "landmarks_33"
    return replace(footage, noise=noise, layout=layout)


def phone_footage(rng: np.random.Generator) -> Footage:
    """Footage of few frames a second and a noisy estimator; as random as any in all else."""
    footage = random_footage(rng)
    level = float(np.exp(rng.uniform(*np.log((PHONE_NOISE, _NOISE[1])))))
    slow = np.array(_RATES) <= PHONE_RATE
    shares = np.array(_RATE_SHARES)[slow]
    rate = float(rng.choice(np.array(_RATES)[slow], p=shares / shares.sum()))
    return replace(footage, rate=rate, noise=replace(footage.noise, level=level))


def filmed(
    motion: Movement, view: View, footage: Footage, rng: np.random.Generator
) -> tuple[SwingRecording, float]:
    """Film a motion with a random camera, and keep only the points of the layout.

    Returns the clip and the time of its first frame on the clock of the motion.
    """
    times = _frame_times(motion.duration, footage, rng)
    recording = film(
        motion,
        random_camera(rng, view),
        times=times,
        noise=footage.noise,
        rng=rng,
        tell=True,
    )
    return with_layout(recording, footage), float(times[0])


def with_layout(recording: SwingRecording, footage: Footage) -> SwingRecording:
    """The clip with the points of its layout only, and the view told or not."""
    lost = ~_kept(footage)
    points, confidence = recording.points.copy(), recording.confidence.copy()
    points[:, lost], confidence[:, lost] = np.nan, 0.0
    view = recording.view if footage.tell_view else None
    return replace(recording, points=points, confidence=confidence, view=view)


def _kept(footage: Footage) -> BoolArray:
    names = set(resolve(footage.layout))
    names |= set(CLUB_POINTS) if footage.club else set()
    return np.array([name in names for name in ANATOMICAL])


def _frame_times(duration: float, footage: Footage, rng: np.random.Generator) -> FloatArray:
    step = 1.0 / footage.rate
    times = np.arange(rng.uniform(0.0, step), duration, step)
    if footage.uneven:
        times = times + step * np.clip(footage.uneven * rng.standard_normal(times.size), -0.4, 0.4)
    kept = rng.random(times.size) >= footage.dropped
    return np.asarray(times[kept])
