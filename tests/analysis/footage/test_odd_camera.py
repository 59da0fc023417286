"""A camera that moves, zooms, leans or cuts out is told, and what it hides is not judged."""

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import Point
from service.analysis.pose.stature import body_height
from service.analysis.types import Status, View
from tests.analysis.footage.odd import codes, filmed, not_judged, told
from tests.swings import clip, finding


@pytest.mark.parametrize("view", list(View))
def test_what_travels_over_the_ground_is_not_judged_where_the_camera_is_turned(plain, view):
    recording = filmed(view)
    gone = np.linspace(0.0, 1.0, len(recording.times))[:, None, None]
    pan = 0.4 * body_height(recording.points) * gone * np.array([1.0, 0.1])
    result = analyse(dataclasses.replace(recording, points=recording.points + pan))
    assert "camera_moves" in codes(result)
    assert "camera_moves" not in codes(plain[view])
    hidden = {name for name, code in not_judged(result).items() if code == "camera_moves"}
    assert hidden == {
        name
        for name, fault in CATALOGUE.items()
        if "camera_moves" in fault.unless and view in fault.views
    }


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("grown", [1.2, 1 / 1.2])
def test_a_camera_that_zooms_in_the_swing_is_told(view, grown):
    motion, recording = clip(view, fps=60.0)
    start, impact = motion.position_times[[0, 6]]
    gone = np.interp(recording.times, [start, impact], [0.0, 1.0])[:, None, None]
    middle = np.nanmedian(recording.points, axis=(0, 1))
    zoomed = middle + (recording.points - middle) * grown**gone
    result = analyse(dataclasses.replace(recording, points=zoomed))
    assert "camera_moves" in codes(result)
    assert not_judged(result)["handle_rise"] == "camera_moves"


@pytest.mark.parametrize("view", list(View))
def test_what_travels_is_not_judged_in_coordinates_counted_from_the_hips(plain, view):
    recording = filmed(view)
    hips = recording.points[:, [Point.LEAD_HIP, Point.TRAIL_HIP]].mean(axis=1, keepdims=True)
    result = analyse(dataclasses.replace(recording, points=recording.points - hips))
    assert "hips lie at one place" in told(result, "camera_moves").text
    assert "camera_moves" not in codes(plain[view])
    assert not_judged(result)["handle_rise"] == "camera_moves"


@pytest.mark.parametrize(
    ("view", "scaled"),
    [(View.FACE_ON, True), (View.DOWN_THE_LINE, True), (View.DOWN_THE_LINE, False)],
)
def test_by_places_in_a_piece_cut_out_about_the_player_nothing_is_judged(plain, view, scaled):
    recording = filmed(view)
    body = recording.points[:, : Point.GRIP_END]
    least, largest = (np.expand_dims(edge(body, axis=1), 1) for edge in (np.nanmin, np.nanmax))
    size = (largest - least).max(axis=2, keepdims=True)
    middle = 0.5 * (least + largest)
    cut_out = (recording.points - middle) / size if scaled else recording.points - least
    result = analyse(dataclasses.replace(recording, points=cut_out))
    assert "cut_out_coordinates" in codes(result)
    assert "cut_out_coordinates" not in codes(plain[view])
    assert {f.status for f in result.findings} == {Status.NOT_ASSESSABLE}
    assert "cut_out_coordinates" in not_judged(result).values()


@pytest.mark.parametrize("view", list(View))
def test_a_picture_that_moves_and_comes_back_before_impact_is_told(plain, view):
    motion, recording = clip(view, fps=60.0)
    start, _, level, top, _, _, impact, *_ = motion.position_times
    away = np.interp(recording.times, [start, level, top, impact], [0.0, 1.0, 1.0, 0.0])
    way = 0.06 * body_height(recording.points) * away[:, None, None] * np.array([1.0, 0.0])
    result = analyse(dataclasses.replace(recording, points=recording.points + way))
    assert "Both feet move" in told(result, "camera_moves").text
    assert "camera_moves" not in codes(plain[view])


def test_where_the_hips_are_over_the_feet_is_not_judged_in_a_picture_that_leans(plain):
    recording = filmed(View.FACE_ON)
    turn = np.radians(10.0)
    rolled = recording.points @ np.array(
        [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
    )
    result = analyse(dataclasses.replace(recording, points=rolled))
    assert "camera_leans" in codes(result)
    assert not_judged(result)["hips_past_lead_foot"] == "camera_leans"
    assert finding(plain[View.FACE_ON], "hips_past_lead_foot").status is Status.ABSENT


@pytest.mark.parametrize("view", list(View))
def test_a_finish_that_is_held_for_long_is_no_squeezed_picture(plain, view):
    recording = filmed(view)
    shown = [*range(len(recording.times)), *[len(recording.times) - 1] * 1200]
    held = dataclasses.replace(
        recording,
        points=recording.points[shown],
        confidence=recording.confidence[shown],
        times=np.arange(len(shown)) / 60.0,
    )
    assert "picture_squeezed" not in codes(analyse(held))
