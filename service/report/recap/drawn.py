"""What the page of a lesson draws: swings, and faults over lessons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.analysis.types import View
from service.lessons import FaultProgress, MeasureProgress


@dataclass(frozen=True)
class Pictured:
    """A fault to show, where, and in which swings: ``before`` and ``after`` are their ids.

    ``before`` is ``None`` where there is no swing to hold it against. ``position`` is a
    position coordinate that each of the swings shows.
    """

    fault: str
    title: str
    view: View
    position: float
    before: str | None
    after: str


@dataclass(frozen=True)
class Charted:
    """A fault over lessons, with the measure by which it is judged first."""

    fault: FaultProgress
    measure: MeasureProgress


@dataclass(frozen=True)
class Drawn:
    """What the page draws.

    Attributes
    ----------
    own_pictures
        By the place of a key of the coach's own the id of the swing that it is drawn over.
    strip
        Id of the swing whose positions are shown along its time line; ``None`` without a swing.
    """

    pictures: tuple[Pictured, ...] = ()
    own_pictures: Mapping[int, str] = field(default_factory=dict)
    strip: str | None = None
    charts: tuple[Charted, ...] = ()

    @property
    def swings(self) -> frozenset[str]:
        """Their ids."""
        pictured = [swing for p in self.pictures for swing in (p.before, p.after)]
        pictured += [*self.own_pictures.values(), self.strip]
        return frozenset(swing for swing in pictured if swing is not None)

    @property
    def looks_back(self) -> bool:
        """Whether the charts show lessons before this one."""
        days = {point.date.date() for each in self.charts for point in each.measure.points}
        return len(days) > 1
