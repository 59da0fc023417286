"""Full-body landmarks, 33 points."""

from __future__ import annotations

from typing import Final

from service.analysis.bibliography import cite
from service.analysis.pose.layouts.layout import Layout, left_then_right

LAYOUT: Final = Layout(
    name="landmarks_33",
    title="Full-body landmarks, 33 points",
    joints=(
        "nose",
        *(None, "left_eye", None),
        *(None, "right_eye", None),
        *left_then_right("ear"),
        *(None, None),
        *left_then_right("shoulder", "elbow", "wrist"),
        *(None, None),
        *left_then_right("hand"),
        *(None, None),
        *left_then_right("hip", "knee", "ankle", "heel", "toe"),
    ),
    source=(
        f"{cite('bazarevsky2020')} "
        "Eyes have inner and outer corners beside them; mouth, little fingers and thumbs "
        "are not used."
    ),
)
