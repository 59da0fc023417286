"""The published skeletons, listed in the order in which they are told."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from service.analysis.pose.layouts import (
    body_25,
    coco_17,
    coco_wholebody_133,
    halpe_26,
    landmarks_33,
)
from service.analysis.pose.layouts.layout import Layout

LAYOUTS: Final[Mapping[str, Layout]] = MappingProxyType(
    {
        module.LAYOUT.name: module.LAYOUT
        for module in (coco_17, landmarks_33, halpe_26, coco_wholebody_133, body_25)
    }
)
"""Published skeletons by name, read-only."""
