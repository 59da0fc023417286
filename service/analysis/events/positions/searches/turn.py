"""P4: where the hands turn round."""

from __future__ import annotations

from math import isnan
from typing import Final

import numpy as np

from service.analysis.events.positions.searches.level_crossings import last_upcrossing
from service.analysis.events.positions.searches.scene import Found, Scene, lowest_frame
from service.analysis.types import FloatArray

_NEAR: Final[float] = 0.02
"""Body heights from a turning point at which a path has measurably left it; judgement."""
_SAME_TURN: Final[float] = 0.05
"""Seconds between leaving and arriving below which the hands turned without a pause; judgement."""
_LEAST_PAUSE: Final[float] = 0.1
"""Seconds of rest before the way down that show its start where the way up is not in the clip;
judgement."""
_PAUSE_SHARE: Final[float] = 0.25
"""The same as a share of the time of the way down, so that a slow one shows more; judgement."""


def find_top(scene: Scene) -> Found:
    """Where the hands turn round: they have stopped going back and not yet started down.

    The turn is measured along the direction in which the hands come down. With a pause
    at the top P4 is its end, where the downswing starts. It is shown where the hands are seen to
    come up to it or to rest there: in a clip that begins on the way down the first frame is not it.
    """
    tracks, swing = scene.tracks, scene.swing
    last = swing.end if swing.low is None else swing.low
    path = tracks.path
    fall = path[swing.top : last + 1]
    half_way = fall[0, 1] - 0.4 * (fall[0, 1] - np.fmin.reduce(fall[:, 1]))
    below = (fall[:, 1] <= half_way).nonzero()[0]
    stop = swing.top + int(below[0]) if below.size else last
    towards = path[stop] - path[swing.top]
    along = (path - path[swing.top]).dot(towards / np.hypot(*towards))
    far = (along[swing.start : swing.top + 1] > 0.5 * along[stop]).nonzero()[0]
    first = swing.start + (int(far[-1]) if far.size else 0)
    turn = first + lowest_frame(along[first : stop + 1])
    depth = along - along[turn]
    down = _onset(tracks.times, depth, turn, stop)
    back = _onset(tracks.times, depth, turn, first)
    comes_up = bool((depth[swing.start : turn] >= _NEAR).any())
    if down is None:
        return Found(float(tracks.times[turn]), scene.frame, shown=comes_up)
    if back is not None and down - back < _SAME_TURN:
        return Found(0.5 * (down + back), 0.25 * scene.frame + 0.25 * abs(down - back) + 0.004)
    before_clip = max(float(tracks.times[0]) - down, 0.0)
    pause = down - float(tracks.times[swing.start])
    needed = max(_LEAST_PAUSE, _PAUSE_SHARE * (float(tracks.times[stop]) - down))
    return Found(
        down + before_clip,
        0.5 * scene.frame + 0.008 + before_clip,
        shown=comes_up or pause >= needed,
    )


def _onset(times: FloatArray, way: FloatArray, rest: int, away: int) -> float | None:
    """When a path left rest, going from frame ``rest`` toward frame ``away``.

    A movement that starts from rest grows with the square of time, so that the time it
    takes from :data:`_NEAR` to four times as far equals the time it took to come so near.
    """
    step = 1 if away >= rest else -1
    frames = slice(rest, away + step if away + step >= 0 else None, step)
    soon, later = last_upcrossing(times[frames], way[frames], np.array([_NEAR, 4 * _NEAR]))
    onset = float(2 * soon - later)
    return None if isnan(onset) else onset
