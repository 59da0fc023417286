"""Requests bent out of shape, the same ones for the same seed and number."""

from __future__ import annotations

import copy
import gzip
import json
import math
from collections.abc import Callable, Mapping
from random import Random
from typing import Any, Final

from service.analysis.pose.layouts import LAYOUTS
from service.analysis.pose.points import ANATOMICAL
from service.intake.formats import FORMATS

NASTY: Final[tuple[Any, ...]] = (
    None, True, False, 0, -0.0, 1, -1, 0.5, 1e-10, 1e-300, 5e-324, 1e10, -1e10, 1e300, -1e308,
    2**31, 2**53 + 1, 2**63, -(2**64), 10**40, "", "0", "NaN", "\x00", "\ud83c", "é" * 70,
    "a" * 300, [], {}, [[]], [None], [0, 0], [1.0, 2.0, 3.0, 4.0], {"x": 1}, {"": None},
    [[[]]], [[None] * 3],
)  # fmt: skip
_FIELDS: Final[dict[str, tuple[Any, ...]]] = {
    "fps": (1, 5, 10, 12.5, 23.976, 24, 30, 59.94, 120, 240, 1000, 10_000, 0.001),
    "playback_speed": (0.01, 0.1, 0.25, 0.5, 2, 10, 11),
    "view": ("face_on", "down_the_line", "behind"),
    "handedness": ("left", "right", "both"),
    "intent": ("full_speed", "rehearsal", "chip"),
    "club": ("driver", "wedge", "putter"),
    "coordinates": ("pixels", "normalised", "metres"),
    "format": (*FORMATS, "none"),
    "layout": (*LAYOUTS, list(ANATOMICAL), [None] * 17, ["nose", "nose"], "coco"),
    "client_reference": ("mine", "x" * 201),
    "image_size": ({"width": 1, "height": 1}, {"width": 1e5, "height": 1}, {"width": 1080}),
}
_MOST_FRAMES: Final[int] = 700

Request = dict[str, Any]


def case(corpus: Mapping[str, bytes], seed: int, number: int) -> tuple[bytes, bool]:
    """The body of a case, and whether it is sent as gzip."""
    rng = Random(f"{seed}/{number}")
    request: Request = json.loads(corpus[rng.choice(sorted(corpus))])
    for _ in range(rng.choice((1, 1, 1, 1, 2, 4))):
        request = rng.choice(_WHOLE)(request, rng)
    body = json.dumps(request, separators=(",", ":")).encode(errors="surrogatepass")
    if rng.random() < 0.08:
        body = _bytes_bent(body, rng)
    if rng.random() < 0.1:
        packed = gzip.compress(body, 1, mtime=0)
        return (_bytes_bent(packed, rng) if rng.random() < 0.7 else packed), True
    return body, False


def _field(request: Request, rng: Random) -> Request:
    name = rng.choice(sorted(_FIELDS))
    request[name] = rng.choice(_FIELDS[name])
    return request


def _nasty_field(request: Request, rng: Random) -> Request:
    names = (*request, *_FIELDS, "timestamps", "club_points", "strange")
    request[rng.choice(names)] = copy.deepcopy(rng.choice(NASTY))
    return request


def _field_gone(request: Request, rng: Random) -> Request:
    if request:
        del request[rng.choice(sorted(request))]
    return request


def _node(request: Request, rng: Random) -> Request:
    """Somewhere deep inside, something else."""
    for _ in range(rng.choice((1, 1, 3, 30))):
        place = _place(request, rng)
        if place is not None:
            within, key = place
            within[key] = _bent(within[key], rng)
    return request


def _place(root: Any, rng: Random) -> tuple[Any, Any] | None:
    found, at = None, root
    while isinstance(at, dict | list) and at:
        key = rng.choice(sorted(at)) if isinstance(at, dict) else rng.randrange(len(at))
        found, at = (at, key), at[key]
        if rng.random() < 0.15:
            break
    return found


def _bent(value: Any, rng: Random) -> Any:
    if isinstance(value, list) and value and rng.random() < 0.6:
        k = rng.randrange(len(value))
        return rng.choice(
            (value[:k], value[k:], value + value[k:], value[::-1], [*value, value[k]], [value])
        )
    if isinstance(value, float) and math.isfinite(value) and rng.random() < 0.5:
        return rng.choice((-value, value * 1e6, value + 1e-9, round(value), value / 1e9))
    return copy.deepcopy(rng.choice(NASTY))


def _frames_bent(request: Request, rng: Random) -> Request:
    """Frames lost, doubled, exchanged, turned round or standing still."""
    frames = request.get("keypoints")
    if not isinstance(frames, list) or not frames:
        return request
    n, k = len(frames), rng.randrange(len(frames))
    other = rng.randrange(n)
    span = slice(min(k, other), max(k, other) + 1)
    bent: list[Any] = rng.choice(
        (
            frames[span],
            frames[::-1],
            frames[:k] + [frames[k]] * rng.choice((3, 30, 200)) + frames[k:],
            [frames[k]] * n,
            rng.sample(frames, n),
            frames[:: rng.choice((2, 3, 5))],
            frames[: span.start] + frames[span][::-1] + frames[span.stop :],
            frames + frames,
            frames[span] * 4,
            frames[:12],
        )
    )
    request["keypoints"] = bent[:_MOST_FRAMES]
    return request


def _timed(request: Request, rng: Random) -> Request:
    """Times of frames, from sound to impossible."""
    frames = request.get("keypoints")
    n = len(frames) if isinstance(frames, list | dict) else 40
    step = rng.choice((1 / 240, 1 / 30, 1.0, 1e-10, 1e-3, 100.0))
    times = [k * step for k in range(n)]
    match rng.randrange(6):
        case 0:
            times = [t * rng.choice((1.0, 1.0 + 1e-12)) for t in times]
        case 1:
            k = rng.randrange(max(n, 1))
            gap = rng.choice((2.5, 1e-9, 1e6, -1.0))
            times = [t + gap * (i >= k) for i, t in enumerate(times)]
        case 2:
            times = [t + rng.uniform(-0.4, 0.4) * step for t in times]
        case 3:
            times = [t + 1.7e9 for t in times]
        case 4:
            times = sorted(rng.random() for _ in times)
        case _:
            times = times[: rng.randrange(n + 1)]
    request.pop("fps", None)
    request["timestamps"] = times
    return request


def _points_bent(request: Request, rng: Random) -> Request:
    """Every number of the points taken through one function."""
    about, scale = (
        rng.uniform(-3000, 3000),
        rng.choice((1e-300, 1e-6, 0.01, 0.5, 100.0, 1e9, 1e300)),
    )
    noise = rng.choice((0.01, 1.0, 30.0, 1000.0))
    lost = rng.choice((0.05, 0.5, 0.9, 1.0))
    ways: tuple[Callable[[float], Any], ...] = (
        lambda v: v * scale,
        lambda v: v + about,
        lambda v: v + rng.gauss(0.0, noise),
        lambda v: -v,
        lambda v: round(v),
        lambda v: None if rng.random() < lost else v,
        lambda v: 0.0 if rng.random() < lost else v,
        lambda v: rng.choice((0.0, 1.0)),
        lambda v: about,
        lambda v: math.copysign(abs(v) ** 0.5, v),
    )
    request["keypoints"] = _each(request.get("keypoints"), rng.choice(ways))
    return request


def _each(value: Any, way: Callable[[float], Any]) -> Any:
    match value:
        case float():
            told = way(value) if math.isfinite(value) else value
            return told if told is None or math.isfinite(told) else 1e308
        case list():
            return [_each(each, way) for each in value]
        case dict():
            return {name: _each(each, way) for name, each in value.items()}
        case _:
            return value


def _column_gone(request: Request, rng: Random) -> Request:
    """One joint or several, in every frame or in many, missing or elsewhere."""
    frames = request.get("keypoints")
    if not isinstance(frames, list):
        return request
    share, many = rng.choice((0.2, 0.7, 1.0)), rng.choice((1, 2, 8))
    columns = {rng.randrange(33) for _ in range(many)}
    put = rng.choice((None, [0.0, 0.0, 0.0], [5.0, 5.0, 0.9]))
    for frame in frames:
        if isinstance(frame, list) and rng.random() < share:
            for k in columns & set(range(len(frame))):
                frame[k] = copy.deepcopy(put)
    return request


def _bytes_bent(body: bytes, rng: Random) -> bytes:
    k = rng.randrange(len(body) + 1)
    size = rng.choice((1, 2, 8, 200))
    match rng.randrange(8):
        case 0:
            return body[:k]
        case 1:
            return body[:k] + rng.randbytes(size) + body[k:]
        case 2:
            return body[:k] + rng.randbytes(size) + body[k + size :]
        case 3:
            return body[:k] + body[k + size :]
        case 4:
            return body[:k] + body[k : k + size] * 50 + body[k + size :]
        case 5:
            deep = rng.choice((10, 200, 100_000))
            return body[:k] + rng.choice((b"[", b'{"a":', b"[[],")) * deep + body[k:]
        case 6:
            return body[:k] + b"9" * rng.choice((20, 400, 5000)) + body[k:]
        case _:
            return rng.choice((b"", b"null", b"[]", b"{}", b"\xff\xfe", b'"x"', b"0", b"NaN"))


_WHOLE: Final = (
    *(_field, _field, _nasty_field, _field_gone, _node, _timed, _timed),
    *(_frames_bent, _frames_bent, _frames_bent),
    *(_points_bent, _points_bent, _points_bent),
    *(_column_gone, _column_gone),
)
