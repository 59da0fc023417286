from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from service.analysis.events.positions.placement import _as_position, _frames
from service.analysis.events.positions.scene import Found
from service.analysis.types import Source

SCENE = SimpleNamespace(tracks=SimpleNamespace(times=np.arange(0.0, 2.0, 0.1)))


@pytest.mark.parametrize(
    ("uncertainty", "source"),
    [(0.02, Source.OBSERVED), (0.59, Source.OBSERVED), (0.61, Source.INFERRED), (5.0, "inferred")],
)
def test_a_position_that_may_lie_anywhere_in_the_swing_does_not_count_as_observed(
    uncertainty: float, source: str
):
    found = dict.fromkeys(range(1, 11))
    found[1], found[4], found[7] = Found(0.3, 0.01), Found(1.1, uncertainty), Found(1.5, 0.01)
    told = _as_position(SCENE, 4, found, _frames(SCENE.tracks.times, found))
    assert told.source == source
    assert told.uncertainty == uncertainty
    assert (told.reason is None) == (source == Source.OBSERVED)
