"""The catalogue of faults and the layouts, as answers."""

from __future__ import annotations

from pydantic import BaseModel, Field

from service.analysis.faults import (
    CATALOGUE,
    MEASURES,
    Criterion,
    Direction,
    FaultDefinition,
)
from service.analysis.measures.definition import Measure, Reduce
from service.analysis.pose.layouts import ALIASES, LAYOUTS, Layout
from service.analysis.pose.points import ANATOMICAL, Point
from service.analysis.types import View
from service.api.names import FaultName, MeasureName, UnitName


class WindowAnswer(BaseModel):
    """Part of the swing by position coordinate; equal ends are one position."""

    start: float
    end: float


class CriterionAnswer(BaseModel):
    """A measure against its threshold; all numbers are in `unit`."""

    measure: MeasureName
    title: str
    description: str
    unit: UnitName
    at: str = Field(description="The window in words: `P4`, or `P5-P7`.")
    window: WindowAnswer
    against: list[float] = Field(
        description="Position coordinates outside the window that it also looks at."
    )
    reduce: Reduce = Field(description="How the values in the window become one.")
    direction: Direction = Field(description="The side of the threshold that speaks for it.")
    threshold: float
    grey: float = Field(description="Half-width of the zone in which coaches would differ.")
    moderate: float = Field(description="From here on the fault is moderate.")
    marked: float = Field(description="From here on the fault is marked.")
    reference: str = Field(description="Where the threshold comes from.")
    note: str | None


class FaultAnswer(BaseModel):
    """One kind of fault."""

    name: FaultName
    title: str
    description: str
    views: list[View]
    needs: dict[View, list[str]] = Field(description="Points needed, by view.")
    criteria: dict[View, list[CriterionAnswer]] = Field(
        description="What must be met, all of it, by view. The first tells the severity."
    )
    min_frames: float = Field(
        description="How many frames the footage must have inside the window of the first "
        "criterion for the fault to be judged."
    )
    full_speed_only: bool = Field(description="Whether a slow rehearsal can't show it.")
    causes: list[str]
    checkpoint: str
    brings: list[FaultName] = Field(description="Names of faults that this one tends to bring.")
    cautions: list[str]


class MeasureKindAnswer(BaseModel):
    """What is measured, and where in the swing."""

    name: MeasureName
    title: str
    description: str
    unit: UnitName
    at: str = Field(description="The window in words: `P4`, or `P5-P7`.")
    views: list[View] = Field(description="In which it can be told.")


class CatalogueAnswer(BaseModel):
    """Every fault that the service knows, and every measure that it takes."""

    faults: list[FaultAnswer]
    measures: list[MeasureKindAnswer] = Field(
        description="Those of the criteria, and those that belong to no fault."
    )


class LayoutAnswer(BaseModel):
    """A published skeleton: what each column of a frame is."""

    name: str
    title: str
    joints: list[str | None] = Field(description="Null for a column that is not used.")
    source: str


class LayoutsAnswer(BaseModel):
    """Layouts that can be named, and the point names of one spelt out."""

    layouts: list[LayoutAnswer]
    points: list[str] = Field(description="Every point name.")
    aliases: dict[str, str] = Field(
        description="Other spellings of a point name. Capitals, hyphens, spaces and underscores "
        "don't matter."
    )


def to_catalogue() -> CatalogueAnswer:
    """Every fault and every measure."""
    return CatalogueAnswer(
        faults=[to_fault_answer(fault) for fault in CATALOGUE.values()],
        measures=[_to_measure_kind(measure) for measure in MEASURES],
    )


def to_fault_answer(fault: FaultDefinition) -> FaultAnswer:
    """One fault of the catalogue."""
    return FaultAnswer(
        name=fault.name,
        title=fault.title,
        description=fault.description,
        views=list(fault.views),
        needs={view: [_point_name(p) for p in fault.needs(view)] for view in fault.views},
        criteria={
            view: [_to_criterion_answer(c) for c in criteria]
            for view, criteria in fault.criteria.items()
        },
        min_frames=fault.min_frames,
        full_speed_only=fault.full_speed_only,
        causes=list(fault.causes),
        checkpoint=fault.checkpoint,
        brings=list(fault.brings),
        cautions=list(fault.cautions),
    )


def to_layouts_answer() -> LayoutsAnswer:
    """Every layout and every spelling."""
    return LayoutsAnswer(
        layouts=[_to_layout_answer(layout) for layout in LAYOUTS.values()],
        points=list(ANATOMICAL),
        aliases=dict(ALIASES),
    )


def _to_criterion_answer(criterion: Criterion) -> CriterionAnswer:
    measure = criterion.measure
    return CriterionAnswer(
        measure=measure.name,
        title=measure.title,
        description=measure.description,
        unit=measure.unit,
        at=measure.at,
        window=WindowAnswer(start=measure.start, end=measure.end),
        against=list(measure.against),
        reduce=measure.reduce,
        direction=criterion.direction,
        threshold=criterion.threshold,
        grey=criterion.grey,
        moderate=criterion.moderate,
        marked=criterion.marked,
        reference=criterion.reference,
        note=criterion.note,
    )


def _to_measure_kind(measure: Measure) -> MeasureKindAnswer:
    return MeasureKindAnswer(
        name=measure.name,
        title=measure.title,
        description=measure.description,
        unit=measure.unit,
        at=measure.at,
        views=list(measure.views),
    )


def _to_layout_answer(layout: Layout) -> LayoutAnswer:
    return LayoutAnswer(
        name=layout.name,
        title=layout.title,
        joints=list(layout.joints),
        source=layout.source,
    )


def _point_name(point: Point) -> str:
    return point.name.lower()
