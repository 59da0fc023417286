"""What ``python -m tests.reference.estimator.tell_apart`` tells, and the ceiling it is held to."""

import numpy as np
import pytest

from tests.reference.clips import FOLDER
from tests.reference.estimator import tell_apart as tell
from training.simulator.filming.estimating.estimator import LIKE_AN_ESTIMATOR

needs_clips = pytest.mark.skipif(
    not (FOLDER / "estimated_golf_clips.ndjson").is_file(),
    reason="the clips are research data outside the project; set SWING_REFERENCE_DIR to the "
    "folder that holds them",
)
TOPS = [15.0]


@pytest.fixture(scope="module")
def simulated():
    clips = tell.simulated_clips(LIKE_AN_ESTIMATOR, TOPS, 40)
    return [tell.features(*clip) for clip in clips]


def test_clips_of_one_make_can_hardly_be_told_apart(simulated):
    told = []
    for seed in range(4):  # the halves of one split of 40 clips may differ by chance
        order = np.random.default_rng(seed).permutation(len(simulated))
        shuffled = [simulated[k] for k in order]
        auroc, _ = tell.told_apart(shuffled[:20], shuffled[20:], repeats=1)
        told.append(list(auroc.values()))
    assert np.mean(told, axis=0).max() < 0.65


def test_clips_that_jitter_ten_times_as_much_are_told_by_their_jitter(simulated):
    rough = [
        {name: v + np.log(10.0) if "jitter" in name else v for name, v in one.items()}
        for one in simulated[:20]
    ]
    auroc, alone = tell.told_apart(rough, simulated[20:], repeats=1)
    assert all(value > 0.95 for value in auroc.values())
    assert "jitter" in alone[0][0]


@needs_clips
@pytest.mark.reference
def test_measured_errors_make_simulated_clips_harder_to_tell_from_real_ones():
    real, tops = [tell.features(*c) for c in tell.real_clips()], tell.tops_of_real_clips()
    told = {}
    for noise in (tell.BEFORE, LIKE_AN_ESTIMATOR):
        ours = [tell.features(*c) for c in tell.simulated_clips(noise, tops, 60)]
        told[noise] = tell.told_apart(real, ours, repeats=1)[0]
    assert min(told[tell.BEFORE].values()) > 0.98
    assert max(told[LIKE_AN_ESTIMATOR].values()) < 0.87
