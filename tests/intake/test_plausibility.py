"""Mistakes of unit and axis are refused with the fix, never answered silently."""

from __future__ import annotations

import json

import pytest

from service.intake.errors import InvalidRequest
from service.intake.recording import Limits, to_recording
from service.intake.request import read_request
from tests.intake.test_formats import COCO, HEIGHT, WIDTH, plain, scaled

FRAMES = plain(COCO)


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
    size = {"width": WIDTH, "height": HEIGHT}
    assert len(read(scaled(FRAMES), coordinates="normalised", image_size=size).times)
