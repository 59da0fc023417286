from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from service.analysis.faults import MEASURES
from service.analysis.judging.features import (
    FEATURE_NAMES,
    JUDGED,
    feature_vector,
    fingerprint,
)
from service.analysis.measured import measure_swing
from service.analysis.pose.points import ANATOMICAL, swap_sides
from service.analysis.types import Handedness, View
from tests.swings import CLUB, FEET, clip, without

NAMES = np.array(FEATURE_NAMES)


def features(recording):
    return feature_vector(measure_swing(recording))


def test_names_are_unique_and_as_many_as_the_features():
    vector = features(clip(View.FACE_ON)[1])
    assert len(set(FEATURE_NAMES)) == len(FEATURE_NAMES) == vector.size
    assert vector.dtype == np.float32


def test_the_shape_is_looked_at_of_the_judged_measures_and_of_no_others():
    assert {m.name for m in MEASURES if m.shaped} == {m.name for m in JUDGED}


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


def test_a_joint_that_drifts_shows_in_the_lengths_it_ends():
    _, recording = clip(View.FACE_ON)
    points = recording.points.copy()
    wave = 40.0 * np.sin(2.0 * np.pi * recording.times / 0.6)
    points[:, ANATOMICAL.index("left_knee"), 0] += wave
    drifting = dataclasses.replace(recording, points=points)
    before, after = (dict(zip(NAMES, features(r), strict=True)) for r in (recording, drifting))
    for length in ("length.lead_hip.lead_knee", "length.lead_knee.lead_ankle"):
        assert after[length] > 1.5 * before[length]
    other = "length.trail_knee.trail_ankle"
    assert after[other] == pytest.approx(before[other], rel=0.1)


def test_a_foot_that_is_put_elsewhere_slides():
    _, recording = clip(View.FACE_ON)
    points = recording.points.copy()
    points[: len(points) // 2, ANATOMICAL.index("right_ankle"), 0] -= 60.0
    moved = dict(zip(NAMES, features(dataclasses.replace(recording, points=points)), strict=True))
    still = dict(zip(NAMES, features(recording), strict=True))
    assert moved["slide.trail_ankle.x"] > 3.0 * still["slide.trail_ankle.x"]


def test_a_signal_is_largest_somewhere_in_its_window():
    seen = dict(zip(NAMES, features(clip(View.FACE_ON)[1]), strict=True))
    places = [v for name, v in seen.items() if name.startswith("peak.") and not np.isnan(v)]
    assert places
    assert all(0.0 <= place <= 1.0 for place in places)


def test_a_signal_below_zero_is_largest_where_it_is_least_negative():
    swing = measure_swing(clip(View.FACE_ON)[1])
    measure = next(m for m in JUDGED if m.name == "elbow_gap_growth")
    gap = swing.values[measure.name].signal[measure.window]
    assert gap.max() < 0.0
    place = dict(zip(NAMES, feature_vector(swing), strict=True))["peak.elbow_gap_growth"]
    assert place == pytest.approx(gap.argmax() / (len(gap) - 1))


def test_a_wrist_that_is_put_elsewhere_at_impact_stretches_its_arm_there():
    _, recording = clip(View.FACE_ON)
    impact = measure_swing(recording).positions[6].time
    points = recording.points.copy()
    late = np.abs(recording.times - impact) < 0.05
    points[late, ANATOMICAL.index("left_wrist"), 1] += 40.0
    lower = dict(zip(NAMES, features(dataclasses.replace(recording, points=points)), strict=True))
    right = dict(zip(NAMES, features(recording), strict=True))
    for end in ("lead_elbow", "lead_shoulder"):
        name = f"stretch.{end}.lead_wrist.p7"
        assert lower[name] > right[name] + 0.02
    assert lower["wrists.y.p7"] < right["wrists.y.p7"] - 0.02
    other = "stretch.trail_elbow.trail_wrist.p7"
    assert lower[other] == pytest.approx(right[other], abs=0.01)


def test_hands_that_creep_at_the_top_are_slow_about_it():
    _, recording = clip(View.FACE_ON)
    top = measure_swing(recording).positions[3].time
    waiting = np.where(recording.times > top, recording.times + 0.2, recording.times)
    paused = dict(zip(NAMES, features(dataclasses.replace(recording, times=waiting)), strict=True))
    usual = dict(zip(NAMES, features(recording), strict=True))
    about = ("pace.before_p4", "pace.after_p4")
    assert sum(paused[name] for name in about) > sum(usual[name] for name in about)
