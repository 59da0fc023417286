"""Faults put on captured swings by geometry: which points go where, and when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray
from tests.reference.motion_capture.captured import ELBOWS, HANDS

_MOST: Final = 0.25
"""Metres by which a fault moves what it moves, at most."""
_SHOULDERS: Final = [Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER]
_HEAD: Final = [Point.HEAD, Point.HEAD_TOP, Point.NECK]
_PELVIS: Final = [Point.LEAD_HIP, Point.TRAIL_HIP, Point.MID_HIP]


@dataclass(frozen=True)
class Put:
    """One fault by geometry: how far (metres) which points go along which direction (x to the
    target, y up, z to the ball), between which positions and where most."""

    name: str
    moved: tuple[tuple[tuple[Point, ...], tuple[float, float, float]], ...]
    between: tuple[float, float, float]
    most: float = _MOST


PUTS: Final[tuple[Put, ...]] = (
    Put(
        "heel",
        (
            ((Point.TRAIL_HEEL,), (-0.55, 0.75, 0.35)),
            ((Point.TRAIL_ANKLE,), (-0.2, 0.4, 0.2)),
        ),
        (4.6, 6.4, 8.0),
    ),
    Put("knee", (((Point.TRAIL_KNEE,), (0.0, 0.0, 1.0)),), (4.2, 5.7, 7.5)),
    Put(
        "handle",
        ((tuple(HANDS), (0.0, 1.0, 0.0)), (tuple(ELBOWS), (0.0, 0.5, 0.0))),
        (5.6, 7.0, 8.4),
    ),
    Put(
        "drift",
        (((*_SHOULDERS, *_HEAD, *ELBOWS, *HANDS), (-1.0, 0.0, 0.0)),
         ((Point.MID_TRUNK,), (-0.5, 0.0, 0.0))),
        (1.0, 3.6, 6.0),
    ),
    Put(
        "elbows",
        (((Point.LEAD_ELBOW,), (0.6, 0.25, 0.3)), ((Point.TRAIL_ELBOW,), (-0.4, 0.0, -0.2))),
        (6.8, 8.0, 9.5),
    ),
    Put(
        "trail shoulder",
        (((Point.TRAIL_SHOULDER,), (0.0, -1.0, 0.0)), ((Point.TRAIL_ELBOW,), (0.0, -0.5, 0.0))),
        (4.8, 6.5, 7.8),
    ),
    Put(
        "arms",
        ((tuple(HANDS), (0.0, 1.0, 0.3)), (tuple(ELBOWS), (0.0, 0.6, 0.1))),
        (3.0, 4.0, 5.0),
    ),
    Put(
        "trunk",
        (((*_SHOULDERS, *_HEAD), (0.0, 0.4, -1.0)),
         ((Point.MID_TRUNK,), (0.0, 0.2, -0.5)),
         (tuple(ELBOWS), (0.0, 0.2, -0.4))),
        (4.6, 7.0, 9.0),
        0.18,
    ),
    Put(
        "pelvis",
        ((tuple(_PELVIS), (0.0, 0.0, 1.0)),
         ((Point.MID_TRUNK,), (0.0, 0.0, 0.5)),
         ((Point.LEAD_KNEE, Point.TRAIL_KNEE), (0.0, 0.0, 0.4))),
        (4.6, 6.6, 9.0),
    ),
    Put(
        "slide",
        ((tuple(_PELVIS), (1.0, 0.0, 0.0)),
         ((Point.MID_TRUNK,), (0.5, 0.0, 0.0)),
         ((Point.LEAD_KNEE, Point.TRAIL_KNEE), (0.6, 0.0, 0.0))),
        (4.4, 6.8, 9.0),
    ),
)  # fmt: skip


def put_on(joints: FloatArray, coordinate: FloatArray, faults: Mapping[str, float]) -> FloatArray:
    """Joints of shape (n, N_POINTS, 3) with faults on them, metres by the names of :data:`PUTS`.

    Parameters
    ----------
    coordinate
        Position coordinate of each frame, shape (n,).
    """
    moved = joints.copy()
    for put in PUTS:
        metres = faults.get(put.name, 0.0)
        if metres > 0.0:
            share = _bump(coordinate, *put.between)
            for points, way in put.moved:
                moved[:, list(points)] += (metres * share)[:, None, None] * np.array(way)
    return moved


def random_faults(rng: np.random.Generator) -> dict[str, float]:
    """None in one swing of four, else one or two faults of any size."""
    if rng.random() < 0.25:
        return {}
    chosen = rng.choice(len(PUTS), size=int(rng.integers(1, 3)), replace=False)
    return {PUTS[k].name: float(rng.uniform(0.0, PUTS[k].most)) for k in chosen}


def _bump(coordinate: FloatArray, start: float, most: float, end: float) -> FloatArray:
    """Smooth rise from 0 at ``start`` to 1 at ``most`` and back at ``end``."""
    way = np.interp(coordinate, [start, most, end], [0.0, 1.0, 0.0])
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * way))
