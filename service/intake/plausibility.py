"""Mistakes that would be answered silently and wrongly: units, axes, a picture on its side.

What is looked at is the direction from the feet to the head, which points up the picture of
anybody who stands, and the size of the numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import BoolArray, FloatArray
from service.intake.errors import Complaints

_HEAD: Final[tuple[Point, ...]] = (
    Point.NOSE,
    Point.NECK,
    Point.LEAD_EAR,
    Point.TRAIL_EAR,
    Point.LEAD_SHOULDER,
    Point.TRAIL_SHOULDER,
)
_FEET: Final[tuple[Point, ...]] = (
    Point.LEAD_ANKLE,
    Point.TRAIL_ANKLE,
    Point.LEAD_KNEE,
    Point.TRAIL_KNEE,
)
_MOSTLY: Final[float] = 0.8
"""Share of the frames in which the body must lie or stand on its head."""
_LYING: Final[float] = 2.0
"""How many times farther across than up the head must be from the feet."""
_LEAST_SEEN: Final[float] = 0.3
"""Share of the frames in which head and feet must be seen for anything to be said."""
_LARGEST_FRACTION: Final[float] = 1.5
"""No coordinate of a frame or of a club's track beyond it: these are fractions of the image, which
may lie a little outside it. A body in pixels is never so small."""
_OUTSIDE: Final[float] = 0.25
"""How far outside the image a joint may lie that is told in fractions of it. Metres about the hips,
which have no image, reach farther to the negative side."""
_PIXELS: Final[float] = 10.0
"""Some coordinate beyond it: these are pixels."""


def refuse_unit_square(values: FloatArray, complaints: Complaints) -> None:
    """Complain of pixels that all lie about within 0 and 1, or 0 and 100: they are fractions of the
    image, or percent of it.

    Parameters
    ----------
    values : array of shape (n_frames, n_columns, 2)
        As sent; NaN where missing.
    """
    least = np.fmin.reduce(values, axis=None, initial=np.inf)
    most = np.fmax.reduce(values, axis=None, initial=-np.inf)
    told = f"coordinates from {least:.2g} to {most:.3g} are"
    if least >= -_OUTSIDE and 0.0 < most <= 1.0 + _OUTSIDE:
        complaints.add(
            "/coordinates",
            f"means pixels, but {told} fractions of the image",
            "Send coordinates: normalised, and image_size with the video's width and height.",
        )
    elif least >= -100.0 * _OUTSIDE and _PIXELS < most <= 100.0:
        complaints.add(
            "/keypoints",
            f"should be pixels, but {told} percent of the image, or of a picture too small to "
            "show a swing",
            "Send pixels of the film; or divide by 100 what is in percent, and send coordinates: "
            "normalised, and image_size with the video's width and height.",
        )


def refuse_mixed_units(
    body: FloatArray, club: Mapping[str, FloatArray], complaints: Complaints
) -> None:
    """Complain of frames, or points of the club, in another unit than the rest.

    Parameters
    ----------
    body : array of shape (n_frames, n_columns, 2)
        As sent; NaN where missing.
    club
        By the name of the point arrays of shape (n_frames, 1, 2), likewise.
    """
    size = _size(body.reshape(len(body), -1).T)
    small, large = size <= _LARGEST_FRACTION, size > _PIXELS
    if small.any() and large.any():
        one, other = int(np.argmax(small)), int(np.argmax(large))
        complaints.add(
            f"/keypoints/{one}",
            f"has coordinates within 0 and 1, frame {other} has pixels",
            "Send every frame in the same unit.",
        )
        return
    whole = float(_size(body.reshape(-1))) if club else 0.0
    for name, values in club.items():
        own = float(_size(values.reshape(-1)))
        if min(own, whole) <= _LARGEST_FRACTION and max(own, whole) > _PIXELS:
            units = ("fractions of the image", "pixels")
            mine, bodys = units if own < whole else units[::-1]
            complaints.add(
                f"/club_points/{name}",
                f"is in {mine}, the body in {bodys}",
                "Send club_points in the unit of keypoints.",
            )


def _size(values: FloatArray) -> FloatArray:
    """Largest coordinate by size along the first axis; NaN where all are one number, which stands
    for "not found".
    """
    values = np.ascontiguousarray(values)  # whole rows against each other go several times as fast
    least = np.fmin.reduce(values, initial=np.inf)
    most = np.fmax.reduce(values, initial=-np.inf)
    return np.where(most > least, np.maximum(most, -least), np.nan)


def refuse_wrong_axes(points: FloatArray, turned: bool, complaints: Complaints) -> None:
    """Complain of a body on its head or lying on its side through the film.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Anatomical order, pixels, y down as a request should have it.
    turned
        Whether they were sent in a format in which y grows upwards.
    """
    up = _mean(points, _HEAD) - _mean(points, _FEET)
    seen = ~np.isnan(up[0] + up[1])
    if np.count_nonzero(seen) < _LEAST_SEEN * seen.size:
        return
    across, down = np.abs(up[0, seen]), up[1, seen]
    if _mostly(across > _LYING * np.abs(down)):
        complaints.add(
            "/keypoints",
            "shows the feet beside the head: x and y are exchanged, or the picture lies on its "
            "side",
            "Send x before y, and turn the picture upright as the video's rotation flag says.",
        )
    elif _mostly(down > across) and turned:
        complaints.add(
            "/keypoints",
            "shows the feet above the head: joints by name are read with y growing upwards, from "
            "the lower left corner",
            "Send y growing upwards; or, where it grows down the image, a list of points a frame, "
            "and the joints' names, in the same order, as layout.",
        )
    elif _mostly(down > across):
        complaints.add(
            "/keypoints",
            "shows the feet above the head: y grows upwards, or the picture is upside down",
            "Send y growing down the image, its height minus y; turn a picture that is upside "
            "down as the video's rotation flag says.",
        )


def _mean(points: FloatArray, chosen: tuple[Point, ...]) -> FloatArray:
    """Mean of the points that are seen, shape (2, n_frames); NaN where none is."""
    some = points.T.take(chosen, axis=1)
    lost = np.isnan(some)
    count = len(chosen) - np.add.reduce(lost, axis=1)
    total = np.add.reduce(np.where(lost, 0.0, some), axis=1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _mostly(found: BoolArray) -> bool:
    return bool(np.count_nonzero(found) >= _MOSTLY * found.size)
