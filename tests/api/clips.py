"""Requests for the tests of the HTTP layer."""

from __future__ import annotations

ANALYZE = "/v1/swings/analyze"
BODY_LIMIT = 200_000
MAX_FRAMES = 300


def clip(**changes: object) -> dict[str, object]:
    """A request that keeps the contract: three points of a figure that hardly moves."""
    frames = [[[640 + t % 3, 210], [612, 480 - t], None] for t in range(24)]
    request = {"layout": ["nose", "left_wrist", "right_wrist"], "fps": 60, "keypoints": frames}
    return {**request, **changes}


def frames_of(point: object, n_frames: int = 24) -> list[object]:
    """Frames of three points, all the same."""
    return [[point, point, point] for _ in range(n_frames)]


def changed(*path: int, to: object) -> list[object]:
    """The keypoints of a good clip with one part exchanged."""
    keypoints = clip()["keypoints"]
    assert isinstance(keypoints, list)
    place = keypoints
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = to
    return keypoints
