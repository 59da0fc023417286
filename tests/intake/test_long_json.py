from __future__ import annotations

import gc
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jiter import from_json

from service.intake.errors import InvalidRequest
from service.intake.parsing import long_json, repeated_names
from service.intake.parsing.long_json import collector_at_rest, read_json

POINT = st.none() | st.lists(st.floats(allow_nan=False) | st.none() | st.text(), max_size=3)
FRAMES = st.lists(st.lists(POINT, max_size=3), max_size=12)
ANYTHING = FRAMES | st.text('[], "x', max_size=30) | st.dictionaries(st.text(), FRAMES, max_size=2)


@pytest.fixture(autouse=True)
def _short_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(long_json, "_LONG", 8)


@settings(max_examples=200, deadline=None)
@given(
    request=st.dictionaries(st.sampled_from(["a", "keypoints", "club_points"]), ANYTHING),
    separators=st.sampled_from([(",", ":"), (", ", ": "), (" ,\n", " : ")]),
)
def test_what_is_read_in_pieces_is_what_is_read_at_once(
    request: dict[str, object], separators: tuple[str, str]
) -> None:
    text = json.dumps(request, separators=separators).encode()
    assert read_json(text) == json.loads(text)


@settings(max_examples=200, deadline=None)
@given(text=st.text('[]{},:"1 ', max_size=80))
def test_what_is_not_json_is_refused_in_pieces_too(text: str) -> None:
    body = ('{"keypoints": [' + text).encode()
    try:
        expected = from_json(body, catch_duplicate_keys=True)
    except ValueError:
        with pytest.raises(ValueError, match="line 1"):
            read_json(body)
    else:
        assert read_json(body) == expected


@pytest.mark.parametrize("sent", [long_json._STAND_IN, [[long_json._STAND_IN]]])
@pytest.mark.parametrize("at", [0, -1])
def test_frames_that_look_like_what_stands_in_for_frames_are_read_as_they_are(
    sent: object, at: int
) -> None:
    frames: list[object] = [[[n, 1.5], None] for n in range(50)]
    frames.insert(at if at == 0 else len(frames), sent)
    body = json.dumps({"keypoints": frames}).encode()
    assert read_json(body) == {"keypoints": frames}


@given(frames=FRAMES)
def test_a_list_without_a_request_about_it_is_read_too(frames: list[object]) -> None:
    assert read_json(json.dumps(frames).encode()) == frames


def test_what_is_no_json_is_told_before_what_it_repeats() -> None:
    with pytest.raises(ValueError, match="EOF") as refused:
        read_json(b'{"fps": 60, "fps": 240, ')
    assert not isinstance(refused.value, InvalidRequest)


def test_a_clip_is_read_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    frames = [[[n, 1.5], None] for n in range(50)]
    body = json.dumps({"fps": 60, "keypoints": frames, "club_points": {"grip": [[1, 2]]}}).encode()
    longest = 0

    def watched(text: bytes, **options: bool) -> object:
        nonlocal longest
        longest = max(longest, len(text))
        return from_json(text, **options)

    monkeypatch.setattr(long_json, "from_json", watched)
    assert read_json(body) == json.loads(body)
    assert longest < len(body) / 3


def test_the_pieces_are_as_large_as_they_should_be(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(long_json, "_LONG", 400)
    body = json.dumps({"keypoints": [[[n, 1.5], None] for n in range(200)]}).encode()
    lengths: list[int] = []

    def watched(text: bytes, **options: bool) -> object:
        lengths.append(len(text))
        return from_json(text, **options)

    monkeypatch.setattr(long_json, "from_json", watched)
    assert read_json(body) == json.loads(body)
    *pieces, _, _ = lengths  # the last piece is what is left, and then comes what is about them
    assert pieces
    assert all(400 <= length < 500 for length in pieces)


@pytest.mark.parametrize("bound", [8, 10**6])
def test_a_name_sent_twice_about_the_frames_of_a_clip_is_refused(
    monkeypatch: pytest.MonkeyPatch, bound: int
) -> None:
    monkeypatch.setattr(repeated_names, "_LONG", bound)
    frames = json.dumps([[[n, 1.5], None] for n in range(50)])
    with pytest.raises(InvalidRequest) as refused:
        read_json(f'{{"fps": 60, "keypoints": {frames}, "fps": 240}}'.encode())
    (error,) = refused.value.errors
    assert "fps" in error.pointer + error.problem


@pytest.mark.parametrize("on", [True, False])
def test_a_collector_that_rested_is_afterwards_as_it_was(on: bool) -> None:
    was_on = gc.isenabled()
    (gc.enable if on else gc.disable)()
    try:
        with collector_at_rest():
            assert not gc.isenabled()
        assert gc.isenabled() is on
    finally:
        (gc.enable if was_on else gc.disable)()
