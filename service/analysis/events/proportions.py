"""Whether the picture is squeezed: a body that is too narrow, or too wide, for its height.

Fractions of the picture taken for a square's and film whose pixels are not square keep all heights
and change all widths by one factor. No single width tells it, as a player seen down the line is
narrow and arms point at the camera; but over a whole swing every limb lies across the picture at
some time, and widths of shoulders, arms, legs and the hands' way together do, held against the
height of the legs.

``python -m tests.reference.fits.proportions`` makes the table anew, from annotated clips
([zhang2013], [jhuang2013]), the latter's videos through an open pose estimator, and simulated
swings, and prints how a fit without one source does on it: the figure to go by.
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

BEYOND_DOUBT: Final[float] = 0.55
"""Logarithm of a factor from which a picture is called squeezed or stretched. Of 244 swings as they
were filmed the farthest lies at 0.47, with a table made without its source at 0.51; of the same
pictures squeezed to half their width, 0.69, three in four lie beyond."""
_LARGE: Final[float] = 0.9
"""Quantile over the frames of a swing at which extents are taken."""
_FEWEST: Final[int] = 10
"""Extents that must be seen for anything to be said."""


@dataclass(frozen=True)
class Extent:
    """How large something is across the picture or up it, against the height of the legs.

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
    Extent("shoulders apart", -1.04, 0.33),
    Extent("hips apart", -1.45, 0.02),
    Extent("ankles apart", -1.36, -0.06),
    Extent("upper arm", -1.20, 0.21),
    Extent("forearm", -1.39, 0.07),
    Extent("arm", -0.75, 0.07),
    Extent("thigh", -1.78, 0.09),
    Extent("shank", -1.64, 0.09),
    Extent("trunk", -1.22, 0.15),
    Extent("hands beside the hips", -0.48, -0.01),
    Extent("hands beside the shoulders", -1.01, 0.03),
    Extent("arm, upward", -0.58, -0.26),
    Extent("trunk, upward", -0.39, -0.21),
)
"""The widths first, then the heights."""
_SIDES: Final = ("LEAD", "TRAIL")
_PAIRS: Final = [
    (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER),
    (Point.LEAD_HIP, Point.TRAIL_HIP),
    (Point.LEAD_ANKLE, Point.TRAIL_ANKLE),
    *(
        (Point[f"{side}_{first}"], Point[f"{side}_{second}"])
        for first, second in (
            ("SHOULDER", "ELBOW"),
            ("ELBOW", "WRIST"),
            ("SHOULDER", "WRIST"),
            ("HIP", "KNEE"),
            ("KNEE", "ANKLE"),
            ("SHOULDER", "HIP"),
        )
        for side in _SIDES
    ),
]
_JOINTS: Final = np.unique(_PAIRS)
_FIRST, _SECOND = _JOINTS.searchsorted(_PAIRS).T
_MIDDLES: Final = [
    _JOINTS.searchsorted([Point[f"{side}_{joint}"] for side in _SIDES]).tolist()
    for joint in ("WRIST", "HIP", "SHOULDER")
]
"""Among these joints the pairs whose middles are hands, hips and shoulders."""
_LIMBS: Final = slice(3, None)
"""Pairs that there are on both sides; the longer counts."""
_UPWARD: Final = slice(7, None)
"""Those of them whose height counts too."""
_ARM, _THIGH, _SHANK, _TRUNK = range(4)
"""Places among these."""


def squeeze(swings: Sequence[FloatArray]) -> list[float | None]:
    """The factor by which each picture's widths are changed, where that is beyond doubt.

    Parameters
    ----------
    swings : of each its poses, shape (n_frames, n_points, 2)
        In any unit; either order of the sides.

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
    beyond_doubt = enough & (np.abs(factors) > BEYOND_DOUBT)
    pairs = zip(factors.tolist(), beyond_doubt.tolist(), strict=True)
    return [exp(factor) if sure else None for factor, sure in pairs]


def log_extents(swings: Sequence[FloatArray]) -> FloatArray:
    """Logarithms of :data:`EXTENTS` in their order, shape (n_swings, n_extents); NaN where not
    seen. ``swings`` as in :func:`squeeze`."""
    spans = [slice(*both) for both in pairwise(accumulate(map(len, swings), initial=0))]
    joints = np.concatenate([poses.take(_JOINTS, axis=1) for poses in swings])
    paths = np.ascontiguousarray(joints.T)
    apart = np.abs(paths.take(_FIRST, axis=1) - paths.take(_SECOND, axis=1))
    hands, hips, shoulders = (0.5 * (paths[0, one] + paths[0, other]) for one, other in _MIDDLES)
    beside_hips = (hands - hips)[None]
    rows = np.concatenate([apart[0], apart[1, _UPWARD], np.abs(hands - shoulders)[None]])
    large = np.array([row_quantile(rows[:, span], _LARGE) for span in spans])
    travel = np.array(
        [
            row_quantile(beside_hips[:, span], 0.95) - row_quantile(beside_hips[:, span], 0.05)
            for span in spans
        ]
    )
    return _against_legs(large[:, : len(_PAIRS)], large[:, len(_PAIRS) : -1], travel, large[:, -1:])


def _against_legs(
    across: FloatArray, up: FloatArray, travel: FloatArray, beside_shoulders: FloatArray
) -> FloatArray:
    """What :func:`log_extents` tells, from lengths of pairs across the picture and up it and from
    the hands' ways, each of shape (n_swings, n)."""
    limbs_across, limbs_up = (each.reshape(len(each), -1, 2) for each in (across[:, _LIMBS], up))
    legs = np.fmax.reduce(limbs_up[:, _THIGH] + limbs_up[:, _SHANK], axis=1)
    told = np.concatenate(
        [
            across[:, : _LIMBS.start],
            np.fmax.reduce(limbs_across, axis=2),
            travel,
            beside_shoulders,
            np.fmax.reduce(limbs_up[:, [_ARM, _TRUNK]], axis=2),
        ],
        axis=1,
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        logarithms = np.log(told / legs[:, None])
    return np.where(np.isfinite(logarithms), logarithms, np.nan)


_USUAL: Final[FloatArray] = np.array([extent.usual for extent in EXTENTS])
_WEIGHTS: Final[FloatArray] = np.array([extent.weight for extent in EXTENTS])
