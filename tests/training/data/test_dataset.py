from __future__ import annotations

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.judging.features import FEATURE_NAMES, JUDGED
from service.analysis.pose import layouts
from service.analysis.types import Intent, View
from tests.training.small import data
from training.data import draws
from training.data.dataset import FAULT_NAMES, build, load, save
from training.data.draws import FAULTS, random_amounts, random_footage
from training.data.shifted import random_other_golfer
from training.data.sources import SOURCES
from training.data.truth import truth_of
from training.models.left_out import learnt_without
from training.simulator import FaultAmounts, Golfer, random_golfer, swing_motion

FEW = {"joint angles": 2, "shifted": 1}


def _clips(seed: int, number: int) -> list:
    return list(SOURCES["joint angles"](np.random.default_rng([seed, number])))


@pytest.fixture(scope="module")
def few():
    return build(9, "train", FEW, learnt_without)


def test_the_same_seed_gives_the_same_data_whatever_the_number_of_processes(few):
    again = build(9, "train", FEW, learnt_without, 2)
    np.testing.assert_array_equal(again.features, few.features)
    assert again.version() == few.version()


def test_another_seed_or_split_gives_other_data(few):
    others = [build(s, name, FEW, learnt_without) for s, name in ((9, "test"), (10, "train"))]
    assert len({d.version() for d in (few, *others)}) == 3


def test_positions_are_placed_by_the_network_that_a_source_asks_for(few):
    other = build(9, "train", FEW, lambda source: learnt_without("keyed"))
    for source in range(len(few.sources)):
        placed = [made.positions[made.source == source] for made in (few, other)]
        assert not np.array_equal(*placed, equal_nan=True)


def test_a_data_set_survives_being_written(tmp_path):
    save(data(), tmp_path / "d.npz")
    read = load(tmp_path / "d.npz")
    assert read.version() == data().version()
    assert (read.sources, read.missed) == (data().sources, data().missed)


def test_every_row_has_all_features_in_single_precision():
    rows = data().features
    assert rows.dtype == np.float32
    assert rows.shape[1] == len(FEATURE_NAMES)
    assert not np.isinf(rows).any()


def test_a_clip_without_a_club_has_nothing_of_the_club():
    k = [m.name for m in JUDGED].index("clubhead_ahead_of_hands")
    assert np.isnan(data().value[~data().club, k]).all()
    assert np.isfinite(data().value[data().club, k]).any()


def test_what_was_measured_lies_about_the_truth():
    views = {(measure.name, view): measure for measure in JUDGED for view in measure.views}
    told = {key: data().rows_of(measure, key[1])[0] for key, measure in views.items()}
    enough = {key: rows for key, rows in told.items() if len(rows) > 25}
    assert len(enough) > 0.9 * len(told)
    for key, rows in enough.items():
        off = np.abs(rows.value - rows.truth)
        assert (off <= 3.0 * rows.uncertainty).mean() > 0.9, key


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


def test_every_fault_comes_alone_and_with_others():
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


def test_a_part_of_the_clips_errs_as_a_real_estimator_and_the_others_more_gently():
    drawn = [random_footage(np.random.default_rng(n)).noise for n in range(300)]
    real = [noise for noise in drawn if noise.measured > 0.0]
    assert 0.3 < len(real) / len(drawn) < 0.5
    assert {noise.told for noise in real} == {True, False}
    assert any(noise.lag > 0.0 for noise in real)
    assert all(noise.lag == 0.0 for noise in drawn if noise.measured == 0.0)


def test_in_the_shifted_setting_golfers_have_other_proportions():
    usual, shifted = (
        random_golfer(np.random.default_rng(2)),
        random_other_golfer(np.random.default_rng(2)),
    )
    assert usual.stature == shifted.stature
    assert usual.body.forearm != shifted.body.forearm


def _clips_drawn() -> list[tuple[str, bytes]]:
    clips = [_clips(1, n)[0] for n in range(4)]
    footage = [random_footage(np.random.default_rng(n)) for n in range(40)]
    return [
        *((c.footage.layout, c.recording.points.tobytes()) for c in clips),
        *((f.layout, b"") for f in footage),
    ]


def test_a_layout_added_to_the_service_changes_no_clip(monkeypatch):
    before = _clips_drawn()
    known = dict(layouts.LAYOUTS)
    toy = layouts.Layout(
        name="toy", title="Toy", joints=("left_wrist", "right_wrist"), source="made up"
    )
    monkeypatch.setattr(layouts, "LAYOUTS", {"toy": toy, **known})
    assert _clips_drawn() == before
    assert {layout for layout, _ in before} == set(draws.LAYOUTS) == set(known)
