"""Places that were smoothed before they were sent, as pose libraries and apps do.

What a pose estimator or an annotator errs by jumps from frame to frame, so that a place seldom
speeds up twice in a row the same way. A filter that follows its own past, or puts each place
between those about it, leaves a path that bends one way for some frames on end. At few frames a
second such a filter also cuts the low point of the hands off.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Level, Remark

_FEW_FRAMES: Final[float] = 45.0
"""Frames a second above which a filter of such few frames leaves the low point of the hands as it
is: smoothed by half it lies 0.8 % of body height higher at 60 frames a second, 2.7 % at 30."""
_ON_END: Final[float] = 0.5
"""Share of the frames that bend a joint's path the same way as the one before, from which it was
smoothed. Of 144 real swings as they were sent the most is 0.47, of 71 simulated and replayed ones
at up to 45 frames a second 0.46; smoothed by half 141 of the former lie above."""
_COMPUTED: Final[float] = 0.8
"""The same share above which nobody placed the joints at all, and nothing was smoothed: those of a
motion that was computed bend on end in 0.84 and more, of smoothed clips the most is 0.74."""
_ON_END_AGAINST: Final[float] = 0.48
"""The same of the way from a joint to its counterpart on the other side, which a camera that sways
leaves as it is; 0.46, 0.46 and 133."""
_FEWEST: Final[int] = 100
"""Bends of joints from which that tells anything."""
_LEAD, _TRAIL = (
    [Point[f"{side}_{joint}"] for joint in ("SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE", "ANKLE")]
    for side in ("LEAD", "TRAIL")
)


def are_smoothed(points: FloatArray, frame_rate: float) -> bool:
    """Whether places at few frames a second were smoothed before they were sent.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        As they were sent, any unit; missing ones NaN.
    """
    if frame_rate > _FEW_FRAMES:
        return False
    sides = points.take([_LEAD, _TRAIL], axis=1)
    return (
        _ON_END < _bends_on_end(sides) < _COMPUTED
        and _bends_on_end(sides[:, 0] - sides[:, 1]) > _ON_END_AGAINST
    )


def _bends_on_end(paths: FloatArray) -> float:
    """Share of the bends of paths, shape (n_frames, ...), that go the same way as the one before;
    0 where there are hardly any. What does not bend at all does not count."""
    bend = np.sign(np.diff(paths, 2, axis=0))
    both = bend[1:] * bend[:-1]
    same, other = np.count_nonzero(both > 0.0), np.count_nonzero(both < 0.0)
    return same / (same + other) if same + other >= _FEWEST else 0.0


def places_smoothed(points: FloatArray, frame_rate: float) -> Remark | None:
    """The remark on places that :func:`are_smoothed` tells of; parameters as there."""
    if not are_smoothed(points, frame_rate):
        return None
    return Remark(
        "places_smoothed",
        Level.WARNING,
        "The joints move more smoothly from frame to frame than any estimator or annotator places "
        f"them, as where places were smoothed before they were sent: at {frame_rate:.0f} frames a "
        "second hands that are smoothed stay too high at impact.",
        "Switch the smoothing of the pose library off, as the service smooths without lag; or film "
        "at 60 frames a second or more.",
    )
