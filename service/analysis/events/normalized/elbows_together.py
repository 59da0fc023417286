"""Elbows that an estimator lays on one another at the top, and how far they may be off then.

Seen from down the line one arm hides the other at the top, and estimators lay the one that they
don't see along the other. In truth the elbows are apart there: the lead arm reaches up and away,
the trail elbow is bent beside the trunk. Face-on they truly lie together, so that nothing tells.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized.grid import GRID
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

_USUAL: Final[float] = 0.16
"""Body heights between the elbows at the top: the middle of 110 simulated swings whose keypoints
err little."""
_NEAREST: Final[float] = 0.10
"""Below this they are not seen right: of those swings about one in a hundred has its elbows nearer
than 0.095. Kinds of error looked at beforehand: the real swings that ``tests.reference.said_twice``
reads twice, so how these agree is no independent check."""
_TOP: Final = (GRID > 3.5) & (GRID < 4.5)
_ELBOWS: Final = (Point.LEAD_ELBOW, Point.TRAIL_ELBOW)


def widen_elbows(
    error: FloatArray, best: FloatArray, seen: NDArray[np.intp], view: View
) -> FloatArray:
    """Errors along the grid, those of elbows laid together as much larger as these lack of their
    usual distance.

    Parameters
    ----------
    error : array of shape (n_swings, n_seen, n_grid)
        One standard deviation on one axis, body heights.
    best : array of shape (n_swings, 2, n_seen, n_grid)
    seen : array of shape (n_seen,)
        Which points these are.

    Returns
    -------
    array of the shape of ``error``: itself where no elbows lie together
    """
    if view is not View.DOWN_THE_LINE:
        return error
    rows = [k for k, point in enumerate(seen.tolist()) if point in _ELBOWS]
    if len(rows) < len(_ELBOWS):
        return error
    line = best[:, :, rows[0]] - best[:, :, rows[1]]
    apart = np.hypot(line[:, 0], line[:, 1])
    together = _TOP & (apart < _NEAREST)
    if not together.any():
        return error
    lacks = np.where(together, _USUAL - apart, 0.0)
    wider = error.copy()
    wider[:, rows] = np.hypot(error[:, rows], lacks[:, None])
    return wider
