"""Body and feet, 25 points."""

from __future__ import annotations

from typing import Final

from service.analysis.bibliography import cite
from service.analysis.pose.layouts.layout import Layout, whole_side

LAYOUT: Final = Layout(
    name="body_25",
    title="Body and feet, 25 points",
    joints=(
        "nose",
        "neck",
        *whole_side("right", "shoulder", "elbow", "wrist"),
        *whole_side("left", "shoulder", "elbow", "wrist"),
        "mid_hip",
        *whole_side("right", "hip", "knee", "ankle"),
        *whole_side("left", "hip", "knee", "ankle"),
        *("right_eye", "left_eye", "right_ear", "left_ear"),
        *whole_side("left", "toe", "small_toe", "heel"),
        *whole_side("right", "toe", "small_toe", "heel"),
    ),
    source=cite("cao2021"),
)
