"""Swing analysis: numpy arrays in, frozen dataclasses out; no files, no HTTP, no database.

These are its words: faults, measures, layouts, and the forms of a swing. What analyses one is in
:mod:`service.analysis.analyse`; who only keeps or tells analyses does not wait until it is read.
"""

from service.analysis.faults import (
    CATALOGUE,
    CAUTIONS,
    MEASURES,
    Criterion,
    Direction,
    FaultDefinition,
)
from service.analysis.judging.manifest import ManifestError, ModelError
from service.analysis.pose.layouts import LAYOUTS, Layout, LayoutError, resolve, to_points
from service.analysis.types import (
    Club,
    Evidence,
    Finding,
    FootageQuality,
    Grade,
    Handedness,
    Intent,
    Judged,
    Level,
    Measurement,
    ModelVersion,
    Moment,
    Position,
    Reason,
    Remark,
    Source,
    Status,
    StoppedAt,
    SwingAnalysis,
    SwingRecording,
    SwingSpan,
    View,
)

__all__ = [
    "CATALOGUE",
    "CAUTIONS",
    "LAYOUTS",
    "MEASURES",
    "Club",
    "Criterion",
    "Direction",
    "Evidence",
    "FaultDefinition",
    "Finding",
    "FootageQuality",
    "Grade",
    "Handedness",
    "Intent",
    "Judged",
    "Layout",
    "LayoutError",
    "Level",
    "ManifestError",
    "Measurement",
    "ModelError",
    "ModelVersion",
    "Moment",
    "Position",
    "Reason",
    "Remark",
    "Source",
    "Status",
    "StoppedAt",
    "SwingAnalysis",
    "SwingRecording",
    "SwingSpan",
    "View",
    "resolve",
    "to_points",
]
