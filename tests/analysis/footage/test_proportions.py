"""A squeezed picture is told by the body's proportions, and nothing is judged by it."""

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.footage.picture.proportions import log_extents, squeeze
from service.analysis.pose.points import swap_sides
from service.analysis.types import Status, View
from tests.swings import random_clip


def squeezed(recording, factor):
    return dataclasses.replace(recording, points=recording.points * np.array([factor, 1.0]))


def remarks(result):
    return {remark.code: remark for remark in result.quality.remarks}


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("factor", [9 / 16, 16 / 9, 0.45, 2.2])
def test_by_a_picture_of_another_shape_nothing_is_judged(view, factor):
    told = 0
    for seed in range(6):
        _, recording = random_clip(seed, view, fps=60.0)
        result = analyse(squeezed(recording, factor))
        assert result.swing_found
        remark = remarks(result).get("picture_squeezed")
        told += remark is not None
        if remark is not None:
            assert ("narrow" if factor < 1.0 else "wide") in remark.text
            assert {f.status for f in result.findings} == {Status.NOT_ASSESSABLE}
            assert "picture_squeezed" in {f.reason.code for f in result.findings}
    assert told >= 5


@pytest.mark.parametrize("view", list(View))
def test_a_picture_at_its_true_proportions_is_not_called_squeezed(view):
    for seed in range(12):
        _, recording = random_clip(seed, view, fps=60.0)
        assert "picture_squeezed" not in remarks(analyse(recording))


def test_every_extent_changes_with_the_factor():
    _, recording = random_clip(1, View.FACE_ON, fps=60.0)
    before, after = log_extents([squeezed(recording, factor).points for factor in (1.0, 0.5)])
    np.testing.assert_allclose(after - before, np.log(0.5))


def test_sides_unit_and_mirror_make_no_difference():
    _, recording = random_clip(1, View.DOWN_THE_LINE, fps=60.0)
    points = squeezed(recording, 0.4).points
    (factor,) = squeeze([points], [True])
    assert factor == pytest.approx(0.4, abs=0.1)
    for same in (3.0 * points + 100.0, swap_sides(points), points * np.array([-1.0, 1.0])):
        assert squeeze([same], [True]) == [pytest.approx(factor, rel=1e-3)]


def test_of_a_body_hardly_seen_nothing_is_said():
    _, recording = random_clip(1, View.FACE_ON, fps=60.0)
    points = squeezed(recording, 0.4).points.copy()
    points[:, ::2] = np.nan
    assert squeeze([points], [True]) == [None]
    assert squeeze([np.full_like(points, np.nan)], [True]) == [None]


def test_a_swing_not_seen_past_impact_must_be_further_off_to_be_called_squeezed():
    _, recording = random_clip(1, View.DOWN_THE_LINE, fps=60.0)
    for factor, told in ((9 / 16, False), (0.35, True)):
        points = squeezed(recording, factor).points
        whole, to_impact = squeeze([points, points], [True, False])
        assert whole == pytest.approx(factor, abs=0.1)
        assert (to_impact is not None) == told


def test_whether_a_clip_goes_on_past_impact_is_told_by_its_positions():
    _, recording = random_clip(1, View.DOWN_THE_LINE, fps=60.0)
    whole = squeezed(recording, 9 / 16)
    found = analyse(whole)
    impact = next(p.frame for p in found.positions if p.number == 7)
    kept = slice(round(impact) + 5)
    cut = dataclasses.replace(
        whole,
        points=whole.points[kept],
        confidence=whole.confidence[kept],
        times=whole.times[kept],
    )
    ended = analyse(cut)
    assert [p.number for p in ended.positions if p.frame is not None][-1] == 7
    assert "picture_squeezed" in remarks(found)
    assert "picture_squeezed" not in remarks(ended)
