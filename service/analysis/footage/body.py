"""What is seen of the body: joints lost, feet and club, legs exchanged, a player who sits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Final

import numpy as np

from service.analysis.footage.places import Stance
from service.analysis.pose.conditioning import Conditioned
from service.analysis.pose.geometry import squared_length
from service.analysis.pose.points import CLUB_POINTS, Point
from service.analysis.types import BoolArray, FloatArray, Level, Remark

_ENOUGH_SEEN: Final[float] = 0.8
_MOST_REPAIRS: Final[float] = 0.01
_FEET: Final[tuple[Point, ...]] = (
    Point.LEAD_HEEL,
    Point.TRAIL_HEEL,
    Point.LEAD_TOE,
    Point.TRAIL_TOE,
)
_CROSSED: Final[float] = 1.03
"""How many times as far hips are from the knees of their own side as from the other's, from which
the legs are exchanged. Of 144 real swings up to impact none reaches 1.005; with their legs
exchanged all of those filmed face-on do, from 1.04 on, and two in three down the line, where hips
lie behind one another."""
_BOTH_CROSSED: Final[float] = 1.0
"""The same of hips and knees, and of knees and ankles, together: of those 144 swings none reaches
it, with the knees alone exchanged four in five filmed down the line do."""
_SHOULDERS_CROSSED: Final[float] = 1.03
"""The product of such ratios of shoulders and elbows and of shoulders and hips, both above 1, from
which the shoulders alone are exchanged. Of those 144 swings one is told so, whose arm is lost; with
the shoulders exchanged nine in ten are."""
_LEAD_FOOT_UP: Final[float] = 0.025
"""Body heights that the lead ankle rises more than the trail one from address to the finish, in
which a player stands on the lead foot and on the toes of the other, from which the legs are
exchanged. Of 144 real swings as they were filmed four are told so, three of them of an estimator;
with their legs exchanged nearly all are, by this or by the thighs. Down the line the hips lie
behind one another and tell less."""
_LIMBS: Final[tuple[str, ...]] = ("lead arm", "trail arm", "lead leg", "trail leg")
_OF_LIMBS: Final = [
    *(Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER, Point.LEAD_HIP, Point.TRAIL_HIP),
    *(Point.LEAD_ELBOW, Point.TRAIL_ELBOW, Point.LEAD_KNEE, Point.TRAIL_KNEE),
    *(Point.LEAD_WRIST, Point.TRAIL_WRIST, Point.LEAD_ANKLE, Point.TRAIL_ANKLE),
]
"""The joints of these limbs: the near ends, those between, the far ends."""
_NEAR_ENDS, _MIDDLES, _FAR_ENDS = slice(0, 4), slice(4, 8), slice(8, 12)
_ARMS, _LEGS = slice(0, 2), slice(2, 4)
_OUT_OF_ORDER: Final[float] = 0.83
"""Distance between the ends of a limb over the longer of their distances from the joint between
them, all through a swing, below which that joint is none between them. Of 144 real swings the least
is 0.86, of 80 simulated and replayed ones 1.01; with two joints of an arm exchanged 19 in 20 lie
below 0.8, of a leg all below 0.7."""
_ARMS_OUT_OF_ORDER: Final[float] = 0.65
"""The same of arms in a clip that begins on the way, which shows them bent. Of 240 real swings that
begin late or were cut at P3, P4 or P5 one lies below, whose arm an estimator lost, and the next at
0.67; of 251 simulated and replayed ones the least is 0.68. With two joints of an arm exchanged two
in three lie below. Legs tell as much as in whole clips: the least are 1.46 and 1.59, with two
joints exchanged none is above 0.5."""
_SITTING: Final[float] = 0.5
"""Height of the hips above the knees over that of the knees above the ankles, below which a player
sits. Of 144 real swings at address the least is 0.66."""


def feet(shares: list[float]) -> Remark | None:
    """Heels and toes that are not seen all along."""
    share = sum(shares[point] for point in _FEET) / len(_FEET)
    if share >= _ENOUGH_SEEN:
        return None
    return Remark(
        "feet_not_seen",
        Level.WARNING,
        f"Heels and toes were {_how_far(share)}: where they are missing, the feet can't be judged.",
        "Keep both feet in the picture; where they are, use a pose model that follows heels and "
        "toes.",
    )


def club(shares: list[float]) -> Remark | None:
    """A clubhead that is not seen all along."""
    share = shares[Point.CLUBHEAD]
    if share >= _ENOUGH_SEEN:
        return None
    return Remark(
        "club_not_seen",
        Level.INFO,
        f"The club is {_how_far(share)}: where it is missing, shaft and wrists can't be judged and "
        "P2, P6 and P8 are inferred from the hands.",
        "Pose models leave the club out: mark it on the film by hand, or use a tracker that "
        "follows at least the clubhead.",
    )


def _how_far(share: float) -> str:
    """In what share of the frames something is seen, in words."""
    return f"only seen in {100 * share:.0f} % of the frames" if share else "not followed"


def lost_joints(seen: dict[str, float]) -> Remark | None:
    """Joints that are not seen in a part of the swing."""
    lost = [
        n.replace("_", " ") for n, s in seen.items() if s < _ENOUGH_SEEN and n not in CLUB_POINTS
    ]
    if not lost:
        return None
    return Remark(
        "joints_lost",
        Level.INFO,
        f"Lost in part of the swing: {', '.join(lost)}.",
        "Film against a plain background in even light, with the whole body in the picture.",
    )


def missing_joints(shares: list[float]) -> Remark | None:
    """Joints of arms and legs that no frame of the swing shows."""
    missing = [point.label for point in _OF_LIMBS if not shares[point]]
    if not missing:
        return None
    return Remark(
        "joints_missing",
        Level.WARNING,
        f"Not seen in any frame of the swing: {', '.join(missing)}. What rests on that can't be "
        "judged.",
        "Keep the whole body in the picture, and send every joint that the pose model follows.",
    )


def many_repairs(conditioned: Conditioned) -> Remark | None:
    """Keypoints repaired more often than in good footage."""
    repairs = conditioned.swaps_repaired + conditioned.outliers_removed
    if repairs <= _MOST_REPAIRS * np.count_nonzero(conditioned.observed):
        return None
    return Remark(
        "keypoints_repaired",
        Level.INFO,
        f"{conditioned.outliers_removed} outliers and {conditioned.swaps_repaired} exchanges of "
        "left and right were repaired.",
        "Use a larger pose model or better light.",
    )


@dataclass(frozen=True)
class Limbs:
    """Arms and legs over the frames of some swings.

    Attributes
    ----------
    in_order : boolean array of shape (n_swings, n_limbs)
        Whether the middle joint of each may be one between its ends.
    thighs_cross, shoulders_cross : boolean arrays of shape (n_swings,)
        Whether thighs, or upper arms and both sides of the trunk, cross all the way to impact.
    """

    in_order: BoolArray
    thighs_cross: BoolArray
    shoulders_cross: BoolArray

    @classmethod
    def of(
        cls, swings: Sequence[FloatArray], until: Sequence[int], from_address: Sequence[bool]
    ) -> Limbs:
        """Of swings by their points, each of shape (n_frames, n_points, 2), the frame of P7, or
        the number of frames of what comes last before it, and whether they begin at P1."""
        joints = np.concatenate([swing.take(_OF_LIMBS, axis=1) for swing in swings])
        paths = np.ascontiguousarray(joints.T)  # so that all runs along memory
        near, middle, far = paths[:, _NEAR_ENDS], paths[:, _MIDDLES], paths[:, _FAR_ENDS]
        first = list(accumulate(map(len, swings[:-1]), initial=0))
        upper = _distance(near, middle)
        whole, longer = _distance(near, far), np.maximum(upper, _distance(middle, far))
        seen = ~np.isnan(whole + longer)
        ends, apart = (_total(each, seen, first) for each in (whole, longer))
        lasts = np.repeat(np.add(first, until), [len(swing) for swing in swings])
        early = np.arange(len(joints)) <= lasts
        hips, knees, ankles = (part[:, _LEGS] for part in (near, middle, far))
        shoulders, elbows = near[:, _ARMS], middle[:, _ARMS]
        (
            (thighs, to_other_knee),
            (shanks, to_other_ankle),
            (arms, to_other_elbow),
            (trunk, across),
        ) = (
            _crossed(*ends, early, first)
            for ends in ((hips, knees), (knees, ankles), (shoulders, elbows), (shoulders, hips))
        )
        both = (thighs > _BOTH_CROSSED * to_other_knee) & (shanks > _BOTH_CROSSED * to_other_ankle)
        least = np.full(ends.shape, _OUT_OF_ORDER)
        least[np.logical_not(from_address), _ARMS] = _ARMS_OUT_OF_ORDER
        return cls(
            ends >= least * apart,
            (thighs > _CROSSED * to_other_knee) | both,
            (arms > to_other_elbow)
            & (trunk > across)
            & (arms * trunk > _SHOULDERS_CROSSED * to_other_elbow * across),
        )


def _crossed(
    one: FloatArray, other: FloatArray, early: BoolArray, first: list[int]
) -> tuple[FloatArray, FloatArray]:
    """How far joints of both sides are from those of their own side and from those of the other,
    summed over the early frames of each swing, shape (n_swings,); the joints have shape
    (2, 2 sides, n_frames)."""
    own, across = _distance(one, other), _distance(one, other[:, ::-1])
    told = ~np.isnan(own + across) & early
    total, crossing = (_total(each, told, first).sum(axis=1) for each in (own, across))
    return total, crossing


def _distance(one: FloatArray, other: FloatArray) -> FloatArray:
    """How far points of shape (2, n_points, n_frames) are apart, shape (n_points, n_frames)."""
    return np.sqrt(squared_length(one - other))


def _total(values: FloatArray, told: BoolArray, first: list[int]) -> FloatArray:
    """Sums over the frames of each swing where that is told, shape (n_swings, n)."""
    return np.add.reduceat(np.where(told, values, 0.0), first, axis=1).T


def legs_exchanged(
    *, thighs_cross: bool, ankles: list[list[float]], to_finish: bool
) -> Remark | None:
    """Thighs that cross all the way to impact, or the heel of the lead foot up in the finish.

    ``ankles`` are the ways of the lead and the trail one up to the last frame of the swing;
    ``to_finish`` says that it reaches P9.
    """
    (_, lead), (_, trail) = ankles
    if thighs_cross:
        seen = "The thighs cross all the way to impact"
    elif to_finish and lead - trail > _LEAD_FOOT_UP:
        seen = "In the finish the lead heel comes up and the trail one stays"
    else:
        return None
    return Remark(
        "legs_exchanged",
        Level.WARNING,
        f"{seen}, as where left and right are exchanged in the legs alone: what legs and feet do "
        "can't be judged.",
        "Check the order of the points that are sent; or use a larger pose model.",
    )


def out_of_order(in_order: list[bool], *, shoulders_cross: bool) -> Remark | None:
    """Limbs whose middle joint is no joint between its ends, and shoulders on the other's side."""
    limbs = " and ".join(limb for limb, right in zip(_LIMBS, in_order, strict=True) if not right)
    if limbs:
        seen = (
            f"Two joints seem exchanged in the {limbs}: its ends are nearer one another than to "
            "the joint between them"
        )
    elif shoulders_cross:
        seen = (
            "Left and right seem exchanged in the shoulders alone: upper arms and trunk cross all "
            "the way to impact"
        )
    else:
        return None
    return Remark(
        "joints_out_of_order",
        Level.WARNING,
        f"{seen}, so faults can't be judged.",
        "Check the order of the points that are sent (layout).",
    )


def sits(stance: Stance) -> Remark | None:
    """Hips hardly above the knees at address."""
    if not (stance.shanks > 0.0 and stance.thighs < _SITTING * stance.shanks):
        return None
    return Remark(
        "player_sits",
        Level.WARNING,
        "The hips are hardly above the knees at address, as where the player sits: the faults are "
        "those of a player who stands, so only the tempo is judged.",
        "Send the clip as it is for positions and tempo; have a coach judge the rest.",
    )
