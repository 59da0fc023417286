"""Mistakes that would be answered silently and wrongly: each is refused or remarked over HTTP."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.analysis.pose.layouts import LAYOUTS
from service.analysis.types import Club, Handedness, View
from tests.intake.test_formats import COCO, HEIGHT, WIDTH, plain, scaled
from tests.records.kept import body_of, swing_body
from tests.swings import clip

JSON = {"Content-Type": "application/json"}
FRAMES = plain(COCO)
_, SWING = clip(View.FACE_ON, fps=60.0)


def changed(change: Any) -> list[Any]:
    return [[p and [*change(p[0], p[1]), p[2]] for p in f] for f in FRAMES]


def in_fractions(frame: list[Any]) -> list[Any]:
    return [p and [p[0] / WIDTH, p[1] / HEIGHT, *p[2:]] for p in frame]


def world() -> list[Any]:
    """Metres about the hips, as landmark libraries give beside the picture's points."""
    frame = [{"x": 0.01 * k, "y": 0.02 * k, "z": 0.0} for k in range(33)]
    frame[23], frame[24] = ({"x": s, "y": 0.0, "z": 0.0} for s in (0.1, -0.1))
    return [frame] * 30


REFUSED = {
    "fractions without a unit": (scaled(FRAMES), "coordinates: normalised"),
    "y upwards": (changed(lambda x, y: (x, HEIGHT - y)), "y growing down"),
    "x and y exchanged": (changed(lambda x, y: (y, x)), "x before y"),
    "a picture on its side": (changed(lambda x, y: (y, WIDTH - x)), "rotation"),
    "world coordinates": (world(), "pose_landmarks"),
    "upside down": (changed(lambda x, y: (WIDTH - x, HEIGHT - y)), "turn a picture"),
    "some frames in fractions": ([*FRAMES[:40], *map(in_fractions, FRAMES[40:])], "same unit"),
}


def analysed(client: TestClient, body: bytes) -> dict[str, Any]:
    answer = client.post("/v1/swings/analyze", content=body, headers=JSON)
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


def codes(analysis: dict[str, Any]) -> set[str]:
    return {remark["code"] for remark in analysis["quality"]["remarks"]}


@pytest.mark.parametrize("mistake", REFUSED)
def test_points_that_are_not_what_they_seem_are_refused_with_the_fix(
    client: TestClient, mistake: str
) -> None:
    keypoints, hint = REFUSED[mistake]
    layout = {"layout": "coco_17"} if mistake != "world coordinates" else {}
    format_ = {"format": "landmarks_33_objects"} if not layout else {}
    size = {"image_size": {"width": WIDTH, "height": HEIGHT}}
    body = {"keypoints": keypoints, "fps": 30.0, **layout, **format_, **size}
    answer = client.post("/v1/swings/analyze", json=body)
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert hint in error["fix"]


def test_one_frame_in_place_of_a_list_of_frames_is_told_as_that(client: TestClient) -> None:
    body = {"keypoints": FRAMES[0], "layout": "coco_17", "fps": 30.0}
    (error,) = client.post("/v1/swings/analyze", json=body).json()["errors"]
    assert "one frame alone" in error["problem"]
    assert "a list of frames" in error["fix"]


@pytest.mark.parametrize(
    ("point", "problem"), [({"px": 1.0}, "points that are"), (["1", "2"], "so are ")]
)
def test_the_same_mistake_in_every_point_is_told_once(
    client: TestClient, point: object, problem: str
) -> None:
    body = {"keypoints": [[point] * 17] * 60, "layout": "coco_17", "fps": 30.0}
    answer = client.post("/v1/swings/analyze", json=body)
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert problem in error["problem"]


def test_a_club_in_another_unit_than_the_body_is_refused(client: TestClient) -> None:
    heads = [[0.5 + 0.001 * k, 0.6, 0.9] for k in range(len(FRAMES))]
    body = {"keypoints": FRAMES, "layout": "coco_17", "fps": 30.0}
    answer = client.post("/v1/swings/analyze", json={**body, "club_points": {"clubhead": heads}})
    (error,) = answer.json()["errors"]
    assert error["pointer"] == "/club_points/clubhead"
    assert "fractions of the image" in error["problem"]


def test_frames_in_which_nobody_was_found_are_no_other_unit(client: TestClient) -> None:
    empty = [[[-1.0, -1.0, 0.0]] * 17] * 2
    body = {"keypoints": [*empty, *FRAMES], "layout": "coco_17", "fps": 30.0}
    assert client.post("/v1/swings/analyze", json=body).status_code == 200


def test_a_field_like_no_other_is_told_with_all_there_are(client: TestClient) -> None:
    body = {"keypoints": FRAMES, "layout": "coco_17", "fps": 30.0, "rate": 1}
    (error,) = client.post("/v1/swings/analyze", json=body).json()["errors"]
    assert error["pointer"] == "/rate"
    assert "fields are keypoints, " in error["fix"]


@pytest.mark.parametrize(
    ("sent", "meant"),
    [
        ({"framerate": 30}, "did you mean fps?"),
        ({"frames_per_second": 30}, "did you mean fps?"),
        ({"frames": FRAMES}, "did you mean keypoints?"),
        ({"cameraAngle": "face_on"}, "did you mean view?"),
        ({"view": "DTL"}, "did you mean down_the_line?"),
        ({"handedness": "left-handed"}, "did you mean left?"),
        ({"club": "7 iron"}, "did you mean mid_iron?"),
        ({"intent": "practice"}, "did you mean rehearsal?"),
        ({"layout": "MediaPipe"}, "did you mean landmarks_33?"),
    ],
    ids=lambda case: next(iter(case)) if isinstance(case, dict) else None,
)
def test_a_name_that_others_use_is_told_with_ours(
    client: TestClient, sent: dict[str, Any], meant: str
) -> None:
    body = {"keypoints": FRAMES, "layout": "coco_17", "fps": 30.0, **sent}
    (error,) = client.post("/v1/swings/analyze", json=body).json()["errors"]
    assert meant in error["problem"]


def test_a_request_in_an_envelope_is_told_to_come_out_of_it(client: TestClient) -> None:
    swing = {"keypoints": FRAMES, "layout": "coco_17", "fps": 30.0}
    errors = client.post("/v1/swings/analyze", json={"data": swing}).json()["errors"]
    (error,) = [each for each in errors if each["pointer"] == "/data"]
    assert "holds keypoints, layout, fps" in error["problem"]
    assert error["fix"] == "Send what it holds as the request itself."


def test_frames_of_numbers_in_a_row_are_told_as_that(client: TestClient) -> None:
    flat = [[number for point in frame if point for number in point] for frame in FRAMES]
    body = {"keypoints": flat, "layout": "coco_17", "fps": 30.0}
    (error,) = client.post("/v1/swings/analyze", json=body).json()["errors"]
    assert "frames of numbers in a row" in error["problem"]
    assert "each a list of the plain points" in error["fix"]


def test_several_people_in_frames_of_plain_points_are_told_as_that(client: TestClient) -> None:
    frames = plain(LAYOUTS["body_25"].joints)[:20]
    body = {"keypoints": [[frame, frame] for frame in frames], "layout": "body_25", "fps": 30.0}
    (error,) = client.post("/v1/swings/analyze", json=body).json()["errors"]
    assert error["problem"] == f"has {2 * len(frames)} people in its frames, each a list of points"
    assert "of one person" in error["fix"]


def test_times_that_all_run_backwards_are_told_once(client: TestClient) -> None:
    times = [-k / 30.0 for k in range(len(FRAMES))]
    body = {"keypoints": FRAMES, "layout": "coco_17", "timestamps": times}
    (error,) = client.post("/v1/swings/analyze", json=body).json()["errors"]
    assert error["pointer"] == "/timestamps/1"
    assert "neither are" in error["problem"]


@pytest.mark.parametrize(
    ("path", "hint"),
    [
        ("/v1/faults?langg=de", "did you mean lang?"),
        ("/v1/layouts?lang=de", "takes no parameters"),
        ("/v1/swings/analyze?langg=de", "did you mean lang?"),
        ("/v1/faults?lang=de&lang=en", "more than once"),
        ("/v1/faults?lang=fr", "Send one of en, de"),
        ("/v1/examples/trail_heel_kick?view=front", "Send one of face_on, down_the_line"),
    ],
)
def test_a_parameter_that_no_one_reads_is_refused(client: TestClient, path: str, hint: str) -> None:
    answer = client.request("POST" if "analyze" in path else "GET", path)
    assert answer.status_code == 422
    (wrong,) = answer.json()["parameters"]
    assert hint in f"{wrong['problem']} {wrong['fix']}"


def test_a_film_that_plays_slow_is_remarked_with_the_speed_to_send(client: TestClient) -> None:
    slow = dataclasses.replace(SWING, times=SWING.times * 4)
    answer = analysed(client, body_of(slow))
    remark = next(r for r in answer["quality"]["remarks"] if r["code"] == "plays_slow")
    assert "playback_speed 0.25" in remark["fix"]
    assert "plays_slow" not in codes(analysed(client, body_of(slow, playback_speed=0.25)))


def test_a_handedness_that_contradicts_the_motion_is_remarked(client: TestClient) -> None:
    left, right = (analysed(client, body_of(SWING, handedness=h)) for h in ("left", "right"))
    assert "handedness_contradicts_motion" in codes(left)
    assert "handedness_contradicts_motion" not in codes(right)


@pytest.mark.parametrize("kept", [None, *Handedness])
def test_a_handedness_that_contradicts_the_players_record_is_remarked(
    keeper: TestClient, kept: Handedness | None
) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada", "handedness": kept}).json()["id"]
    lesson = keeper.post(f"/v1/players/{player}/lessons", json={"date": "2025-05-17"})
    swings = f"{lesson.headers['location']}/swings"
    swing = keeper.post(swings, content=body_of(SWING), headers=JSON).json()
    again = keeper.post(f"/v1/swings/{swing['swing']['id']}/reanalyse").json()
    for answer in (swing, again):
        told = "handedness_contradicts_record" in codes(answer["analysis"])
        assert told == (kept is Handedness.LEFT)


@pytest.mark.parametrize(
    ("before", "after", "remarked"),
    [
        (Club.WEDGE, Club.DRIVER, True),
        (Club.WEDGE, Club.WEDGE, False),
        (Club.WEDGE, None, False),
        (Club.IRON, Club.MID_IRON, False),
        (Club.IRON, Club.WOOD, True),
    ],
)
def test_clubs_compared_across_kinds_are_remarked(
    keeper: TestClient, before: Club, after: Club | None, remarked: bool
) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    lesson = keeper.post(f"{player}/lessons", json={"date": "2025-05-17"}).headers["location"]
    first, second = (
        keeper.post(f"{lesson}/swings", content=swing_body(1, club=c), headers=JSON).json()
        for c in (before, after)
    )
    ids = {"before": [first["swing"]["id"]], "after": [second["swing"]["id"]]}
    remarks = keeper.post("/v1/comparisons", json=ids).json()["remarks"]
    assert [r["code"] for r in remarks] == (["clubs_differ"] if remarked else [])
    if remarked:
        assert f"{before} before, {after} after" in remarks[0]["text"]


@pytest.mark.parametrize(
    ("query", "parameter", "hint"),
    [
        ({"fault": "heel_kick"}, "fault", "did you mean trail_heel_kick?"),
        ({"fault": ""}, "fault", "/v1/faults"),
        ({"first_day": "2025-06-01", "last_day": "2025-05-01"}, "last_day", "before first_day"),
        ({"clubs": "wedge"}, "clubs", "not known"),
        ({"club": "mashie"}, "club", "'wedge'"),
    ],
)
def test_a_filter_that_can_find_nothing_is_refused(
    keeper: TestClient, query: dict[str, str], parameter: str, hint: str
) -> None:
    answer = keeper.get("/v1/swings", params=query)
    assert answer.status_code == 422
    (wrong,) = answer.json()["parameters"]
    assert wrong["parameter"] == parameter
    assert hint in wrong["problem"]


def test_a_range_of_a_single_day_is_fine(keeper: TestClient) -> None:
    day = {"first_day": "2025-05-17", "last_day": "2025-05-17"}
    assert keeper.get("/v1/swings", params=day).json()["items"] == []
