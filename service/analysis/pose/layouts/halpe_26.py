"""Halpe body and feet, 26 points."""

from __future__ import annotations

from typing import Final

from service.analysis.bibliography import cite
from service.analysis.pose.layouts.layout import COCO_BODY, Layout, left_then_right

LAYOUT: Final = Layout(
    name="halpe_26",
    title="Halpe body and feet, 26 points",
    joints=(
        *COCO_BODY,
        *("head_top", "neck", "mid_hip"),
        *left_then_right("toe", "small_toe", "heel"),
    ),
    source=(f"{cite('fang2023')} Its point called Head is the top of the head."),
)
