"""The lesson: what changed, what to work on, and how the player gets on.

Domain only: analyses in, frozen dataclasses out; knows nothing of HTTP, files or
databases.
"""

from service.lessons.changes.alignment import Alignment, align
from service.lessons.changes.comparison import (
    Comparison,
    FaultChange,
    MeasureChange,
    Verdict,
    compare,
)
from service.lessons.changes.rehearsal import Outcome, Transfer, transfer_to_full_speed
from service.lessons.errors import (
    DifferentViews,
    NoSwingFound,
    NotComparable,
    TooFewSwings,
    WrongIntent,
)
from service.lessons.estimates import Estimate
from service.lessons.length import Length, against_asked
from service.lessons.progress import (
    FaultPoint,
    FaultProgress,
    MeasurePoint,
    MeasureProgress,
    Progress,
    Trend,
    follow_up,
)
from service.lessons.swings import Lesson, Part, PooledFinding, finding_about, pool_findings
from service.lessons.telling.causes import GRAPH, CausalGraph, Link
from service.lessons.telling.parts import (
    Chapter,
    Compensation,
    Keep,
    PlacedKey,
    Priority,
    Story,
    Unseen,
    VideoCheck,
)
from service.lessons.telling.story import build_story

__all__ = [
    "GRAPH",
    "Alignment",
    "CausalGraph",
    "Chapter",
    "Comparison",
    "Compensation",
    "DifferentViews",
    "Estimate",
    "FaultChange",
    "FaultPoint",
    "FaultProgress",
    "Keep",
    "Length",
    "Lesson",
    "Link",
    "MeasureChange",
    "MeasurePoint",
    "MeasureProgress",
    "NoSwingFound",
    "NotComparable",
    "Outcome",
    "Part",
    "PlacedKey",
    "PooledFinding",
    "Priority",
    "Progress",
    "Story",
    "TooFewSwings",
    "Transfer",
    "Trend",
    "Unseen",
    "Verdict",
    "VideoCheck",
    "WrongIntent",
    "against_asked",
    "align",
    "build_story",
    "compare",
    "finding_about",
    "follow_up",
    "pool_findings",
    "transfer_to_full_speed",
]
