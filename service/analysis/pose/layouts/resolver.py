"""Published skeletons, and other spellings of a point's name, to anatomical names.

A layout says what each column of a pose estimator's output is. It is given by the name
of a published skeleton, or as a list with one name a column; either way it comes out as
a tuple with one entry a column: a name from :data:`service.analysis.pose.points.ANATOMICAL`,
or ``None`` for a column that is not used. Points that a layout lacks but that follow
from others, such as the middle of the hips, are not made here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.layouts.layout import Layout
from service.analysis.pose.layouts.published import LAYOUTS
from service.analysis.pose.points import ANATOMICAL, N_POINTS
from service.analysis.spelling import did_you_mean, plain_name
from service.analysis.types import FloatArray


class LayoutError(ValueError):
    """A layout that can't be used.

    Attributes
    ----------
    index : int or None
        The column at fault, zero-based; ``None`` when the layout as a whole is.
    """

    def __init__(self, message: str, index: int | None = None) -> None:
        super().__init__(message)
        self.index = index


class UnknownLayout(LayoutError):
    """No published skeleton has the name given."""


class UnknownJoint(LayoutError):
    """A list of names holds one that is neither a point nor an alias of one."""


class DuplicateJoint(LayoutError):
    """Two columns of a list name the same point."""


_JOINT_SYNONYMS: Mapping[str, tuple[str, ...]] = {
    "hand": ("index", "index_knuckle", "index_mcp"),
    "toe": ("big_toe", "foot_index"),
    "small_toe": ("little_toe",),
}
_POINT_SYNONYMS: Mapping[str, tuple[str, ...]] = {
    "head": ("face", "head_center", "head_centre"),
    "head_top": ("top_of_head", "top_head"),
    "neck": ("neck_base", "mid_shoulder", "mid_shoulders", "shoulder_center", "shoulder_centre"),
    "mid_trunk": ("belly", "mid_torso", "mid_spine"),
    "mid_hip": ("hip", "mid_hips", "pelvis", "hip_center", "hip_centre"),
    "grip_end": ("butt", "butt_end", "club_butt"),
    "grip": ("hands",),
    "shaft_mid": ("mid_shaft", "shaft_center", "shaft_centre"),
}


def _sided_spellings(name: str) -> list[str]:
    side, _, joint = name.partition("_")
    words = (joint, *_JOINT_SYNONYMS.get(joint, ()))
    return [
        spelling
        for word in words
        for short in (side, side[0])
        for spelling in (f"{short}_{word}", f"{word}_{short}")
    ]


def _spellings(name: str) -> Sequence[str]:
    if name.startswith(("left_", "right_")):
        return _sided_spellings(name)
    return _POINT_SYNONYMS.get(name, ())


ALIASES: Final[Mapping[str, str]] = MappingProxyType(
    {
        spelling: name
        for name in ANATOMICAL
        for spelling in _spellings(name)
        if spelling not in ANATOMICAL
    }
)
"""Other spellings to anatomical names.

Capitals, hyphens, spaces and underscores don't matter when a name is looked up, so
``LShoulder``, ``l-shoulder`` and ``L shoulder`` all find the ``l_shoulder`` here.
"""


_LAYOUT_BY_KEY = {plain_name(name): layout for name, layout in LAYOUTS.items()}
_JOINT_BY_KEY = {
    **{plain_name(alias): name for alias, name in ALIASES.items()},
    **{plain_name(name): name for name in ANATOMICAL},
}
_POINT_NAMES: Final[tuple[str, ...]] = (*ALIASES, *ANATOMICAL)
_PUBLISHED: Final[str] = f"; published are {', '.join(LAYOUTS)}"
_IGNORED: Final[str] = "; send null for a column to ignore"


def resolve(layout: str | Sequence[str | None]) -> tuple[str | None, ...]:
    """Say what each column of a pose estimator's output is.

    Parameters
    ----------
    layout
        The name of one of :data:`LAYOUTS`, or one entry a column: an anatomical name,
        one of :data:`ALIASES`, or ``None`` for a column to ignore. In a list ``head``
        is the middle of the head, whatever an estimator calls its own points.

    Returns
    -------
    tuple with one entry a column: an anatomical name, or ``None`` where not used.

    Raises
    ------
    UnknownLayout, UnknownJoint, DuplicateJoint
        With the column's ``index`` where one is at fault.
    LayoutError
        When a list names no point at all.

    >>> resolve(["Nose", None, "LShoulder"])
    ('nose', None, 'left_shoulder')
    """
    if isinstance(layout, str):
        return _published(layout).joints
    joints = tuple(_joint(name, index) for index, name in enumerate(layout))
    _refuse_duplicates(joints)
    if not any(joints):
        raise LayoutError("it names no point; give at least one name")
    return joints


def _published(name: str) -> Layout:
    try:
        return _LAYOUT_BY_KEY[plain_name(name)]
    except KeyError:
        raise UnknownLayout(
            f"no layout is called {name!r}{did_you_mean(name, LAYOUTS) or _PUBLISHED}"
        ) from None


def _joint(name: str | None, index: int) -> str | None:
    if name is None:
        return None
    try:
        return _JOINT_BY_KEY[plain_name(name)]
    except KeyError:
        raise UnknownJoint(
            f"no point is called {name!r}{did_you_mean(name, _POINT_NAMES) or _IGNORED}",
            index,
        ) from None


def _refuse_duplicates(joints: Sequence[str | None]) -> None:
    first_column: dict[str, int] = {}
    for index, name in enumerate(joints):
        if name is None:
            continue
        first = first_column.setdefault(name, index)
        if first != index:
            raise DuplicateJoint(
                f"columns {first} and {index} both name {name!r}; "
                "name it once and send null for the column to ignore",
                index,
            )


def to_points(
    values: FloatArray, confidence: FloatArray, joints: Sequence[str | None]
) -> tuple[FloatArray, FloatArray]:
    """Sort an estimator's columns into the order of the anatomical names.

    A point is missing where a coordinate is not finite, and where x, y and confidence
    are all exactly 0, which is how COCO annotations and BODY_25 output write a point
    that was not found.

    Parameters
    ----------
    values : array of shape (n_frames, n_columns, 2)
        Coordinates in any unit.
    confidence : array of shape (n_frames, n_columns)
        From 0 to 1.
    joints
        What each column is, as :func:`resolve` gives it.

    Returns
    -------
    points : array of shape (n_frames, n_points, 2)
        In the unit received; NaN where missing.
    confidence : array of shape (n_frames, n_points)
        0 where missing.

    Raises
    ------
    LayoutError
        When the number of columns and of joints differ.
    """
    n_frames, n_columns = confidence.shape
    if n_columns != len(joints):
        raise LayoutError(f"The layout has {len(joints)} points, the frames have {n_columns}.")
    x, y = values[..., 0], values[..., 1]
    not_found = (confidence == 0) & (x == 0) & (y == 0)
    missing = not_found | ~(np.isfinite(x) & np.isfinite(y))
    # One column more, of what is missing, for the points that the layout lacks.
    told = np.full((n_frames, n_columns + 1, 2), np.nan)
    sure = np.zeros((n_frames, n_columns + 1))
    told[:, :-1], sure[:, :-1] = values, confidence
    if missing.any():
        told[:, :-1][missing], sure[:, :-1][missing] = np.nan, 0.0
    columns = _columns_of_points(tuple(joints))
    return told.take(columns, axis=1), sure.take(columns, axis=1)


@lru_cache(maxsize=64)
def _columns_of_points(joints: tuple[str | None, ...]) -> NDArray[np.intp]:
    """The column of each point, one behind the last for those that no column holds."""
    columns = np.full(N_POINTS, len(joints), dtype=np.intp)
    for column, name in enumerate(joints):
        if name is not None:
            columns[ANATOMICAL.index(name)] = column
    return columns
