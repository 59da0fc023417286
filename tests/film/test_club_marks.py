from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from service.analysis.pose.conditioning import condition
from service.analysis.pose.keypoint_error import pose_error
from service.analysis.pose.points import ANATOMICAL, Point
from service.analysis.pose.stature import body_height
from service.analysis.types import Level, SwingRecording, View
from service.film.club.club_marks import marked_club, read_marks
from service.intake.errors import InvalidRequest, MalformedJson
from tests.swings import clip

SIZE = (1920, 1080)


@pytest.fixture(scope="module")
def recording() -> SwingRecording:
    return clip(View.FACE_ON, fps=60)[1]


def marks_file(recording: SwingRecording, frames: list[int], unit: float = 1.0) -> bytes:
    """The club of a simulated swing, marked without error on some frames."""
    places = recording.points * unit
    marks = [
        {
            "frame": frame,
            "grip": places[frame, Point.GRIP].tolist(),
            "clubhead": places[frame, Point.CLUBHEAD].tolist(),
        }
        for frame in frames
    ]
    size = {"width": SIZE[0] * unit, "height": SIZE[1] * unit}
    return json.dumps({"image_size": size, "marks": marks}).encode()


def club_of(recording: SwingRecording, body: bytes) -> Any:
    return marked_club(read_marks(body), SIZE, recording.points, recording.times)


def as_array(points: list[list[float] | None]) -> np.ndarray:
    return np.array([[np.nan] * 3 if p is None else p for p in points])


def test_every_frame_marked_gives_the_club_as_it_was_marked(recording: SwingRecording) -> None:
    frames = list(range(len(recording.times)))
    club = club_of(recording, marks_file(recording, frames))
    for name, point in (("grip", Point.GRIP), ("clubhead", Point.CLUBHEAD)):
        told = as_array(club.points[name])
        assert np.allclose(told[:, :2], recording.points[:, point], atol=0.01)
        assert np.allclose(told[:, 2], 0.95)
    assert (club.remark.code, club.remark.level) == ("club_marked", Level.INFO)


def test_marks_of_a_reduced_picture_are_scaled_to_the_film(recording: SwingRecording) -> None:
    frames = list(range(0, len(recording.times), 2))
    whole, half = (club_of(recording, marks_file(recording, frames, unit)) for unit in (1.0, 0.5))
    assert np.allclose(
        as_array(whole.points["clubhead"]), as_array(half.points["clubhead"]), equal_nan=True
    )


def test_the_analysis_reads_the_error_that_the_confidence_stands_for(
    recording: SwingRecording,
) -> None:
    """Marks on every third frame are told to the analysis as less sure than marks on every one."""
    errors = []
    for every in (1, 3):
        frames = list(range(0, len(recording.times), every))
        head = as_array(club_of(recording, marks_file(recording, frames)).points["clubhead"])
        points, confidence = recording.points.copy(), np.full(recording.points.shape[:2], 0.99)
        points[:, Point.CLUBHEAD] = head[:, :2]
        confidence[:, Point.CLUBHEAD] = np.nan_to_num(head[:, 2])
        height = body_height(points)
        conditioned = condition(points, confidence, recording.times, scale=height)
        errors.append(pose_error(conditioned, height).points[Point.CLUBHEAD])
    assert errors[0] == pytest.approx(0.0065, rel=0.1)
    assert errors[1] > 1.05 * errors[0]


def test_where_the_way_can_not_be_told_the_analysis_has_nothing_to_bridge(
    recording: SwingRecording,
) -> None:
    frames = list(range(0, len(recording.times), 4))
    club = club_of(recording, marks_file(recording, frames))
    head = as_array(club.points["clubhead"])
    points, confidence = recording.points.copy(), np.ones(recording.points.shape[:2])
    points[:, Point.CLUBHEAD], confidence[:, Point.CLUBHEAD] = (
        head[:, :2],
        np.nan_to_num(head[:, 2]),
    )
    conditioned = condition(points, confidence, recording.times, scale=body_height(points))
    known = np.isfinite(conditioned.points[:, ANATOMICAL.index("clubhead"), 0])
    assert not known.all()
    assert np.array_equal(known, np.isfinite(head[:, 0]))
    assert club.remark.level is Level.WARNING
    assert "too far apart to tell its way" in club.remark.text
    first = np.flatnonzero(np.isnan(head[: frames[-1], 0]))[0]
    assert f"In frames {first} to " in club.remark.text


def test_only_what_was_marked_is_told(recording: SwingRecording) -> None:
    mark = {"frame": 3, "clubhead": recording.points[3, Point.CLUBHEAD].tolist()}
    size = {"width": SIZE[0], "height": SIZE[1]}
    club = club_of(recording, json.dumps({"image_size": size, "marks": [mark]}).encode())
    assert list(club.points) == ["clubhead"]
    assert [p is not None for p in club.points["clubhead"]].count(True) == 1


@pytest.mark.parametrize(
    ("change", "pointer", "said"),
    [
        ({"marks": []}, "/marks", "at least 1"),
        ({"marks": [{"frame": -1}]}, "/marks/0/frame", "at least 0"),
        ({"marks": [{"frame": 1, "grip": [1]}]}, "/marks/0/grip/1", "missing"),
        ({"marks": [{"frame": 1, "head": [1, 2]}]}, "/marks/0/head", "is not a field"),
        ({"marks": [{"frame": 1}, {"frame": 1}]}, "/marks/1/frame", "is marked twice"),
        ({"image_size": None}, "/image_size", "should be a JSON object"),
    ],
)
def test_a_bad_file_of_marks_is_refused_at_its_place(
    change: dict[str, object], pointer: str, said: str
) -> None:
    good = {"image_size": {"width": 960, "height": 540}, "marks": [{"frame": 1, "grip": [1, 2]}]}
    read_marks(json.dumps(good).encode())
    with pytest.raises(InvalidRequest) as refused:
        read_marks(json.dumps(good | change).encode())
    assert refused.value.errors[0].pointer == pointer
    assert said in refused.value.errors[0].problem
    with pytest.raises(MalformedJson):
        read_marks(b"marks")


def test_the_marks_of_another_film_are_refused(recording: SwingRecording) -> None:
    longer = {"frame": len(recording.times), "grip": [1, 2]}
    upright = {"width": 1080, "height": 1920}
    body = json.dumps({"image_size": upright, "marks": [longer]}).encode()
    with pytest.raises(InvalidRequest) as refused:
        club_of(recording, body)
    told = {error.pointer: error.problem for error in refused.value.errors}
    assert "another shape than the film's 1920 by 1080" in told["/image_size"]
    assert f"the film has {len(recording.times)} frames" in told["/marks/0/frame"]
