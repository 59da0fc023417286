from __future__ import annotations

import json

from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.intake.errors import Complaints
from service.intake.keypoints import MAX_COORDINATE, read_keypoints
from tests.api.clips import ANALYZE, clip

NUMBER = st.floats(width=64) | st.integers() | st.just(10**400)
SCALAR = NUMBER | st.none() | st.booleans() | st.text(max_size=5)
JSON_VALUE = st.recursive(
    SCALAR,
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4)
    ),
    max_leaves=12,
)
COORDINATE = st.none() | st.floats(-1e6, 1e6) | st.floats() | st.integers()
POINT = st.none() | st.lists(COORDINATE, min_size=2, max_size=3) | JSON_VALUE
KEYPOINTS = st.lists(st.lists(POINT, min_size=3, max_size=3), min_size=12, max_size=14)
FIELDS = st.sampled_from(
    [
        *("keypoints", "layout", "fps", "timestamps", "playback_speed", "coordinates"),
        *("image_size", "club_points", "view", "intent", "client_reference", "other"),
    ]
)
JSON = {"Content-Type": "application/json"}
UNHURRIED = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@UNHURRIED
@given(changes=st.dictionaries(FIELDS, JSON_VALUE, max_size=4))
def test_no_field_value_makes_the_service_fail(
    client: TestClient, changes: dict[str, object]
) -> None:
    answer = client.post(ANALYZE, content=json.dumps(clip(**changes)), headers=JSON)
    assert answer.status_code in (200, 422), answer.text


@UNHURRIED
@given(body=st.binary(max_size=200), encoding=st.sampled_from(["identity", "gzip"]))
def test_no_bytes_make_the_service_fail(client: TestClient, body: bytes, encoding: str) -> None:
    answer = client.post(ANALYZE, content=body, headers={**JSON, "Content-Encoding": encoding})
    assert answer.status_code in (400, 422), answer.text


@UNHURRIED
@given(keypoints=KEYPOINTS)
def test_keypoints_are_either_read_or_complained_of(keypoints: list[list[object]]) -> None:
    complaints = Complaints()
    read = read_keypoints(keypoints, 3, MAX_COORDINATE, complaints)
    assert (read is None) == complaints.any


@UNHURRIED
@given(
    points=st.lists(
        st.none() | st.tuples(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5)), min_size=36, max_size=36
    )
)
def test_well_formed_keypoints_are_analysed_or_refused_with_the_fix(
    client: TestClient, points: list[object]
) -> None:
    frames = [points[i : i + 3] for i in range(0, 36, 3)]
    answer = client.post(ANALYZE, content=json.dumps(clip(keypoints=frames)), headers=JSON)
    assert answer.status_code in (200, 422), answer.text
    if answer.status_code == 422:
        errors = answer.json()["errors"]
        assert errors
        assert all(error["pointer"].startswith("/keypoints") and error["fix"] for error in errors)
