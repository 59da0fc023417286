"""COCO-WholeBody, 133 points."""

from __future__ import annotations

from typing import Final

from service.analysis.bibliography import cite
from service.analysis.pose.layouts.layout import COCO_BODY, Layout, whole_side


def _one_hand(side: str) -> tuple[str | None, ...]:
    wrist_root_and_thumb = (None,) * 5
    index_finger = (f"{side}_hand", None, None, None)
    other_fingers = (None,) * 12
    return wrist_root_and_thumb + index_finger + other_fingers


LAYOUT: Final = Layout(
    name="coco_wholebody_133",
    title="COCO-WholeBody, 133 points",
    joints=(
        *COCO_BODY,
        *whole_side("left", "toe", "small_toe", "heel"),
        *whole_side("right", "toe", "small_toe", "heel"),
        *(None,) * 68,
        *_one_hand("left"),
        *_one_hand("right"),
    ),
    source=(
        f"{cite('jin2020')} "
        "Of the face none and of each hand the first knuckle of the index finger is used."
    ),
)
