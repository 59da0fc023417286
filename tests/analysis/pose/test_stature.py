"""How tall the player is, from whatever limbs are seen."""

from __future__ import annotations

import numpy as np
import pytest

from service.analysis.pose.points import ANATOMICAL, N_POINTS
from service.analysis.pose.stature import body_height, body_heights, statures
from service.analysis.types import FloatArray, View
from tests.analysis.pose.conditioning.made import clean, clock, sides
from tests.swings import clip


def upright_player() -> FloatArray:
    """One frame of a player 2 units tall with arms hanging, every segment in the picture."""
    heights = {
        "shoulder": 0.818,
        "elbow": 0.818 - 0.186,
        "wrist": 0.818 - 0.186 - 0.146,
        "hip": 0.530,
        "knee": 0.530 - 0.245,
        "ankle": 0.530 - 0.245 - 0.246,
    }
    points = np.full((1, N_POINTS, 2), np.nan)
    for joint, height in heights.items():
        points[0, ANATOMICAL.index(f"left_{joint}")] = 0.2, 2 * height
        points[0, ANATOMICAL.index(f"right_{joint}")] = -0.2, 2 * height
    return points


@pytest.mark.parametrize("missing", [(), ("ankle",), ("hip",), ("wrist", "knee"), ("shoulder",)])
def test_stature_follows_from_any_limb(missing: tuple[str, ...]) -> None:
    points = upright_player()
    for joint in missing:
        points[:, np.ravel(sides(joint))] = np.nan
    assert body_height(points) == pytest.approx(2.0)


def test_stature_survives_limbs_that_point_at_the_camera_for_a_while() -> None:
    points = upright_player().repeat(50, axis=0)
    points[:40, :, 1] *= 0.5
    assert body_height(points) == pytest.approx(2.0)


def test_no_limb_no_stature() -> None:
    assert np.isnan(body_height(np.full((5, N_POINTS, 2), np.nan)))
    assert np.isnan(body_height(np.full((0, N_POINTS, 2), np.nan)))


@pytest.mark.parametrize("jitter", [0.02, 0.04])
def test_noise_stretches_a_player_less_than_half_as_far_as_long_lengths_say(jitter: float) -> None:
    times = clock(60.0, 4.0)
    seen = upright_player().repeat(len(times), axis=0)
    seen += jitter * np.random.default_rng(3).standard_normal(seen.shape)
    (told,) = statures([clean(seen, times, 2.0).points], [9.0])
    assert abs(told - 2.0) < 0.5 * (body_height(seen) - 2.0)


@pytest.mark.parametrize("view", View)
def test_limbs_that_point_at_the_camera_for_a_while_make_no_player_small(view: View) -> None:
    _, recording = clip(view)
    (longest,) = body_heights([recording.points], 0.95)
    assert statures([recording.points], [np.nan]) == [pytest.approx(longest, rel=0.05)]


def test_where_no_limb_is_left_the_approximate_stature_stands() -> None:
    assert statures([np.full((5, N_POINTS, 2), np.nan)], [1.7]) == [1.7]
