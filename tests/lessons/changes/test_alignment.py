from dataclasses import replace

import numpy as np
import pytest

from service.lessons import NoSwingFound, TooFewSwings, align
from tests.lessons.made_up import clocked, no_swing

QUICK = [0.5, 0.7, 0.9, 1.25, 1.35, 1.42, 1.5, 1.58, 1.7, 2.0]
SLOW = [1.0, 1.5, 2.0, 2.8, 3.1, 3.3, 3.5, 3.8, 4.1, 4.8]


def test_the_same_position_is_found_in_a_quick_and_in_a_slow_swing() -> None:
    quick, slow = clocked(QUICK, 60.0), clocked(SLOW, 30.0)
    found = align([quick, slow], np.arange(1.0, 11.0))
    np.testing.assert_allclose(found.times[0], QUICK, atol=1e-6)
    np.testing.assert_allclose(found.times[1], SLOW, atol=1e-6)
    np.testing.assert_allclose(found.frames[1], np.array(SLOW) * 30.0, atol=1e-6)


def test_scrubbing_runs_forward_in_both_swings() -> None:
    quick, slow = clocked(QUICK, 60.0), clocked(SLOW, 30.0)
    found = align([quick, slow])
    assert len(found.positions) == 73
    assert (np.diff(found.times, axis=1) > 0.0).all()


def test_only_what_both_swings_show_is_aligned() -> None:
    whole = clocked(QUICK, 60.0)
    to_impact = clocked(QUICK, 60.0)
    cut = np.where(to_impact.coordinate > 7.0, np.nan, to_impact.coordinate)
    to_impact = replace(to_impact, coordinate=cut, positions=to_impact.positions[:7])
    found = align([whole, to_impact])
    assert found.positions[-1] == 7.0


def test_a_coordinate_that_falls_behind_a_position_does_not_run_backward() -> None:
    quick, slow = clocked(QUICK, 60.0), clocked(SLOW, 30.0)
    behind = slow.coordinate - 0.6 * (slow.coordinate > 4.0) * (slow.coordinate < 4.9)
    found = align([quick, replace(slow, coordinate=behind)])
    assert (np.diff(found.frames, axis=1) >= 0.0).all()
    (before,) = found.frames[1, found.positions == 3.875]
    assert before < SLOW[3] * 30.0, "what comes before the top is not put after it"


def test_one_swing_alone_is_not_aligned() -> None:
    alone = clocked(QUICK, 60.0)
    with pytest.raises(TooFewSwings, match="two swings"):
        align([alone])


def test_a_clip_without_a_swing_is_not_aligned() -> None:
    whole = clocked(QUICK, 60.0)
    with pytest.raises(NoSwingFound, match="Nobody swings"):
        align([whole, no_swing()])
