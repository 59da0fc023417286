"""What each column of a pose estimator's output is: one file a skeleton, and the resolver."""

from service.analysis.pose.layouts.layout import Layout
from service.analysis.pose.layouts.published import LAYOUTS
from service.analysis.pose.layouts.resolver import (
    ALIASES,
    DuplicateJoint,
    LayoutError,
    UnknownJoint,
    UnknownLayout,
    resolve,
    to_points,
)

__all__ = [
    "ALIASES",
    "LAYOUTS",
    "DuplicateJoint",
    "Layout",
    "LayoutError",
    "UnknownJoint",
    "UnknownLayout",
    "resolve",
    "to_points",
]
