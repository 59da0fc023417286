"""Where the network and the thresholds read two different swings: a second look.

An estimator that loses an arm makes hands fall that did not, above all in the finish, and the
fall that is taken for the downswing may not be it. The network sees all of the clip about it and
tells then where the swing is; thresholds look there once more. What both see is the swing; where
they don't come together even then, the positions that they differ on are not told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import hypot
from typing import Final

import numpy as np

from service.analysis.events.detection import LEAST_FALL, Downswing
from service.analysis.events.positions.network import PositionEstimates
from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.types import FloatArray

# In downswings, the longer of the two that are read; judgement, checked on simulated clips with
# the errors of a real estimator and on real swings.
_TWO_SWINGS: Final[float] = 0.5
"""Between two impacts, or two tops, from which they can't be of one swing."""
_NEAR: Final[float] = 0.25
"""About the network's top and impact in which the hands' high and low are looked for, and between
two placings of any other position of one swing."""
_BACKSWING: Final[float] = 4.0
"""The longest backswing: full swings take 2 to 4 downswings (common practice)."""
_THROUGH: Final[float] = 3.0
"""The longest way from impact to the finish, likewise."""


def at_odds(found: Mapping[int, Found | None], told: PositionEstimates) -> bool:
    """Whether thresholds and network can't mean the same swing, by their tops and impacts."""
    top, impact = found[4], found[7]
    if top is None or impact is None:
        return False
    its_top, its_impact = float(told.times[3]), float(told.times[6])
    longer = max(impact.time - top.time, its_impact - its_top)
    apart = max(abs(impact.time - its_impact), abs(top.time - its_top))
    return apart > _TWO_SWINGS * longer


def where_told(scene: Scene, told: PositionEstimates) -> Scene | None:
    """The same scene with the downswing that the network tells of; ``None`` where the hands don't
    fall there."""
    top, impact = float(told.times[3]), float(told.times[6])
    down = impact - top
    if down <= 0.0:
        return None
    height = scene.tracks.height
    high = _frame(scene, height, top - _NEAR * down, top + _NEAR * down)
    low = _frame(scene, -height, impact - _NEAR * down, impact + _NEAR * down)
    if high is None or low is None or not height[high] - height[low] >= LEAST_FALL:
        return None
    clock = scene.tracks.times
    start = _frame(scene, -height, clock[high] - _BACKSWING * down, float(clock[high]))
    end = _frame(scene, height, float(clock[low]), clock[low] + _THROUGH * down)
    if start is None or end is None or not start <= high < low <= end:
        return None
    peak = float(np.fmax.reduce(scene.tracks.speed[high : low + 1]))
    return replace(scene, swing=Downswing(start, high, low, end, peak))


def both_readings(
    found: Mapping[int, Found | None], told: PositionEstimates
) -> dict[int, Found | None]:
    """What thresholds found, where network and thresholds don't come together.

    Top and impact stay, as unsure as the two are apart; of the others those that both place alike.
    """
    down = float(told.times[6] - told.times[3])
    apart = {k: abs(at.time - float(told.times[k - 1])) for k, at in found.items() if at}
    kept = dict(found)
    for number, moment in found.items():
        if moment is None:
            continue
        if number in (4, 7):
            unsure = hypot(moment.uncertainty, apart[number])
            kept[number] = replace(moment, uncertainty=unsure)
        elif not apart[number] < _NEAR * down:
            kept[number] = replace(moment, disputed=True)
    return kept


def _frame(scene: Scene, values: FloatArray, first: float, last: float) -> int | None:
    """Frame of the greatest value seen between two times."""
    clock = scene.tracks.times
    frames = np.flatnonzero((clock >= first) & (clock <= last) & ~np.isnan(values))
    return int(frames[values[frames].argmax()]) if frames.size else None
