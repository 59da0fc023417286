"""Answers to real clips hold when the clips are changed a little."""

import numpy as np
import pytest

from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.reference import clips
from tests.reference.perturbations import PERTURBATIONS
from tests.reference.perturbed import changed, flips, seen

pytestmark = [
    pytest.mark.reference,
    pytest.mark.skipif(
        not clips.available(),
        reason="the annotated clips are research data outside the project; set "
        "SWING_REFERENCE_DIR to the folder that holds them",
    ),
]
SOME = {"panned 8 %": 2, "jitter 0.5 %": 1, "sides exchanged twice": 1}
"""Changes, and how many verdicts each may turn: a film panned that far looks like a pelvis that
moves."""


@pytest.fixture(scope="module")
def analyser():
    return Analyser.of(Settings())


@pytest.fixture(scope="module")
def golf(analyser):
    """A third of the annotated clips, for time."""
    return seen(("golf_clips", "golf_clips_2"), analyser)[::3]


@pytest.mark.parametrize("change", SOME)
def test_swings_are_found_and_no_verdict_turns(golf, analyser, change):
    after = changed(golf, PERTURBATIONS[change], analyser)
    found = [c.said.swing_found for c in golf]
    assert sum(a.swing_found for a in after) >= sum(found) - 2
    turned = [fault for c, a in zip(golf, after, strict=True) for fault in flips(c.said, a)]
    assert len(turned) <= SOME[change], turned


def test_a_mirrored_player_plays_the_other_hand_and_gets_the_same_verdicts(golf, analyser):
    after = changed(golf, PERTURBATIONS["mirrored"], analyser)
    pairs = [(c.said, a) for c, a in zip(golf, after, strict=True) if c.said.swing_found]
    assert all(a.swing_found and a.handedness.value != b.handedness.value for b, a in pairs)
    verdicts = [[[f.status for f in said.findings] for said in pair] for pair in pairs]
    assert [before for before, _ in verdicts] == [after for _, after in verdicts]


def test_every_change_changes_something_but_leaves_the_joints_in_order(golf, analyser):
    clip = golf[0]
    rng = np.random.default_rng(1)
    for name, by in PERTURBATIONS.items():
        made = by.change(clip.recording, clip.said, rng)
        assert made.points.shape[1:] == clip.recording.points.shape[1:]
        assert len(made.points) == len(made.confidence) == len(made.times)
        same = made.points.shape == clip.recording.points.shape and (
            np.array_equal(made.points, clip.recording.points, equal_nan=True)
            and np.array_equal(made.confidence, clip.recording.confidence)
            and np.array_equal(made.times, clip.recording.times)
        )
        assert same is (name == "as it is"), name
