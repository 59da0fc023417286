"""Joints that are exchanged, held, lost or another's are told, and nothing is judged by them."""

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.pose.points import Point, swap_sides
from service.analysis.pose.stature import body_height
from service.analysis.types import Status, View
from tests.analysis.footage.odd import codes, filmed, not_judged, told
from tests.swings import clip, cut, finding
from training.simulator import FaultAmounts

LEGS = [p for p in Point if any(n in p.name for n in ("KNEE", "ANKLE", "HEEL", "TOE"))]


@pytest.mark.parametrize("view", list(View))
def test_legs_whose_sides_are_exchanged_all_through_are_told_and_not_judged(plain, view):
    recording = filmed(view)
    points = recording.points.copy()
    points[:, LEGS] = swap_sides(points)[:, LEGS]
    result = analyse(dataclasses.replace(recording, points=points))
    assert "legs_exchanged" in codes(result)
    assert "legs_exchanged" not in codes(plain[view])
    fault = "trail_heel_kick" if view is View.FACE_ON else "trail_knee_drive"
    assert not_judged(result)[fault] == "legs_exchanged"
    assert finding(plain[view], fault).status is Status.ABSENT


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize(
    "pair",
    [
        (Point.LEAD_SHOULDER, Point.LEAD_ELBOW),
        (Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
        (Point.LEAD_KNEE, Point.LEAD_ANKLE),
    ],
)
def test_two_joints_exchanged_along_a_limb_are_told_and_nothing_is_judged(plain, view, pair):
    recording = filmed(view)
    points = recording.points.copy()
    points[:, pair] = points[:, pair[::-1]]
    result = analyse(dataclasses.replace(recording, points=points))
    assert not result.swing_found or "joints_out_of_order" in codes(result)
    assert {f.status for f in result.findings} <= {Status.NOT_ASSESSABLE}
    assert "joints_out_of_order" not in codes(plain[view])


@pytest.mark.parametrize(
    ("view", "pair"),
    [
        (View.FACE_ON, (Point.LEAD_KNEE, Point.LEAD_ANKLE)),
        (View.DOWN_THE_LINE, (Point.TRAIL_HIP, Point.TRAIL_KNEE)),
        (View.FACE_ON, (Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW)),
    ],
)
def test_joints_exchanged_are_told_in_a_clip_that_begins_at_the_top_too(view, pair):
    motion, recording = clip(view, fps=60.0)
    late = cut(recording, motion.position_times[3] - 0.02, recording.times[-1])
    points = late.points.copy()
    points[:, pair] = points[:, pair[::-1]]
    result = analyse(dataclasses.replace(late, points=points))
    assert {"clip_starts_late", "joints_out_of_order"} <= codes(result)
    assert {f.status for f in result.findings} == {Status.NOT_ASSESSABLE}
    plain = codes(analyse(late))
    assert "clip_starts_late" in plain
    assert "joints_out_of_order" not in plain


@pytest.mark.parametrize("view", list(View))
def test_of_a_player_who_sits_the_tempo_alone_is_judged(plain, view):
    recording = filmed(view)
    points = recording.points.copy()
    thigh = np.median(points[:, Point.LEAD_KNEE, 1] - points[:, Point.LEAD_HIP, 1])
    points[:, [p for p in Point if p not in LEGS], 1] += 0.9 * thigh
    result = analyse(dataclasses.replace(recording, points=points))
    assert result.swing_found
    assert "player_sits" in codes(result)
    assert "player_sits" not in codes(plain[view])
    judged = {f.fault for f in result.findings if f.status is not Status.NOT_ASSESSABLE}
    assert judged == {"hurried_transition"}


@pytest.mark.parametrize("view", list(View))
def test_hands_that_an_estimator_holds_where_it_lost_them_do_not_move_the_top(plain, view):
    recording = filmed(view)
    top = round(plain[view].positions[3].frame)
    points = recording.points.copy()
    arms = [
        p for p in Point if any(n in p.name for n in ("WRIST", "HAND", "GRIP", "CLUB", "SHAFT"))
    ]
    points[top : top + 12, arms] = points[top, arms]
    result = analyse(dataclasses.replace(recording, points=points))
    assert "hands_held" in codes(result)
    assert "hands_held" not in codes(plain[view])
    assert result.positions[3].time == pytest.approx(plain[view].positions[3].time, abs=0.034)
    assert {f.fault for f in result.findings if f.status is Status.PRESENT} == set()


def test_frames_in_which_somebody_else_is_followed_are_left_out(plain):
    recording = filmed(View.FACE_ON)
    top = round(plain[View.FACE_ON].positions[3].frame)
    points = recording.points.copy()
    elsewhere = 0.8 * body_height(points) * np.array([1.0, 0.0])
    points[top - 2 : top + 2] = points[0] + elsewhere
    result = analyse(dataclasses.replace(recording, points=points))
    assert "player_left" in codes(result)
    assert result.positions[3].time == pytest.approx(
        plain[View.FACE_ON].positions[3].time, abs=0.05
    )
    assert {f.fault for f in result.findings if f.status is Status.PRESENT} == set()


def stuck(recording, first, *points):
    """The clip with some points shown from a frame on where they are in it."""
    places = recording.points.copy()
    places[first:, points] = places[first, points]
    return dataclasses.replace(recording, points=places)


def test_a_knee_that_stays_in_its_very_place_is_not_called_still():
    _, recording = clip(View.DOWN_THE_LINE, amounts=FaultAmounts(trail_knee_drive=1.0), fps=60.0)
    result = analyse(stuck(recording, 0, Point.TRAIL_KNEE, Point.TRAIL_ANKLE))
    assert finding(analyse(recording), "trail_knee_drive").status is Status.PRESENT
    assert finding(result, "trail_knee_drive").status is Status.NOT_ASSESSABLE
    assert "trail knee" in told(result, "joints_missing").text


def test_a_wrist_that_stays_behind_after_impact_is_not_called_cupped(plain):
    recording = filmed(View.FACE_ON)
    impact = round(plain[View.FACE_ON].positions[6].frame)
    result = analyse(stuck(recording, impact + 1, Point.LEAD_WRIST))
    assert finding(plain[View.FACE_ON], "lead_wrist_cup").status is Status.ABSENT
    assert finding(result, "lead_wrist_cup").status is Status.NOT_ASSESSABLE


def test_a_wrist_that_is_somebody_elses_is_not_called_cupped(plain):
    recording = filmed(View.FACE_ON)
    first, last = (round(plain[View.FACE_ON].positions[k].frame) for k in (4, 8))
    points = recording.points.copy()
    beside = points[0].mean(axis=0) + body_height(points) * np.array([0.3, 0.0])
    points[first:last, Point.LEAD_WRIST] = beside
    points[first:last, Point.LEAD_WRIST, 0] += np.arange(last - first) % 3
    result = analyse(dataclasses.replace(recording, points=points))
    assert finding(plain[View.FACE_ON], "lead_wrist_cup").status is Status.ABSENT
    assert finding(result, "lead_wrist_cup").status is Status.NOT_ASSESSABLE


@pytest.mark.parametrize("view", list(View))
def test_arms_put_between_two_places_over_the_top_do_not_hide_that_they_lift(view):
    _, recording = clip(view, amounts=FaultAmounts(arms_lift_at_top=1.0), fps=60.0)
    seen = analyse(recording)
    first, last = (round(seen.positions[k].frame) for k in (2, 4))
    share = np.linspace(0.0, 1.0, last - first + 1)[:, None, None]
    points = recording.points.copy()
    arms = [p for p in Point if any(n in p.name for n in ("ELBOW", "WRIST", "HAND"))]
    ends = points[[first, last]][:, arms]
    points[first : last + 1, arms] = ends[0] + share * (ends[1] - ends[0])
    result = analyse(dataclasses.replace(recording, points=points))
    assert finding(seen, "arms_lift_at_top").status is Status.PRESENT
    assert finding(result, "arms_lift_at_top").status is Status.NOT_ASSESSABLE


@pytest.mark.parametrize(
    ("joint", "code"), [("SHOULDER", "joints_out_of_order"), ("KNEE", "legs_exchanged")]
)
@pytest.mark.parametrize("view", list(View))
def test_a_pair_of_joints_exchanged_by_itself_is_told(plain, view, joint, code):
    recording = filmed(view)
    pair = [Point[f"LEAD_{joint}"], Point[f"TRAIL_{joint}"]]
    points = recording.points.copy()
    points[:, pair] = points[:, pair[::-1]]
    assert code in codes(analyse(dataclasses.replace(recording, points=points)))
    assert code not in codes(plain[view])
