"""The floor under the figures that ``python -m tests.reference.said_twice`` prints."""

import numpy as np
import pytest

from tests.reference import said_twice
from tests.reference.said_twice import Twice
from tests.taking_turns import made_once

pytestmark = [
    pytest.mark.reference,
    pytest.mark.skipif(
        not (said_twice.FOLDER / "estimated_golf_clips.ndjson").is_file(),
        reason="the clips are research data outside the project; set SWING_REFERENCE_DIR to the "
        "folder that holds them",
    ),
]


@pytest.fixture(scope="module")
def pairs():
    return made_once("swings read twice", said_twice.answered_pairs)


def test_a_difference_is_counted_in_combined_uncertainties():
    assert Twice("a", "bend", 10.0, 25.0, 5.0).apart == 3.0


def test_both_readings_hold_a_swing_from_the_same_side_by_the_same_hand(pairs):
    assert len(pairs) == 21
    both = [p for p in pairs if p.both_found]
    assert len(both) >= 18
    assert all(p.same("view") and p.same("handedness") for p in both)


def test_nearly_all_measures_differ_by_no_more_than_both_claim(pairs):
    twice = said_twice.measured_twice(pairs)
    assert len(twice) > 150
    assert np.mean([t.apart <= 2.0 for t in twice]) >= 0.93


def test_top_and_impact_are_found_within_a_frame_of_each_other(pairs):
    apart = said_twice.frames_apart(pairs)
    for name in ("P4", "P7"):
        assert np.median(np.abs(apart[name])) <= 1.0


def test_decided_verdicts_seldom_contradict_each_other(pairs):
    decided = said_twice.decided_twice(pairs)
    assert len(decided) >= 5  # most is left open: no club, no feet, 30 frames a second
    assert sum(a != b for *_, a, b in decided) <= 1
