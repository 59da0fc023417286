"""COCO keypoints, 17 points."""

from __future__ import annotations

from typing import Final

from service.analysis.bibliography import cite
from service.analysis.pose.layouts.layout import COCO_BODY, Layout

LAYOUT: Final = Layout(
    name="coco_17",
    title="COCO keypoints, 17 points",
    joints=COCO_BODY,
    source=cite("lin2014"),
)
