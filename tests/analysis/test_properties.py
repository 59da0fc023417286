"""What must not change the answer: the side, the scale, the place, the rate, the order."""

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.pose.layouts import LAYOUTS, to_points
from service.analysis.pose.points import ANATOMICAL, swap_sides
from service.analysis.types import Handedness, SwingRecording, View
from tests.swings import clip, frames, random_clip, same_verdicts
from training.simulator import FaultAmounts, Golfer

CASES = [
    (view, amounts)
    for view in View
    for amounts in (
        FaultAmounts(),
        FaultAmounts(arms_lift_at_top=1.2, shaft_steep_at_top=1.2),
        FaultAmounts(trail_heel_kick=1.2, handle_rise=1.2, trail_knee_drive=1.2),
        FaultAmounts(upper_body_drift=1.2, trail_shoulder_drop=1.2, lead_wrist_cup=1.2),
    )
]
FRAME = 1.0
"""Frames by which a position may move."""


def same(first, second, shift=0.0, stretch=1.0):
    """Same findings, and the positions of the second where those of the first map to: within a
    frame, or a quarter of the uncertainty stated where that is more."""
    assert first.swing_found
    assert second.swing_found
    moved = np.abs(frames(second) - (stretch * frames(first) + shift))
    np.testing.assert_array_equal(np.isnan(frames(first)), np.isnan(frames(second)))
    rate = 1.0 / np.median(np.diff(second.times))
    stated = np.array([np.nan if p.time is None else p.uncertainty for p in second.positions])
    allowed = np.fmax(FRAME * stretch, 0.25 * stated * rate)
    return same_verdicts(first, second) and not (moved > allowed).any()


def mirrored(recording: SwingRecording, width: float = 1080.0) -> SwingRecording:
    points = swap_sides(recording.points)
    points[..., 0] = width - points[..., 0]
    return dataclasses.replace(
        recording, points=points, confidence=swap_sides(recording.confidence)
    )


@pytest.mark.parametrize(("view", "amounts"), CASES)
def test_a_mirrored_picture_gets_the_same_findings_as_a_left_handers(view, amounts):
    _, recording = clip(view, amounts=amounts)
    plain, other = analyse(recording), analyse(mirrored(recording))
    assert same(plain, other)
    assert {plain.handedness.value, other.handedness.value} == set(Handedness)
    for a, b in zip(plain.findings, other.findings, strict=True):
        # The network reads in single precision: positions differ by 1e-7 s.
        assert a.score == pytest.approx(b.score, abs=1e-5)


@pytest.mark.parametrize(("view", "amounts"), CASES)
def test_a_left_handed_swing_gets_what_a_right_handed_one_gets(view, amounts):
    _, right = clip(view, amounts=amounts)
    _, left = clip(view, amounts=amounts, golfer=Golfer(handedness=Handedness.LEFT))
    assert same(analyse(right), analyse(left))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("view", list(View))
def test_noise_and_all_a_mirrored_clip_gets_the_same_findings(view, seed):
    _, recording = random_clip(seed, view)
    assert same(analyse(recording), analyse(mirrored(recording)))


@pytest.mark.parametrize(("view", "amounts"), CASES)
@pytest.mark.parametrize(("scale", "shift"), [(0.01, 0.0), (3.7, 250.0), (1.0, -900.0)])
def test_scale_and_place_of_the_player_do_not_matter(view, amounts, scale, shift):
    _, recording = clip(view, amounts=amounts)
    other = dataclasses.replace(recording, points=recording.points * scale + shift)
    assert same(analyse(recording), analyse(other))


@pytest.mark.parametrize(("view", "amounts"), CASES)
def test_idle_frames_before_and_after_do_not_matter(view, amounts):
    _, recording = clip(view, amounts=amounts)
    before, after = 90, 60
    step = float(np.diff(recording.times).mean())
    order = np.r_[np.zeros(before, int), np.arange(len(recording.times)), np.full(after, -1)]
    idle = dataclasses.replace(
        recording,
        points=recording.points[order],
        confidence=recording.confidence[order],
        times=np.arange(len(order)) * step,
    )
    assert same(analyse(recording), analyse(idle), shift=before)


@pytest.mark.parametrize(("view", "amounts"), CASES)
def test_twice_the_frame_rate_gives_the_same_findings(view, amounts):
    _, slow = clip(view, amounts=amounts, fps=120.0)
    _, fast = clip(view, amounts=amounts, fps=240.0)
    assert same(analyse(slow), analyse(fast), stretch=2.0)


@pytest.mark.parametrize("view", list(View))
def test_the_order_of_the_joints_does_not_matter(view):
    _, recording = clip(view, amounts=FaultAmounts(handle_rise=1.2))
    order = np.random.default_rng(3).permutation(len(ANATOMICAL))
    joints = [ANATOMICAL[k] for k in order]
    points, confidence = to_points(
        recording.points[:, order], recording.confidence[:, order], joints
    )
    shuffled = dataclasses.replace(recording, points=points, confidence=confidence)
    assert same(analyse(recording), analyse(shuffled))


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
def test_every_layout_finds_the_same_positions(layout):
    _, recording = clip(View.FACE_ON)
    kept = [ANATOMICAL.index(joint) for joint in LAYOUTS[layout].joints if joint]
    lost = np.setdiff1d(np.arange(len(ANATOMICAL)), kept)
    points, confidence = recording.points.copy(), recording.confidence.copy()
    points[:, lost], confidence[:, lost] = np.nan, 0.0
    thinned = dataclasses.replace(recording, points=points, confidence=confidence)
    whole, part = frames(analyse(recording)), frames(analyse(thinned))
    by_arms = [2, 3, 4, 8]
    assert np.abs(whole - part)[by_arms].max() <= FRAME


def test_the_same_clip_gets_the_same_answer_twice():
    _, recording = random_clip(11, View.DOWN_THE_LINE)
    first, second = analyse(recording), analyse(recording)
    assert first.findings == second.findings
    assert first.measures == second.measures
