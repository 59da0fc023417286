"""The lesson: what changed, what to work on, and how the player gets on.

Domain only: analyses in, frozen dataclasses out; knows nothing of HTTP, files or
databases.
"""

from service.lessons.alignment import Alignment, align
from service.lessons.causes import GRAPH, CausalGraph, Link
from service.lessons.comparison import (
    Comparison,
    FaultChange,
    MeasureChange,
    Verdict,
    compare,
)
from service.lessons.errors import (
    DifferentViews,
    NoSwingFound,
    NotComparable,
    TooFewSwings,
    WrongIntent,
)
from service.lessons.estimates import Estimate
from service.lessons.progress import (
    Course,
    FaultPoint,
    FaultProgress,
    MeasurePoint,
    MeasureProgress,
    Progress,
    follow_up,
)
from service.lessons.rehearsal import Outcome, Transfer, what_holds
from service.lessons.story import (
    Chapter,
    Compensation,
    Keep,
    Priority,
    Story,
    Unseen,
    VideoCheck,
    tell,
)
from service.lessons.swings import Lesson, LessonSwing, Settled, settle

__all__ = [
    "GRAPH",
    "Alignment",
    "CausalGraph",
    "Chapter",
    "Comparison",
    "Compensation",
    "Course",
    "DifferentViews",
    "Estimate",
    "FaultChange",
    "FaultPoint",
    "FaultProgress",
    "Keep",
    "Lesson",
    "LessonSwing",
    "Link",
    "MeasureChange",
    "MeasurePoint",
    "MeasureProgress",
    "NoSwingFound",
    "NotComparable",
    "Outcome",
    "Priority",
    "Progress",
    "Settled",
    "Story",
    "TooFewSwings",
    "Transfer",
    "Unseen",
    "Verdict",
    "VideoCheck",
    "WrongIntent",
    "align",
    "compare",
    "follow_up",
    "settle",
    "tell",
    "what_holds",
]
