"""The network that places positions is learnt from several makes of golfers."""

import json
from dataclasses import replace
from functools import partial

import jax
import numpy as np
import pytest

from service.analysis.events.positions.network import SPREAD
from service.analysis.events.positions.strip_clock import N_MOMENTS
from service.analysis.onnx_session import open_session
from service.analysis.types import View
from tests.taking_turns import made_once
from training.data.augmented.other_clocks import reclocked
from training.data.augmented.restless import restless
from training.data.augmented.spoilt import spoilt
from training.data.sources import clips_of
from training.models.fit_positions import model_of
from training.models.left_out import learnt_without
from training.models.positions.network import chances, first_weights, fit_distilled
from training.models.positions.swings import MAKES, training_set
from training.models.positions.to_onnx import to_onnx

ROWS = np.arange(8)
"""Of sixteen examples, those that are learnt from."""
UNTOLD = {view.value: [[1.0, 0.03, 0.5]] * 10 for view in View}


@pytest.fixture(scope="module", autouse=True)
def _compiled_without_much_ado():
    """What runs for a second takes ten to be compiled well."""
    jax.config.update("jax_disable_most_optimizations", True)
    yield
    jax.config.update("jax_disable_most_optimizations", False)


@pytest.fixture(scope="module")
def training():
    return made_once("strips", lambda: training_set(1, seed=3))


def test_every_make_is_learnt_from_by_its_own_clock_and_by_others(training):
    assert set(training.make) == set(MAKES)
    assert training.own.any()
    assert not training.own.all()
    assert np.isfinite(training.examples.signals).all()


def test_the_model_tells_what_the_network_tells_it_was_made_from(training):
    weights = {name: np.asarray(value) for name, value in first_weights(2).items()}
    some = training.examples.rows(slice(0, 3))
    session = open_session(model_of(weights, UNTOLD))
    signals = some.signals.astype(np.float32)
    (told,) = session.run(None, {"signals": signals, "about": some.about})
    assert told == pytest.approx(chances(weights, some), abs=2e-5)
    assert json.loads(session.get_modelmeta().custom_metadata_map[SPREAD]) == UNTOLD


@pytest.fixture(scope="module")
def some(training):
    return training.examples.rows(slice(0, 16))


@pytest.fixture(scope="module")
def fitted(some):
    return made_once("fit to strips", lambda: fit_distilled(some, rounds=20, rows=ROWS))


def test_fitting_brings_the_chances_to_where_positions_are(some, fitted):
    kept = some.rows(ROWS)

    def chance_near(weights):
        off = kept.clock[:, None] - kept.truth[:, :, None]
        return float((chances(weights, kept) * (np.abs(off) <= 0.1)).sum(axis=2).mean())

    before = chance_near({k: np.asarray(v) for k, v in first_weights(1).items()})
    assert chance_near(fitted) > 1.5 * before


def test_rows_left_out_teach_nothing(some, fitted):
    others_blank = some.signals.copy()
    others_blank[len(ROWS) :] = 0.0
    again = fit_distilled(replace(some, signals=others_blank), rounds=20, rows=ROWS)
    assert all(np.array_equal(again[name], fitted[name]) for name in fitted)


@pytest.mark.parametrize("make", MAKES)
def test_there_is_a_network_without_each_make(make):
    session = open_session(learnt_without(make).read_bytes())
    assert session.get_outputs()[0].shape[1:] == [10, N_MOMENTS]


def test_weights_are_written_in_half_precision():
    weights = {name: np.asarray(value) for name, value in first_weights(1).items()}
    size = sum(value.size for value in weights.values())
    assert len(to_onnx(weights, {})) < 2.2 * size


def test_by_another_clock_a_body_is_in_the_same_places():
    rng = np.random.default_rng(4)
    own = next(clips_of("keyed", "train", 3, 0)).motion
    other = next(clips_of("keyed", "train", 3, 0, partial(reclocked, rng=rng))).motion
    assert np.abs(other.position_times - own.position_times).max() > 0.01
    there = own.canonical_joints(own.position_times)
    assert other.canonical_joints(other.position_times) == pytest.approx(there, abs=0.01)


def test_a_restless_player_passes_the_same_positions_and_starts_and_stops_otherwise():
    own = next(clips_of("keyed", "train", 3, 0)).motion
    others = [restless(own, np.random.default_rng(seed)) for seed in range(6)]
    parts = np.array([np.diff(other.position_times) for other in others])
    assert (parts > 0.0).all()
    between = np.diff(own.position_times)
    assert np.abs(parts - between)[:, 2:6].max() < 0.02
    assert np.abs(parts - between)[:, [0, 8]].max() > 0.02


def test_a_spoilt_clip_keeps_its_frames():
    recording = next(clips_of("keyed", "train", 3, 0)).recording
    changed = [spoilt(recording, np.random.default_rng(seed)) for seed in range(8)]
    assert all(each.points.shape == recording.points.shape for each in changed)
    assert any(not np.array_equal(c.points, recording.points, equal_nan=True) for c in changed)
