"""What a published skeleton is, and shorthand for its columns."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Layout:
    """A published skeleton.

    Attributes
    ----------
    name, title
        ``name`` is what a caller sends, ``title`` what a reader sees.
    joints
        One entry a column: an anatomical name, or ``None`` for a point we don't use.
    source
        Where the order of the columns is published.
    """

    name: str
    title: str
    joints: tuple[str | None, ...]
    source: str


def left_then_right(*joints: str) -> tuple[str, ...]:
    """Each joint of the left and then of the right side.

    >>> left_then_right("knee", "ankle")
    ('left_knee', 'right_knee', 'left_ankle', 'right_ankle')
    """
    return tuple(f"{side}_{joint}" for joint in joints for side in ("left", "right"))


def whole_side(side: str, *joints: str) -> tuple[str, ...]:
    """All joints of one side.

    >>> whole_side("left", "knee", "ankle")
    ('left_knee', 'left_ankle')
    """
    return tuple(f"{side}_{joint}" for joint in joints)


COCO_BODY = (
    "nose",
    *left_then_right("eye", "ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle"),
)
"""The seventeen body points of COCO, with which several larger layouts begin."""
