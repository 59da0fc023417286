import dataclasses

import numpy as np

from service.analysis.analyse import analyse
from service.analysis.pose.points import Point
from service.analysis.types import View
from tests.swings import CLUB, FEET, clip, without
from training.simulator import Camera, Golfer, film, swing_motion


def codes(recording):
    return {remark.code for remark in analyse(recording).quality.remarks}


def test_good_footage_gets_no_remark():
    for view in View:
        _, recording = clip(view, fps=240.0)
        assert codes(recording) == set()


def test_ordinary_video_is_too_slow_for_impact():
    _, recording = clip(fps=30.0)
    assert "low_frame_rate" in codes(recording)


def test_missing_feet_and_club_are_told():
    _, recording = clip(fps=240.0)
    assert codes(without(recording, FEET + CLUB)) == {"feet_not_seen", "club_not_seen"}


def test_a_rolled_camera_is_told_by_the_feet():
    _, recording = clip(fps=240.0)
    turn = np.radians(8.0)
    rolled = recording.points @ np.array(
        [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
    )
    assert "camera_tilted" in codes(dataclasses.replace(recording, points=rolled))


def test_a_camera_well_off_the_line_is_told():
    motion = swing_motion(Golfer())
    recording = film(motion, Camera.down_the_line(yaw=25.0), fps=240.0)
    assert "camera_off_line" in codes(recording)


def test_a_joint_lost_for_half_the_swing_is_named():
    _, recording = clip(fps=240.0)
    points = recording.points.copy()
    points[::2, Point.TRAIL_KNEE] = np.nan
    points[1::4, Point.TRAIL_KNEE] = np.nan
    remarks = analyse(dataclasses.replace(recording, points=points)).quality.remarks
    lost = next(r for r in remarks if r.code == "joints_lost")
    assert "trail knee" in lost.text
