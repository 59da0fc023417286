"""A report on the footage: what it allows to be judged and what to film differently."""

from service.analysis.footage.filmed import SwingFootage
from service.analysis.footage.report import inspect_clip, inspect_swings

__all__ = ["SwingFootage", "inspect_clip", "inspect_swings"]
