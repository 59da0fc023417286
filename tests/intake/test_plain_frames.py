"""Frames read into an array, against the same text read as any JSON is."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.analysis.types import SwingRecording
from service.intake.errors import InvalidRequest, MalformedJson
from service.intake.parsing import plain_frames
from service.intake.parsing.json_reader import read_raw
from service.intake.parsing.plain_frames import read_swing
from service.intake.recording import Limits, to_recording
from service.intake.request import request_of

LIMITS = Limits(min_frames=2, max_frames=20)
JOINTS = ["nose", "left_ankle", "right_ankle"]
STRANGE = [
    "null",
    "true",
    "NaN",
    "1e999",
    "-",
    "05",
    "1 2",
    "0.5]5",
    "5,",
    "",
    "[1]",
    "1" + 400 * "0",
]


def body(axes: int = 3, layout: object = JOINTS, indent: int | None = None) -> str:
    """A request of four frames, of numbers that are all to be found in its text once."""
    points = np.arange(100.0, 100.0 + 4 * 3 * axes).reshape(4, 3, axes)
    points[:, 1:, 1] += 700.0
    if axes == 3:
        points[..., 2] /= 1000.0
    request = {"keypoints": points.round(3).tolist(), "layout": layout, "fps": 60}
    return json.dumps(request, indent=indent)


def recorded(read: Callable[[bytes], object], text: str) -> tuple[object, ...]:
    """What a request comes to by a reader of its text."""
    try:
        found: SwingRecording = to_recording(request_of(read(text.encode())), LIMITS)
    except InvalidRequest as error:
        return error.errors, error.omitted
    except MalformedJson as error:
        return (str(error),)
    return found.points.tobytes(), found.confidence.tobytes(), found.times.tobytes()


def is_array(text: str) -> bool:
    raw = read_swing(text.encode())
    return isinstance(raw, dict) and isinstance(raw["keypoints"], np.ndarray)


@pytest.mark.parametrize("axes", [2, 3])
@pytest.mark.parametrize("indent", [None, 1])
@pytest.mark.parametrize("piece", [8, 10**6])
def test_whole_points_of_whole_frames_are_read_into_an_array(
    axes: int, indent: int | None, piece: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plain_frames, "_PIECE", piece)
    text = body(axes, indent=indent)
    assert is_array(text)
    assert len(recorded(read_swing, text)) == 3
    assert recorded(read_swing, text) == recorded(read_raw, text)


@pytest.mark.parametrize("strange", STRANGE)
@pytest.mark.parametrize("number", ["100.0", "0.102", "133.0", "0.135"])
def test_of_a_strange_number_the_same_is_said(number: str, strange: str) -> None:
    text = body().replace(number, strange)
    assert text != body()
    assert recorded(read_swing, text) == recorded(read_raw, text)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_of_a_bent_text_the_same_is_said(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from([body(), body(2), body(indent=1)]))
    place = data.draw(st.integers(0, len(text) - 1))
    put = data.draw(st.text('[],.:"{}-+e \n0123456789', max_size=3))
    bent = text[:place] + put + text[place + data.draw(st.integers(0, 4)) :]
    assert recorded(read_swing, bent) == recorded(read_raw, bent)


@pytest.mark.parametrize(
    "beside",
    [
        '"format": "yolo_pose"',
        '"format": null',
        '"layout": "halpe_26"',
        '"club_points": {"keypoints": [[[1, 2], [3, 4]]]}',
        '"client_reference": "\\"keypoints\\": [[[1, 2]]]"',
        '"keypoints": [[[1, 2], [3, 4]]]',
        '"k\\u0065ypoints": 3',
        '"coordinates": "normalised"',
        '"fps": 60',
    ],
)
def test_what_stands_beside_the_frames_is_read_as_ever(beside: str) -> None:
    for text in (body()[:-1] + ", " + beside + "}", "{" + beside + ", " + body()[1:]):
        assert recorded(read_swing, text) == recorded(read_raw, text)


@pytest.mark.parametrize(
    ("sent", "put"),
    [
        ("[[[", "[[null, ["),
        ("]]]", "]], null]"),
        ("]]]", "]], []]"),
        ("]]]", "]], [[1, 2, 3]]]"),
        ("]]]", "], [1, 2, 3, 4]]]"),
        ("0.102", "1.02"),
        ("100.0", "1e9"),
        ('["nose", ', "["),
    ],
)
def test_of_frames_unlike_the_layout_the_same_is_said(sent: str, put: str) -> None:
    text = body().replace(sent, put)
    assert recorded(read_swing, text) == recorded(read_raw, text)
