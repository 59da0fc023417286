"""Swing analysis: numpy arrays in, frozen dataclasses out; no files, no HTTP, no database.

These are its public names; everything else is its own affair.
"""

from service.analysis.analyse import analyse, analyse_many
from service.analysis.faults import (
    CATALOGUE,
    CAUTIONS,
    MEASURES,
    Criterion,
    Direction,
    FaultDefinition,
)
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.manifest import ManifestError, ModelError
from service.analysis.measured import MeasuredSwing, measure_swing
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
    "Classifier",
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
    "MeasuredSwing",
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
    "analyse",
    "analyse_many",
    "measure_swing",
    "resolve",
    "to_points",
]
