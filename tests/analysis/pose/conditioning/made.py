"""Points of made-up movements, one path or all of a body."""

from __future__ import annotations

import numpy as np

from service.analysis.pose.conditioning import Conditioned, condition
from service.analysis.pose.points import ANATOMICAL, N_POINTS
from service.analysis.types import FloatArray


def sides(*joints: str) -> list[list[int]]:
    return [[ANATOMICAL.index(f"{side}_{joint}") for joint in joints] for side in ("left", "right")]


KNEE = ANATOMICAL.index("left_knee")
WRIST = ANATOMICAL.index("left_wrist")
CLUBHEAD = ANATOMICAL.index("clubhead")
LEGS = sides("knee", "ankle", "heel", "toe", "small_toe")
ARMS = sides("elbow", "wrist", "hand")


def clock(fps: float, seconds: float) -> FloatArray:
    return np.arange(round(fps * seconds)) / fps


def empty(times: FloatArray) -> FloatArray:
    return np.full((len(times), N_POINTS, 2), np.nan)


def with_path(times: FloatArray, point: int, x: FloatArray, y: FloatArray | float) -> FloatArray:
    points = empty(times)
    points[:, point, 0], points[:, point, 1] = x, y
    return points


def clean(points: FloatArray, times: FloatArray, scale: float = 1.0) -> Conditioned:
    return condition(points, np.ones(points.shape[:2]), times, scale=scale)


def lively(times: FloatArray, seed: int = 0, noise: float = 0.0) -> FloatArray:
    """All points on paths of three slow sines each, sides well apart."""
    rng = np.random.default_rng(seed)
    rate = rng.uniform(0.3, 3.0, (3, N_POINTS, 2))
    phase = rng.uniform(0, 2 * np.pi, (3, N_POINTS, 2))
    waves = 0.03 * np.sin(2 * np.pi * rate * times[:, None, None, None] + phase)
    home = np.stack([np.arange(N_POINTS) % 2 * 0.3, np.arange(N_POINTS) * 0.03], axis=1)
    points: FloatArray = home + waves.sum(axis=1)
    return points + noise * rng.standard_normal(points.shape)


def exchanged(points: FloatArray, limb: list[list[int]], first: int, last: int) -> FloatArray:
    swapped = points.copy()
    swapped[first:last, limb[0]] = points[first:last, limb[1]]
    swapped[first:last, limb[1]] = points[first:last, limb[0]]
    return swapped


def swing(times: FloatArray, radius: float) -> tuple[FloatArray, FloatArray]:
    """A full-speed arc: up in 0.8 s, down in 0.25 s, through the ball at 20 rad/s, and on.

    The angle is piecewise cubic with continuous speed; at the top it turns on the spot.
    """
    knots, angles, speeds = [0.0, 0.8, 1.05, 1.5], [0.0, -3.6, 0.0, 3.6], [0.0, 0.0, 20.0, 0.0]
    k = np.clip(np.searchsorted(knots, times, side="right") - 1, 0, 2)
    start, a0, a1 = np.take(knots, k), np.take(angles, k), np.take(angles, k + 1)
    v0, v1 = np.take(speeds, k), np.take(speeds, k + 1)
    h = np.take(knots, k + 1) - start
    u = np.clip((times - start) / h, 0, 1)
    angle = (
        a0 * (1 + 2 * u) * (1 - u) ** 2
        + h * v0 * u * (1 - u) ** 2
        + a1 * u**2 * (3 - 2 * u)
        - h * v1 * u**2 * (1 - u)
    )
    return radius * np.sin(angle), -radius * np.cos(angle)
