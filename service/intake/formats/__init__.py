"""Formats in which pose libraries hand out keypoints: one file each, listed here.

``FORMATS`` maps the name that a caller sends to the format.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from service.intake.formats import (
    coco_annotations,
    landmarks_33,
    named_joints,
    openpose_json,
    y_x_score_17,
    yolo_pose,
)
from service.intake.formats.definition import Frame, People, Person, Point, PoseFormat

FORMATS: Final[Mapping[str, PoseFormat]] = MappingProxyType(
    {
        module.FORMAT.name: module.FORMAT
        for module in (
            landmarks_33,
            openpose_json,
            coco_annotations,
            yolo_pose,
            named_joints,
            y_x_score_17,
        )
    }
)


def detect(raw: object) -> tuple[PoseFormat, ...]:
    """The formats whose shape the keypoints have; beyond doubt only where it is one."""
    return tuple(f for f in FORMATS.values() if f.detectable and f.recognises(raw))


__all__ = ["FORMATS", "Frame", "People", "Person", "Point", "PoseFormat", "detect"]
