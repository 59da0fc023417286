from __future__ import annotations

import numpy as np
import pytest

from service.analysis.pose.keypoint_error import confidence_of, sure_error
from service.analysis.pose.points import Point
from service.analysis.pose.stature import body_height
from service.analysis.types import SwingRecording, View
from service.film.club.club_path import LONGEST_GAP, clubhead_track, grip_track
from training.simulator import film, random_camera, random_swing

TIMES = np.arange(40) / 100
ANGLE = np.linspace(0.0, 3.0, 40)
HANDS = np.column_stack([300 + 5 * np.arange(40), 200 + 2 * np.arange(40)]).astype(float)
HEAD = HANDS + 100 * np.column_stack([np.cos(ANGLE), np.sin(ANGLE)])


def _recordings(fps: float) -> list[SwingRecording]:
    """Swings other than those on which the numbers were set."""
    made = []
    for seed in range(100, 104):
        for view in View:
            rng = np.random.default_rng(seed)
            made.append(film(random_swing(rng), random_camera(rng, view), fps=fps))
    return made


@pytest.mark.parametrize(("fps", "every"), [(60, 2), (60, 3), (60, 5), (120, 4), (240, 8)])
def test_the_path_between_marks_of_a_swing_is_as_sure_as_it_claims(fps: int, every: int) -> None:
    rng = np.random.default_rng(1)
    beyond, share = [], []
    for recording in _recordings(fps):
        height = body_height(recording.points)
        hands = recording.points[:, [Point.LEAD_WRIST, Point.TRAIL_WRIST]].mean(axis=1)
        head = recording.points[:, Point.CLUBHEAD]
        tap = sure_error("clubhead") * height
        frames = np.arange(0, len(head), every)
        marks = head[frames] + rng.normal(0.0, tap, (len(frames), 2))
        track = clubhead_track(frames, marks, hands, recording.times, tap)
        told = np.isfinite(confidence_of("clubhead", track.error / height))
        told[frames] = False
        off = np.abs(track.points - head)[told] / track.error[told, None]
        beyond.append(off > 2.0)
        share.append(told.sum() / (len(head) - len(frames)))
    assert np.concatenate(beyond).mean() < 0.05
    assert np.mean(share) > {2: 0.85, 3: 0.75, 5: 0.55}.get(every, 0.75)


def test_a_club_that_turns_evenly_about_the_hands_is_found_again_between_marks() -> None:
    frames = np.arange(0, 40, 3)
    track = clubhead_track(frames, HEAD[frames], HANDS, TIMES, 1.0)
    assert np.allclose(track.points, HEAD, atol=0.5)
    assert np.array_equal(track.points[frames], HEAD[frames])


def test_a_left_out_mark_beyond_the_last_is_never_guessed() -> None:
    frames = np.array([10, 12, 14])
    track = clubhead_track(frames, HEAD[frames], HANDS, TIMES, 1.0)
    assert np.flatnonzero(np.isfinite(track.points[:, 0])).tolist() == [10, 11, 12, 13, 14]
    assert np.array_equal(np.isfinite(track.error), np.isfinite(track.points[:, 0]))


def test_the_error_grows_away_from_the_marks_and_with_the_gap() -> None:
    near, far = np.array([10, 14]), np.array([10, 18])
    short, long = (clubhead_track(f, HEAD[f], HANDS, TIMES, 1.0).error for f in (near, far))
    assert short[10] == long[10] == 1.0
    assert 1.0 < short[11] < short[12]
    assert long[14] > 2 * short[12]


def test_marks_far_apart_in_time_are_not_joined() -> None:
    last = 10 + int(LONGEST_GAP * 100) + 1
    frames = np.array([10, last])
    still = np.repeat(HANDS[:1], 40, axis=0)
    track = clubhead_track(frames, still[frames] + [50.0, 0.0], still, TIMES, 1.0)
    assert np.flatnonzero(np.isfinite(track.error)).tolist() == [10, last]


def test_a_turn_that_could_go_either_way_leaves_a_gap_and_so_do_its_neighbours() -> None:
    angle = np.repeat([0.0, 0.2, 0.4, 2.2, 2.4, 2.6], 2)[:11]
    head = np.full((11, 2), 100.0) + 50 * np.column_stack([np.cos(angle), np.sin(angle)])
    hands = np.full((11, 2), 100.0)
    frames = np.arange(0, 11, 2)
    track = clubhead_track(frames, head[frames], hands, TIMES[:11], 1.0)
    assert np.flatnonzero(np.isnan(track.error)).tolist() == [3, 5, 7]


def test_without_hands_only_the_marks_are_known() -> None:
    hands = HANDS.copy()
    hands[10:] = np.nan
    frames = np.array([4, 8, 12, 16])
    track = clubhead_track(frames, HEAD[frames], hands, TIMES, 1.0)
    assert np.flatnonzero(np.isfinite(track.error)).tolist() == [4, 5, 6, 7, 8, 12, 16]


def test_a_single_mark_is_a_single_point() -> None:
    for track_of in (clubhead_track, grip_track):
        track = track_of(np.array([7]), HEAD[[7]], HANDS, TIMES, 1.0)
        assert np.flatnonzero(np.isfinite(track.error)).tolist() == [7]


def test_the_grip_keeps_its_place_in_the_hands() -> None:
    frames = np.arange(0, 40, 8)
    track = grip_track(frames, HANDS[frames] + [4.0, -3.0], HANDS, TIMES, 1.0)
    inside = slice(0, 33)
    assert np.allclose(track.points[inside], HANDS[inside] + [4.0, -3.0])
    assert np.isnan(track.points[33:]).all()
