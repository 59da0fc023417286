"""A pinhole camera that films the golfer from one side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import FloatArray, Handedness, View
from tests.reference.stranger.golfer import Swing

DISTANCES: Final = (3.0, 4.5, 6.0)
"""Metres from the ball line or the player; common practice."""
RATES: Final = (30.0, 60.0, 120.0, 240.0)
_RATE_SHARES: Final = (0.25, 0.35, 0.2, 0.2)
"""Frames a second of phones, and how often; judgement."""
_HEIGHTS: Final = (0.52, 0.78)
"""Statures from hip to chest height; common practice."""
_AIMED_OFF: Final = 2.5
_LEANING: Final = 0.7
"""Spreads of how far a camera stands off its line and leans, degrees; judgements."""
_IN_LINE: Final = (-0.05, 0.35)
"""Statures before the player, from the ankles toward the ball, between which a camera down the line
stands; common practice: on the hands or the feet."""


@dataclass(frozen=True)
class Camera:
    """Where a camera stands: metres and degrees; ``in_line`` only counts down the line."""

    view: View
    rate: float
    distance: float
    height: float
    yaw: float
    roll: float
    in_line: float


def random_camera(rng: np.random.Generator, view: View, stature: float) -> Camera:
    """A camera as a coach sets it up."""
    return Camera(
        view=view,
        rate=float(rng.choice(RATES, p=_RATE_SHARES)),
        distance=float(rng.choice(DISTANCES)),
        height=stature * float(rng.uniform(*_HEIGHTS)),
        yaw=float(rng.normal(0.0, _AIMED_OFF)),
        roll=float(rng.normal(0.0, _LEANING)),
        in_line=stature * float(rng.uniform(*_IN_LINE)),
    )


def project(swing: Swing, camera: Camera, times: FloatArray) -> FloatArray:
    """Image points in canonical order, (n_times, N_POINTS, 2), y up, so scaled that a stature at
    the camera's distance is 1; a left-hander's are those of his mirror image, mirrored."""
    yaw, roll = np.radians(camera.yaw), np.radians(camera.roll)
    if camera.view is View.FACE_ON:
        stand = np.array([np.sin(yaw), 0.0, np.cos(yaw)])
        aim = np.zeros(3)
    else:
        stand = np.array([-np.cos(yaw), 0.0, np.sin(yaw)])
        aim = np.array([0.0, 0.0, camera.in_line])
    place = aim + camera.distance * stand + np.array([0.0, camera.height, 0.0])
    right = np.cross(-stand, [0.0, 1.0, 0.0])
    away = swing.canonical_joints(times) - place
    depth = -(away @ stand)
    u, v = (away @ right) / depth, away[..., 1] / depth
    if swing.handedness is Handedness.LEFT:
        u = -u
    leaning = np.cos(roll) * u - np.sin(roll) * v, np.sin(roll) * u + np.cos(roll) * v
    return np.stack(leaning, axis=-1) * camera.distance / swing.golfer.stature
