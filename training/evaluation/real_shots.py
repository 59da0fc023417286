"""Shapes of real golfers: which columns of the reference's shots we understand, and how to take
the same shapes from a picture of our own.

The file is that of [caddieset2025]: joint features of shots by eight golfers of
mixed skill. It is research data, lies outside the project and is looked for where
``SWING_REFERENCE_DIR`` says.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from service.analysis.pose.geometry import distance, elevation, joint_angle, midpoint
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

Measure = Callable[[FloatArray], FloatArray]
"""Canonical image points of shape (n, N_POINTS, 2), y up, to values of shape (n,)."""

_FILE: Final = "shot_features.csv"
_VIEWS: Final = {"FACEON": View.FACE_ON, "DTL": View.DOWN_THE_LINE}

# The file's inner angles are arc cosines of cosines told to two decimals: what is straighter
# than this reads 180 there, which is also what a failure of its estimator reads.
_STRAIGHT: Final = float(np.degrees(np.arccos(-0.995)))
# Down the line its hips lie about a dozen pixels apart, so that a flatter line reads 0.
_FLAT_HIPS: Final = 2.4


@dataclass(frozen=True)
class Shape:
    """One feature of a body at one position, seen from one side.

    Attributes
    ----------
    name : str
        Ours, with the position in it.
    column : str
        The file's.
    within : tuple of two floats
        What lies on or outside of these is dropped, real or simulated.
    note : str
        What is not sure about it.
    """

    name: str
    view: View
    position: int
    column: str
    unit: str
    measure: Measure
    within: tuple[float, float]
    note: str = ""

    def usable(self, values: FloatArray) -> FloatArray:
        """Values that are no failure of a pose estimator."""
        low, high = self.within
        return values[np.isfinite(values) & (values > low) & (values < high)]


def reference_folder() -> Path:
    """Where the reference data is looked for."""
    return Path(os.environ.get("SWING_REFERENCE_DIR", "../shared/reference"))


def read_shots(path: Path | None = None) -> dict[str, FloatArray]:
    """Usable values of every shape, by its name.

    Raises
    ------
    FileNotFoundError
        Without the reference data.
    """
    with ((path or reference_folder()) / _FILE).open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {
        shape.name: shape.usable(
            np.array([_number(row[shape.column]) for row in rows if _is_of(row, shape.view)])
        )
        for shape in SHAPES
    }


def _is_of(row: dict[str, str], view: View) -> bool:
    return _VIEWS.get(row["View"]) is view


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _inner(proximal: Point, joint: Point, distal: Point) -> Measure:
    def measure(points: FloatArray) -> FloatArray:
        return joint_angle(points[:, proximal], points[:, joint], points[:, distal])

    return measure


def _tilt(lead: Point) -> Measure:
    """Tilt of the line between the two sides of a joint, whichever side is higher."""

    def measure(points: FloatArray) -> FloatArray:
        return np.abs(elevation(points[:, lead + 1], points[:, lead]))

    return measure


def _trunk_rise(points: FloatArray) -> FloatArray:
    hips = midpoint(points[:, Point.LEAD_HIP], points[:, Point.TRAIL_HIP])
    shoulders = midpoint(points[:, Point.LEAD_SHOULDER], points[:, Point.TRAIL_SHOULDER])
    return np.abs(elevation(hips, shoulders))


def _stance_width(points: FloatArray) -> FloatArray:
    shoulders = distance(points[:, Point.LEAD_SHOULDER], points[:, Point.TRAIL_SHOULDER])
    return distance(points[:, Point.LEAD_ANKLE], points[:, Point.TRAIL_ANKLE]) / shoulders


_LEAD_ELBOW = _inner(Point.LEAD_SHOULDER, Point.LEAD_ELBOW, Point.LEAD_WRIST)
_TRAIL_ELBOW = _inner(Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW, Point.TRAIL_WRIST)
_LEAD_KNEE = _inner(Point.LEAD_HIP, Point.LEAD_KNEE, Point.LEAD_ANKLE)
_TRAIL_KNEE = _inner(Point.TRAIL_HIP, Point.TRAIL_KNEE, Point.TRAIL_ANKLE)
_TRAIL_ARMPIT = _inner(Point.TRAIL_ELBOW, Point.TRAIL_SHOULDER, Point.TRAIL_HIP)
_SHOULDERS = _tilt(Point.LEAD_SHOULDER)
_HIPS = _tilt(Point.LEAD_HIP)

_INNER, _LINE, _HIP_LINE, _TRUNK, _RATIO = (
    (0.0, _STRAIGHT),
    (0.0, 90.0),
    (_FLAT_HIPS, 90.0),
    (0.0, 90.1),
    (0.0, 10.0),
)
_FO, _DTL = View.FACE_ON, View.DOWN_THE_LINE
_ARMPIT_NOTE = "taken as the angle between upper arm and trunk side; the file does not say"
_KNEE_NOTE = "the file does not say which knee; taken as the trail one, nearer the camera"
_TRUNK_NOTE = "middle of the hips to middle of the shoulders, from the horizontal"

# Event N of the file is P1, P2, P3, P4, P5, P7, P8, P10 in turn (from its authors' description).
_TABLE: Final[tuple[tuple[View, int, str, str, Measure, tuple[float, float], str], ...]] = (
    (_FO, 1, "0-SHOULDER-ANGLE", "shoulder tilt", _SHOULDERS, _LINE, ""),
    (_FO, 1, "0-STANCE-RATIO", "stance width", _stance_width, _RATIO, "ankles over shoulders"),
    (_FO, 2, "1-LEFT-ARM-ANGLE", "lead elbow", _LEAD_ELBOW, _INNER, ""),
    (_FO, 2, "1-RIGHT-ARM-ANGLE", "trail elbow", _TRAIL_ELBOW, _INNER, ""),
    (_FO, 3, "2-LEFT-ARM-ANGLE", "lead elbow", _LEAD_ELBOW, _INNER, ""),
    (_FO, 4, "3-RIGHT-LEG-ANGLE", "trail knee", _TRAIL_KNEE, _INNER, ""),
    (_FO, 5, "4-RIGHT-ARMPIT-ANGLE", "trail armpit", _TRAIL_ARMPIT, _INNER, _ARMPIT_NOTE),
    (_FO, 7, "5-LEFT-ARM-ANGLE", "lead elbow", _LEAD_ELBOW, _INNER, ""),
    (_FO, 7, "5-RIGHT-ARM-ANGLE", "trail elbow", _TRAIL_ELBOW, _INNER, ""),
    (_FO, 7, "5-SHOULDER-ANGLE", "shoulder tilt", _SHOULDERS, _LINE, ""),
    (_FO, 8, "6-LEFT-ARM-ANGLE", "lead elbow", _LEAD_ELBOW, _INNER, ""),
    (_FO, 8, "6-RIGHT-LEG-ANGLE", "trail knee", _TRAIL_KNEE, _INNER, ""),
    (_DTL, 1, "0-LOWER-ANGLE", "trail knee", _TRAIL_KNEE, _INNER, _KNEE_NOTE),
    (_DTL, 1, "0-SPINE-ANGLE", "trunk", _trunk_rise, _TRUNK, _TRUNK_NOTE),
    (_DTL, 2, "1-LEFT-ARM-ANGLE", "lead elbow", _LEAD_ELBOW, _INNER, ""),
    (_DTL, 2, "1-RIGHT-ARM-ANGLE", "trail elbow", _TRAIL_ELBOW, _INNER, ""),
    (_DTL, 2, "1-SHOULDER-ANGLE", "shoulder tilt", _SHOULDERS, _LINE, ""),
    (_DTL, 2, "1-SPINE-ANGLE", "trunk", _trunk_rise, _TRUNK, _TRUNK_NOTE),
    (_DTL, 3, "2-HIP-ANGLE", "hip tilt", _HIPS, _HIP_LINE, ""),
    (_DTL, 3, "2-SHOULDER-ANGLE", "shoulder tilt", _SHOULDERS, _LINE, ""),
    (_DTL, 4, "3-HIP-ANGLE", "hip tilt", _HIPS, _HIP_LINE, ""),
    (_DTL, 4, "3-LEFT-LEG-ANGLE", "lead knee", _LEAD_KNEE, _INNER, ""),
    (_DTL, 4, "3-RIGHT-ARM-ANGLE", "trail elbow", _TRAIL_ELBOW, _INNER, ""),
    (_DTL, 4, "3-RIGHT-LEG-ANGLE", "trail knee", _TRAIL_KNEE, _INNER, ""),
    (_DTL, 4, "3-SHOULDER-ANGLE", "shoulder tilt", _SHOULDERS, _LINE, ""),
    (_DTL, 5, "4-HIP-ANGLE", "hip tilt", _HIPS, _HIP_LINE, ""),
    (_DTL, 5, "4-RIGHT-ARM-ANGLE", "trail elbow", _TRAIL_ELBOW, _INNER, ""),
    (_DTL, 5, "4-SPINE-ANGLE", "trunk", _trunk_rise, _TRUNK, _TRUNK_NOTE),
    (_DTL, 7, "5-LEFT-LEG-ANGLE", "lead knee", _LEAD_KNEE, _INNER, ""),
    (_DTL, 7, "5-SHOULDER-ANGLE", "shoulder tilt", _SHOULDERS, _LINE, ""),
    (_DTL, 7, "5-SPINE-ANGLE", "trunk", _trunk_rise, _TRUNK, _TRUNK_NOTE),
    (_DTL, 8, "6-HIP-ANGLE", "hip tilt", _HIPS, _HIP_LINE, ""),
    (_DTL, 8, "6-SHOULDER-ANGLE", "shoulder tilt", _SHOULDERS, _LINE, ""),
    (_DTL, 8, "6-SPINE-ANGLE", "trunk", _trunk_rise, _TRUNK, _TRUNK_NOTE),
    (_DTL, 10, "7-HIP-ANGLE", "hip tilt", _HIPS, _HIP_LINE, ""),
    (_DTL, 10, "7-SHOULDER-ANGLE", "shoulder tilt", _SHOULDERS, _LINE, ""),
    (_DTL, 10, "7-SPINE-ANGLE", "trunk", _trunk_rise, _TRUNK, _TRUNK_NOTE),
)


def _words(view: View) -> str:
    return view.value.replace("_", " ")


SHAPES: Final[tuple[Shape, ...]] = tuple(
    Shape(
        name=f"{_words(view)}, P{position}, {title}",
        view=view,
        position=position,
        column=column,
        unit="ratio" if within is _RATIO else "degrees",
        measure=measure,
        within=within,
        note=note,
    )
    for view, position, column, title, measure, within, note in _TABLE
)
"""Every shape that both the file and the simulator tell."""

# In turn the columns UPPER-TILT; HEAD-LOC, HIP-SHIFTED and HIP-LINE; SHOULDER-LOC; HIP-ROTATION;
# HIP- and SHOULDER-HANGING-BACK; RIGHT-DISTANCE; WEIGHT-SHIFT and FINISH-ANGLE.
LEFT_OUT: Final[tuple[str, ...]] = (
    "lean of the upper body at P1 and P3, told as a ratio of 0.4 to 0.9 without saying of what",
    "shifts of head and hips since address, in a width that is not named",
    "an angle of the shoulders that grows from P2 to P4, between lines that are not named",
    "turn of the hips: 4 to 20 at the top is too little for a turn, and there is a heap near 175",
    "hips and shoulders hanging back, a share of the stance from a point that is not named",
    "a distance on the trail side at the top, in a width that is not named",
    "weight shift at P8 and the angle at the finish, between lines that are not named",
)
"""What the file tells besides and is not compared, and why."""
