from __future__ import annotations

import json
import math

import pytest
from fastapi.testclient import TestClient

from tests.api.clips import ANALYZE, MAX_FRAMES, changed, clip, frames_of

JSON = {"Content-Type": "application/json"}
MISSING = object()
TIMES = [t / 60 for t in range(24)]


def _refused(client: TestClient, request: dict[str, object]) -> list[dict[str, str]]:
    sent = {name: value for name, value in request.items() if value is not MISSING}
    answer = client.post(
        ANALYZE, content=json.dumps(sent), headers={"Content-Type": "application/json"}
    )
    assert answer.status_code == 422, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    assert problem["type"] == "/problems/invalid-request"
    assert problem["instance"] == ANALYZE
    assert all(error["problem"] and error["fix"] for error in problem["errors"])
    errors: list[dict[str, str]] = problem["errors"]
    return errors


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"keypoints": MISSING}, "/keypoints"),
        ({"keypoints": "frames"}, "/keypoints"),
        ({"keypoints": frames_of([1, 2], 11)}, "/keypoints"),
        ({"keypoints": frames_of([1, 2], MAX_FRAMES + 1)}, "/keypoints"),
        ({"keypoints": frames_of([0, 0])}, "/keypoints"),
        ({"keypoints": frames_of([0, 0, 0.9])}, "/keypoints"),
        ({"keypoints": changed(3, to=[None])}, "/keypoints/3"),
        ({"keypoints": changed(3, to=False)}, "/keypoints/3"),
        ({"keypoints": changed(3, to=[[1, 2]])}, "/keypoints/3"),
        ({"keypoints": changed(3, 1, to=[1])}, "/keypoints/3/1"),
        ({"keypoints": changed(3, 1, to=[1, 2, 0.5, 4])}, "/keypoints/3/1"),
        ({"keypoints": changed(3, 1, to=7)}, "/keypoints/3/1"),
        ({"keypoints": changed(3, 1, to="")}, "/keypoints/3/1"),
        ({"keypoints": changed(3, 1, to={"x": 1, "y": 2})}, "/keypoints/3/1"),
        ({"keypoints": changed(3, 1, to=["640", 2])}, "/keypoints/3/1/0"),
        ({"keypoints": changed(3, 1, to=[1, True])}, "/keypoints/3/1/1"),
        ({"keypoints": changed(3, 1, to=[1, [2]])}, "/keypoints/3/1/1"),
        ({"keypoints": changed(3, 1, to=[math.nan, 2])}, "/keypoints/3/1/0"),
        ({"keypoints": changed(3, 1, to=[1, -math.inf])}, "/keypoints/3/1/1"),
        ({"keypoints": changed(3, 1, to=[1, 2, math.nan])}, "/keypoints/3/1/2"),
        ({"keypoints": changed(3, 1, to=[1, 1e9])}, "/keypoints/3/1/1"),
        ({"keypoints": changed(3, 1, to=[10**400, 1])}, "/keypoints/3/1/0"),
        ({"keypoints": changed(3, 1, to=[1, 2, 1.01])}, "/keypoints/3/1/2"),
        ({"keypoints": changed(3, 1, to=[1, 2, -0.01])}, "/keypoints/3/1/2"),
        ({"layout": MISSING}, "/layout"),
        ({"layout": None}, "/layout"),
        ({"layout": 17}, "/layout"),
        ({"layout": []}, "/layout"),
        ({"layout": "no_such_skeleton"}, "/layout"),
        ({"layout": "x" * 10_000}, "/layout"),
        ({"layout": ["nose"] * 500}, "/layout"),
        ({"layout": ["nose", "left_wrist", "third_arm"]}, "/layout/2"),
        ({"layout": ["nose", 4, "left_wrist"]}, "/layout/1"),
        ({"layout": ["nose", "left_wrist", "left_wrist"]}, "/layout/2"),
        ({"layout": "coco_17"}, "/keypoints/0"),
        ({"fps": MISSING}, "/fps"),
        ({"fps": 9.9}, "/fps"),
        ({"fps": 1001}, "/fps"),
        ({"fps": "60"}, "/fps"),
        ({"fps": math.nan}, "/fps"),
        ({"timestamps": TIMES}, "/timestamps"),
        ({"fps": None, "timestamps": TIMES[:-1]}, "/timestamps"),
        ({"fps": None, "timestamps": 3}, "/timestamps"),
        ({"fps": None, "timestamps": [*TIMES[:5], TIMES[4], *TIMES[6:]]}, "/timestamps/5"),
        ({"fps": None, "timestamps": [*TIMES[:5], math.inf, *TIMES[6:]]}, "/timestamps/5"),
        ({"fps": None, "timestamps": [*TIMES[:5], "0.1", *TIMES[6:]]}, "/timestamps/5"),
        ({"fps": None, "timestamps": [1000 * t for t in TIMES]}, "/timestamps"),
        ({"playback_speed": 0}, "/playback_speed"),
        ({"coordinates": "metres"}, "/coordinates"),
        ({"coordinates": "normalised"}, "/image_size"),
        ({"image_size": {"width": 0, "height": 5}}, "/image_size/width"),
        ({"image_size": {"width": 5}}, "/image_size/height"),
        ({"view": "from_above"}, "/view"),
        ({"handedness": "both"}, "/handedness"),
        ({"intent": "warm_up"}, "/intent"),
        ({"club": "bat"}, "/club"),
        ({"asked": 3.5}, "/asked"),
        ({"asked": {}}, "/asked/stop_at"),
        ({"asked": {"stop_at": 1.0}}, "/asked/stop_at"),
        ({"asked": {"stop_at": 4.5}}, "/asked/stop_at"),
        ({"asked": {"stop_at": "P3.5"}}, "/asked/stop_at"),
        ({"asked": {"stop_at": 3.5, "stop": 3.5}}, "/asked/stop"),
        ({"client_reference": "x" * 201}, "/client_reference"),
        ({"client_reference": 12}, "/client_reference"),
        ({"client_reference": "a\x00b"}, "/client_reference"),
        ({"a/b": 1}, "/a~1b"),
        ({"club_points": []}, "/club_points"),
        ({"club_points": {"hosel": []}}, "/club_points/hosel"),
        ({"club_points": {"grip": [[1, 2]]}}, "/club_points/grip"),
        ({"club_points": {"grip": [[1, 2]] * 23 + [[1]]}}, "/club_points/grip/23"),
        ({"club_points": {"grip": [[1, 2]] * 23 + [[1, "2"]]}}, "/club_points/grip/23/1"),
    ],
)
def test_a_broken_field_is_refused_with_a_pointer_to_it_and_a_fix(
    client: TestClient, changes: dict[str, object], pointer: str
) -> None:
    assert _refused(client, clip(**changes))[0]["pointer"] == pointer


def test_normalised_coordinates_in_pixels_are_refused(client: TestClient) -> None:
    size = {"width": 1280, "height": 720}
    errors = _refused(client, clip(coordinates="normalised", image_size=size))
    assert errors[0]["pointer"] == "/keypoints/0/0/0"


@pytest.mark.parametrize("nobody", [None, []])
def test_a_frame_in_which_nobody_was_found_may_be_empty(
    client: TestClient, nobody: list[object] | None
) -> None:
    empty = client.post(ANALYZE, json=clip(keypoints=changed(3, to=nobody)))
    absent = client.post(ANALYZE, json=clip(keypoints=changed(3, to=[None, None, None])))
    assert empty.status_code == 200, empty.text
    assert empty.json() == absent.json()


@pytest.mark.parametrize(
    ("text", "pointers"),
    [
        ('"fps": 60, "fps": 240', ["/fps"]),
        ('"fps": 60, "\\u0066ps": 60', ["/fps"]),
        ('"club_points": {"grip": [], "grip": null}', ["/club_points/grip"]),
        (
            '"keypoints": [[], [{"x": 1, "y": 2, "x": 3}]], "a": 0, "a": 1',
            ["/a", "/keypoints/1/0/x"],
        ),
    ],
)
def test_a_name_sent_twice_is_refused_with_a_pointer_to_it(
    client: TestClient, text: str, pointers: list[str]
) -> None:
    answer = client.post(ANALYZE, content=f"{{{text}}}", headers=JSON)
    assert answer.status_code == 422
    errors = answer.json()["errors"]
    assert [error["pointer"] for error in errors] == pointers
    assert all(error["problem"] == "is sent more than once" for error in errors)


def test_what_is_no_json_is_told_before_what_it_repeats(client: TestClient) -> None:
    answer = client.post(ANALYZE, content='{"fps": 60, "fps": 240', headers=JSON)
    assert answer.json()["type"] == "/problems/malformed-json"


def test_a_club_point_sent_twice_is_refused(client: TestClient) -> None:
    layout = ["nose", "left_wrist", "clubhead"]
    points = {"clubhead": [[1, 2]] * 24}
    errors = _refused(client, clip(layout=layout, club_points=points))
    assert [error["pointer"] for error in errors] == ["/club_points/clubhead"]


def test_everything_wrong_is_told_at_once(client: TestClient) -> None:
    keypoints = changed(2, to=[None])
    keypoints[3] = [[1, 2, 7], "x", None]
    pointers = [e["pointer"] for e in _refused(client, clip(keypoints=keypoints, timestamps=[]))]
    assert pointers == ["/timestamps", "/keypoints/2", "/keypoints/3/0/2", "/keypoints/3/1"]


def test_the_same_error_of_hundreds_of_points_is_told_once(client: TestClient) -> None:
    (error,) = _refused(client, clip(keypoints=frames_of([1], 100)))
    assert error["pointer"] == "/keypoints/0/0"
    assert error["problem"] == "is a list of 1, not a point; so are 299 others"


def test_many_errors_are_told_as_twenty_and_a_count(client: TestClient) -> None:
    keypoints = frames_of([1, 2], 100)
    for frame in range(15):
        keypoints[frame] = [None]
        keypoints[frame + 20] = [[1, 2], [1], [1, 2]]
    answer = client.post(ANALYZE, json=clip(keypoints=keypoints))
    problem = answer.json()
    assert len(problem["errors"]) == 20
    assert problem["errors_omitted"] == 10
    assert len(answer.content) < 10_000


def test_many_and_long_unknown_fields_are_not_echoed(client: TestClient) -> None:
    long_names = {"x" * 5000 + str(i): i for i in range(30)}
    answer = client.post(ANALYZE, json=clip(**long_names))
    assert answer.status_code == 422
    assert answer.json()["errors_omitted"] == 10
    assert len(answer.content) < 10_000


def test_thousands_of_unknown_fields_are_only_counted(client: TestClient) -> None:
    errors = _refused(client, clip(**{f"k{i}": i for i in range(2000)}))
    assert [error["problem"] for error in errors] == ["has 2000 wrong or unknown fields"]


@pytest.mark.parametrize(
    "text",
    [b"", b"{", b'{"fps": 60,}', b"\xff\xfe", b"[" * 5000, b'"\\ud800"', b"{} {}", b"1" * 6000],
)
def test_what_is_not_json_is_refused_as_such(client: TestClient, text: bytes) -> None:
    answer = client.post(ANALYZE, content=text, headers={"Content-Type": "application/json"})
    assert (answer.status_code, answer.json()["type"]) == (400, "/problems/malformed-json")


@pytest.mark.parametrize("text", [b"null", b"[]", b"NaN", b'"keypoints"', b"12"])
def test_json_that_is_no_object_is_refused(client: TestClient, text: bytes) -> None:
    answer = client.post(ANALYZE, content=text, headers={"Content-Type": "application/json"})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == ""
