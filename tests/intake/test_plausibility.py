"""Mistakes of unit and axis are refused with the fix, never answered silently."""

from __future__ import annotations

import json

import pytest

from service.intake.errors import InvalidRequest
from service.intake.recording import Limits, to_recording
from service.intake.request import read_request
from tests.intake.test_formats import COCO, HEIGHT, WIDTH, plain, scaled

FRAMES = plain(COCO)
NORMALISED = {"coordinates": "normalised", "image_size": {"width": WIDTH, "height": HEIGHT}}


def read(frames, **fields):
    body = {"keypoints": frames, "layout": "coco_17", "fps": 30.0, **fields}
    return to_recording(read_request(json.dumps(body).encode()), Limits(12, 5000))


def changed(change) -> list:
    return [[p and [*change(p[0], p[1]), p[2]] for p in f] for f in FRAMES]


@pytest.mark.parametrize(
    ("frames", "pointer", "hint"),
    [
        (scaled(FRAMES), "/coordinates", "normalised"),
        (changed(lambda x, y: (x, HEIGHT - y)), "/keypoints", "y growing down"),
        (changed(lambda x, y: (y, x)), "/keypoints", "x before y"),
        (changed(lambda x, y: (HEIGHT - y, x)), "/keypoints", "rotation"),
        (changed(lambda x, y: (y, WIDTH - x)), "/keypoints", "rotation"),
    ],
    ids=["fractions", "y up", "x and y exchanged", "on its side", "on its other side"],
)
def test_a_mistake_of_unit_or_axis_is_refused_with_the_fix(frames, pointer, hint):
    with pytest.raises(InvalidRequest) as refused:
        read(frames)
    (error,) = refused.value.errors
    assert error.pointer == pointer
    assert hint in error.fix


def test_fractions_a_little_outside_the_image_are_told_from_pixels():
    fractions = scaled(FRAMES)
    lower = 1.05 - max(p[1] for f in fractions for p in f if p)
    low = [[p and [p[0], p[1] + lower, *p[2:]] for p in f] for f in fractions]
    with pytest.raises(InvalidRequest) as refused:
        read(low)
    (error,) = refused.value.errors
    assert error.pointer == "/coordinates"


def test_percent_of_the_image_are_told_from_pixels():
    with pytest.raises(InvalidRequest) as refused:
        read([[p and [100 * p[0], 100 * p[1], *p[2:]] for p in f] for f in scaled(FRAMES)])
    (error,) = refused.value.errors
    assert error.pointer == "/keypoints"
    assert "percent" in error.problem
    assert "divide by 100" in error.fix


def test_an_upright_picture_in_pixels_passes():
    assert len(read(FRAMES).times) == len(FRAMES)


def test_declared_fractions_pass():
    assert len(read(scaled(FRAMES), **NORMALISED).times) == len(FRAMES)


def test_fractions_up_to_the_very_edge_are_told_from_pixels():
    frames = scaled(FRAMES)
    frames[0] = [[1.0, 1.0, 0.9], *frames[0][1:]]
    with pytest.raises(InvalidRequest, match="are fractions of the image"):
        read(frames)


def upside_down(every: int) -> list:
    """Every so manieth frame on its head."""
    turned = changed(lambda x, y: (x, HEIGHT - y))
    return [t if k % every == 0 else f for k, (f, t) in enumerate(zip(FRAMES, turned, strict=True))]


def test_a_film_that_is_now_and_then_on_its_head_passes():
    assert len(read(upside_down(2)).times) == len(FRAMES)


def test_of_a_body_that_is_hardly_seen_nothing_is_said():
    nobody = [None] * len(FRAMES[0])
    hardly = [f if k % 4 == 0 else nobody for k, f in enumerate(upside_down(1))]
    assert len(read(hardly).times) == len(FRAMES)


@pytest.mark.parametrize(("lean", "passes"), [(1.5, True), (2.5, False)])
def test_a_body_that_leans_far_is_not_yet_one_that_lies(lean, passes):
    leaning = changed(lambda x, y: (x + lean * (HEIGHT - y), y))
    if passes:
        assert len(read(leaning).times) == len(FRAMES)
    else:
        with pytest.raises(InvalidRequest, match="feet beside the head"):
            read(leaning)


def test_a_club_in_another_unit_than_the_body_is_told_with_both():
    tip = [[0.5 + 0.01 * k, 0.5] for k in range(len(FRAMES))]
    with pytest.raises(InvalidRequest) as refused:
        read(FRAMES, club_points={"clubhead": tip})
    (error,) = refused.value.errors
    assert error.pointer == "/club_points/clubhead"
    assert error.problem == "is in fractions of the image, the body in pixels"
