from __future__ import annotations

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.judging.features import FEATURE_NAMES
from service.analysis.types import Intent, View
from training.data.dataset import FAULT_NAMES, build, clips_of_golfer, load, save
from training.data.draws import FAULTS, random_amounts
from training.data.shifted import random_other_golfer
from training.data.truth import truth_of
from training.simulator import FaultAmounts, Golfer, random_golfer, swing_motion

from .small import split


def test_the_same_seed_gives_the_same_data_whatever_the_number_of_processes():
    one, two = build(9, "train", 3, quiet=True), build(9, "train", 3, jobs=2, quiet=True)
    np.testing.assert_array_equal(one.features, two.features)
    assert one.version() == two.version()


def test_another_seed_gives_other_data():
    assert build(9, "test", 2, quiet=True).version() != build(10, "test", 2, quiet=True).version()


def test_no_golfer_is_in_two_splits():
    styles = [
        next(clips_of_golfer(1, s, n)).motion.golfer.style
        for s in ("train", "calibration", "test")
        for n in range(5)
    ]
    assert len(set(styles)) == len(styles)


def test_a_data_set_survives_being_written(tmp_path):
    kept = split("test")
    save(kept, tmp_path / "d.npz")
    assert load(tmp_path / "d.npz").version() == kept.version()


def test_every_row_has_all_features_in_single_precision():
    rows = split("test").features
    assert rows.dtype == np.float32
    assert rows.shape[1] == len(FEATURE_NAMES)
    assert not np.isinf(rows).any()


def test_a_clip_without_a_club_has_no_features_of_the_club():
    test = split("test")
    club = [k for k, f in enumerate(FEATURE_NAMES) if f.startswith("joint.clubhead")]
    assert np.isnan(test.features[~test.club][:, club]).all()
    assert np.isfinite(test.features[test.club][:, club]).any()


@pytest.mark.parametrize("definition", CATALOGUE.values(), ids=lambda d: d.name)
def test_the_truth_of_a_fault_grows_with_its_amount(definition):
    k = FAULT_NAMES.index(definition.name)
    for view in definition.views:
        margins = [
            truth_of(swing_motion(Golfer(), FaultAmounts(**{definition.name: a})), view).margin[k]
            for a in (0.0, 1.4)
        ]
        assert margins[0] < 0.0 < margins[1]


def test_what_a_view_does_not_show_has_no_truth_there():
    truth = truth_of(swing_motion(Golfer()), View.FACE_ON)
    unseen = [k for k, d in enumerate(CATALOGUE.values()) if View.FACE_ON not in d.criteria]
    assert np.isnan(truth.margin[unseen]).all()


def test_the_truth_does_not_know_the_size_of_the_player():
    tall, short = (
        truth_of(swing_motion(Golfer(stature=s)), View.DOWN_THE_LINE).margin for s in (1.5, 1.95)
    )
    np.testing.assert_allclose(tall, short, atol=1.2)


def test_a_left_handed_swing_is_as_true_as_its_mirror():
    margins = [
        truth_of(swing_motion(Golfer(handedness=h)), View.FACE_ON).margin for h in ("left", "right")
    ]
    np.testing.assert_array_equal(*margins)


def test_every_fault_comes_alone_and_in_company():
    rng = np.random.default_rng(4)
    alone, together = set(), set()
    for _ in range(600):
        _, amounts = random_amounts(rng, Intent.FULL_SPEED)
        present = [f for f in FAULTS if getattr(amounts, f) > 0.0]
        (alone if len(present) == 1 else together).update(present)
    assert alone == together == set(FAULTS)


def test_a_rehearsal_is_never_hurried():
    rng = np.random.default_rng(4)
    drawn = [random_amounts(rng, Intent.REHEARSAL)[1].hurried_transition for _ in range(200)]
    assert max(drawn) == 0.0


def test_off_home_ground_the_golfers_have_other_proportions():
    home, away = (
        random_golfer(np.random.default_rng(2)),
        random_other_golfer(np.random.default_rng(2)),
    )
    assert home.stature == away.stature
    assert home.body.forearm != away.body.forearm
