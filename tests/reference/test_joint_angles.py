"""Our joint angles against those of biorbd, a library for biomechanics.

It reaches them by another road, the one taken with markers in a laboratory: a coordinate
system on each segment, the rotation from one to the other, and its Cardan angles. In a
plane the first of these, about z, is the signed angle between the segments.
(B. Michaud and M. Begon, biorbd, Journal of Open Source Software 6, 2562, 2021,
doi:10.21105/joss.02562.)
"""

import biorbd
import numpy as np
import pytest

from service.analysis.pose import geometry
from service.analysis.pose.points import ANATOMICAL

TOLERANCE = 0.1
N_RANDOM = 2000
JOINTS = [
    (f"{side}_{proximal}", f"{side}_{joint}", f"{side}_{distal}")
    for side in ("left", "right")
    for proximal, joint, distal in (
        ("hip", "knee", "ankle"),
        ("shoulder", "hip", "knee"),
        ("shoulder", "elbow", "wrist"),
    )
]


def _segment(start, end):
    """Coordinate system of a segment: x along it, z out of the plane."""
    origin = biorbd.NodeSegment(*start, 0.0)
    return biorbd.Rotation.fromMarkers(
        biorbd.PairBiorbdNodeSegment(origin, biorbd.NodeSegment(*end, 0.0)),
        biorbd.PairBiorbdNodeSegment(origin, biorbd.NodeSegment(*start, 1.0)),
        biorbd.PairBiorbdString(biorbd.String("x"), biorbd.String("z")),
        biorbd.String("z"),
    )


def _reference_turn(first, second):
    """Signed angle in degrees from one segment's coordinate system to another's."""
    between = first.transpose() * second
    return np.degrees(biorbd.Rotation.toEulerAngles(between, "zyx").to_array()[0])


def _reference_joint_turn(proximal, joint, distal):
    return np.array(
        [
            _reference_turn(_segment(middle, upper), _segment(middle, lower))
            for upper, middle, lower in zip(proximal, joint, distal, strict=True)
        ]
    )


def _difference(a, b):
    """Difference of two directions, so that 180 and -180 are the same."""
    return np.abs((a - b + 180.0) % 360.0 - 180.0)


@pytest.fixture(scope="module")
def random_triplets():
    return np.random.default_rng(20).normal(scale=100.0, size=(3, N_RANDOM, 2))


@pytest.fixture(scope="module", params=JOINTS, ids=lambda names: names[1])
def walking_triplet(request, walking):
    return [walking.points[:, ANATOMICAL.index(name)] * [1.0, -1.0] for name in request.param]


def _assert_joint_angles_agree(triplet):
    proximal, joint, distal = triplet
    signed = _reference_joint_turn(proximal, joint, distal)
    inner = geometry.joint_angle(proximal, joint, distal)
    flexion = geometry.flexion(proximal, joint, distal)
    turn = geometry.turn_between(proximal - joint, distal - joint)
    assert np.max(np.abs(inner - np.abs(signed))) < TOLERANCE
    assert np.max(np.abs(flexion - (180.0 - np.abs(signed)))) < TOLERANCE
    assert np.max(_difference(turn, signed)) < TOLERANCE


def test_joint_angles_of_random_points_agree_with_a_biomechanics_library(random_triplets):
    _assert_joint_angles_agree(random_triplets)


def test_joint_angles_of_a_walk_agree_with_a_biomechanics_library(walking_triplet):
    _assert_joint_angles_agree(walking_triplet)


def test_nearly_straight_limbs_agree_with_a_biomechanics_library(random_triplets):
    proximal, joint, nudge = random_triplets
    distal = joint - (proximal - joint) + 1e-3 * nudge
    _assert_joint_angles_agree([proximal, joint, distal])


def test_directions_of_random_segments_agree_with_a_biomechanics_library(random_triplets):
    start, end, _ = random_triplets
    level = _segment([0.0, 0.0], [1.0, 0.0])
    reference = [
        _reference_turn(level, _segment(*segment)) for segment in zip(start, end, strict=True)
    ]
    assert np.max(_difference(geometry.direction(start, end), reference)) < TOLERANCE


def test_the_walk_bends_its_knees_enough_to_be_a_test_of_angles(walking):
    hip, knee, ankle = (
        walking.points[:, ANATOMICAL.index(f"left_{joint}")] for joint in ("hip", "knee", "ankle")
    )
    flexion = geometry.flexion(hip, knee, ankle)
    assert flexion.min() < 10.0
    assert flexion.max() > 45.0
