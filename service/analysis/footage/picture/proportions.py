"""Whether the picture is squeezed: limbs that reach too little, or too much, across it for how far
they reach up it.

Fractions of the picture taken for a square's and film whose pixels are not square keep all heights
and change all widths by one factor. No pose tells it, as arms point at the camera and a player seen
down the line is narrow; but over a whole swing every limb lies across the picture at some time and
up it at another. Each is held against itself, so that neither the player's build nor where an
annotator takes its joints to be makes a difference.

``python -m tests.reference.fits.proportions`` makes the table anew, from annotated clips
([zhang2013], [jhuang2013]), the latter's videos through an open pose estimator, and simulated and
replayed swings, and prints how a fit without one source does on it: the figure to go by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import exp
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_quantile
from service.analysis.types import FloatArray

BEYOND_DOUBT: Final[float] = 0.42
"""Logarithm of a factor from which a picture is called squeezed or stretched. Of 142 real swings
seen past impact, each by a table made without its source, the farthest lies at 0.38; of the same
pictures with their widths taken for their heights', 16 : 9 either way and 0.58, nine in ten lie
beyond. Widths off by a third, 0.29, can't be told: real swings spread by 0.09 to 0.14."""
BEFORE_FINISH: Final[float] = 0.75
"""The same for swings not seen past impact. Shoulders seen down the line lie across the picture in
the finish alone, so these stray half as far again, one to 0.5 in its whole clip and to 0.73 in the
frames from P4 to P7."""
_LARGE: Final[float] = 0.97
"""Quantile over the frames of a swing at which extents are taken."""
_MOST_FRAMES: Final[int] = 64
"""From twice as many frames on every second alone is looked at, and so on: it takes less time."""
_FEWEST: Final[int] = 10
"""Extents that must be seen for anything to be said."""


@dataclass(frozen=True)
class Extent:
    """How far two joints, or the middles of two pairs, lie apart across the picture, against how
    far they do up it.

    Attributes
    ----------
    usual : float
        Mean of its logarithm in real and simulated swings.
    weight : float
        Its share in the logarithm of the factor by which all widths are changed.
    """

    name: str
    usual: float
    weight: float


EXTENTS: Final[tuple[Extent, ...]] = (
    Extent("shoulders", 0.59, 0.20),
    Extent("hips", 1.31, 0.07),
    Extent("knees", 1.31, 0.02),
    Extent("ankles", 0.86, -0.04),
    Extent("upper arm", -0.13, 0.21),
    Extent("arm", -0.20, 0.05),
    Extent("thigh", -0.98, 0.05),
    Extent("flank", -0.78, 0.05),
    Extent("shoulder to ankle", -1.39, 0.12),
    Extent("hips to hands", -0.71, 0.05),
    Extent("trunk", -1.06, 0.13),
    Extent("feet to shoulders", -1.98, 0.05),
    Extent("feet to hips", -1.93, 0.04),
)
"""Between the sides, then along one side, of which the larger counts, then between middles."""
_SIDES: Final = ("LEAD", "TRAIL")
_JOINTS: Final = ("SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE", "ANKLE")
_OF_JOINTS: Final = [Point[f"{side}_{joint}"] for joint in _JOINTS for side in _SIDES]
_HALVED: Final = ("WRIST", "HIP", "SHOULDER", "ANKLE")
"""Joints of which the middles follow those points, in this order."""
_ACROSS_SIDES: Final = ("SHOULDER", "HIP", "KNEE", "ANKLE")
_LIMBS: Final = (
    ("SHOULDER", "ELBOW"),
    ("SHOULDER", "WRIST"),
    ("HIP", "KNEE"),
    ("SHOULDER", "HIP"),
    ("SHOULDER", "ANKLE"),
)
_MIDDLES: Final = (
    ("WRIST", "HIP"),
    ("SHOULDER", "HIP"),
    ("SHOULDER", "ANKLE"),
    ("HIP", "ANKLE"),
)


def _lead(joint: str) -> int:
    """The place of the lead side's joint among those points; the trail side's follows."""
    return 2 * _JOINTS.index(joint)


def _middle(joint: str) -> int:
    return len(_OF_JOINTS) + _HALVED.index(joint)


_LEADS: Final = [_lead(joint) for joint in _HALVED]
_TRAILS: Final = [place + 1 for place in _LEADS]
_FIRST, _SECOND = np.array(
    [
        *((_lead(joint), _lead(joint) + 1) for joint in _ACROSS_SIDES),
        *((_lead(one) + side, _lead(other) + side) for side in (0, 1) for one, other in _LIMBS),
        *((_middle(one), _middle(other)) for one, other in _MIDDLES),
    ]
).T
_SIZES: Final = [len(_ACROSS_SIDES), len(_LIMBS), len(_LIMBS), len(_MIDDLES)]
_PARTS: Final = [slice(*both) for both in pairwise(accumulate(_SIZES, initial=0))]
"""The pairs between the sides, the limbs of either side and the middles."""


def squeeze(swings: Sequence[FloatArray], past_impact: Sequence[bool]) -> list[float | None]:
    """The factor by which each picture's widths are changed, where that is beyond doubt.

    Parameters
    ----------
    swings : of each its poses, shape (n_frames, n_points, 2)
        In any unit; either order of the sides.
    past_impact : of each whether it is seen beyond P7

    Returns
    -------
    list of float
        Below 1 for a picture that is squeezed to a share of its width; ``None`` where nothing is
        to be said.
    """
    told = log_extents(swings)
    seen = np.isfinite(told)
    enough = np.count_nonzero(seen, axis=1) >= _FEWEST
    factors = np.add.reduce(_WEIGHTS * np.where(seen, told - _USUAL, 0.0), axis=1)
    beyond_doubt = enough & (np.abs(factors) > limits(past_impact))
    pairs = zip(factors.tolist(), beyond_doubt.tolist(), strict=True)
    return [exp(factor) if sure else None for factor, sure in pairs]


def limits(past_impact: Sequence[bool]) -> FloatArray:
    """Logarithms of the factors from which pictures are called squeezed, shape (n_swings,)."""
    return np.where(past_impact, BEYOND_DOUBT, BEFORE_FINISH)


def log_extents(swings: Sequence[FloatArray]) -> FloatArray:
    """Logarithms of :data:`EXTENTS` in their order, shape (n_swings, n_extents); NaN where not
    seen. ``swings`` as in :func:`squeeze`."""
    looked_at = [poses[:: max(1, len(poses) // _MOST_FRAMES)] for poses in swings]
    spans = [slice(*both) for both in pairwise(accumulate(map(len, looked_at), initial=0))]
    joints = np.concatenate([poses.take(_OF_JOINTS, axis=1) for poses in looked_at])
    paths = np.ascontiguousarray(joints.T)
    middles = 0.5 * (paths[:, _LEADS] + paths[:, _TRAILS])
    places = np.concatenate([paths, middles], axis=1)
    apart = np.abs(places.take(_FIRST, axis=1) - places.take(_SECOND, axis=1))
    rows = apart.reshape(2 * len(_FIRST), -1)
    large = np.array([row_quantile(rows[:, span], _LARGE) for span in spans])
    across, up = large.reshape(len(swings), 2, -1).swapaxes(0, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        logarithms = np.log(_larger_side(across) / _larger_side(up))
    return np.where(np.isfinite(logarithms), logarithms, np.nan)


def _larger_side(lengths: FloatArray) -> FloatArray:
    """Of lengths of the pairs, shape (n_swings, n_pairs), the larger of both sides' limbs."""
    between, lead, trail, middles = (lengths[:, part] for part in _PARTS)
    return np.concatenate([between, np.fmax(lead, trail), middles], axis=1)


_USUAL: Final[FloatArray] = np.array([extent.usual for extent in EXTENTS])
_WEIGHTS: Final[FloatArray] = np.array([extent.weight for extent in EXTENTS])
