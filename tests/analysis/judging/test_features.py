from __future__ import annotations

import dataclasses

import numpy as np

from service.analysis.judging.features import (
    FEATURE_NAMES,
    feature_vector,
    fingerprint,
)
from service.analysis.measured import measure_swing
from service.analysis.pose.points import swap_sides
from service.analysis.types import Handedness, View
from tests.swings import CLUB, FEET, clip, without

NAMES = np.array(FEATURE_NAMES)


def features(recording):
    return feature_vector(measure_swing(recording))


def test_names_are_unique_and_as_many_as_the_features():
    vector = features(clip(View.FACE_ON)[1])
    assert len(set(FEATURE_NAMES)) == len(FEATURE_NAMES) == vector.size
    assert vector.dtype == np.float32


def test_the_fingerprint_is_short_and_steady():
    assert fingerprint(("clip.rehearsal", "position.4.time")) == "66d639795bae"


def test_a_fingerprint_covers_the_names_and_their_order():
    assert fingerprint(("a", "b")) != fingerprint(("b", "a")) != fingerprint(("a",))


def test_what_is_missing_is_nan_and_flagged():
    _, recording = clip(View.FACE_ON)
    vector = features(without(recording, (*CLUB, *FEET)))
    seen = dict(zip(NAMES, vector, strict=True))
    assert seen["clip.seen.clubhead"] == seen["clip.seen.trail_heel"] == 0.0
    assert np.isnan(seen["shape.clubhead_ahead_of_hands.p7.0"])
    assert np.isnan(seen["measure.trail_heel_height.value"])
    assert seen["clip.seen.nose"] == 1.0


def test_a_left_hander_has_the_features_of_the_mirror_image():
    _, recording = clip(View.FACE_ON)
    mirrored = dataclasses.replace(
        recording,
        points=swap_sides(recording.points) * np.array([-1.0, 1.0]),
        confidence=swap_sides(recording.confidence),
        handedness=Handedness.LEFT,
    )
    right = dataclasses.replace(recording, handedness=Handedness.RIGHT)
    np.testing.assert_allclose(features(mirrored), features(right), atol=2e-3)


def test_size_and_place_in_the_picture_do_not_matter():
    _, recording = clip(View.DOWN_THE_LINE)
    moved = dataclasses.replace(recording, points=0.5 * recording.points + 300.0)
    np.testing.assert_allclose(features(moved), features(recording), atol=2e-3)
