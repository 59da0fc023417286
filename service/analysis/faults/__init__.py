"""The fault catalogue: one file a fault, listed here in the order they are told."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from service.analysis.faults import (
    arms_lift_at_top,
    chest_stall,
    elbows_separate,
    handle_rise,
    hips_past_lead_foot,
    hips_toward_ball,
    hurried_transition,
    lead_wrist_cup,
    long_backswing,
    shaft_steep_at_top,
    trail_heel_kick,
    trail_knee_drive,
    trail_shoulder_drop,
    trunk_straightens,
    upper_body_drift,
    wrists_open_early,
)
from service.analysis.faults.definition import (
    CAUTIONS,
    Criterion,
    Direction,
    FaultDefinition,
)
from service.analysis.measures.definition import Measure
from service.analysis.measures.general import GENERAL

CATALOGUE: Final[Mapping[str, FaultDefinition]] = MappingProxyType(
    {
        module.DEFINITION.name: module.DEFINITION
        for module in (
            arms_lift_at_top,
            shaft_steep_at_top,
            trail_heel_kick,
            elbows_separate,
            lead_wrist_cup,
            trail_shoulder_drop,
            handle_rise,
            trail_knee_drive,
            upper_body_drift,
            long_backswing,
            hurried_transition,
            chest_stall,
            trunk_straightens,
            hips_toward_ball,
            hips_past_lead_foot,
            wrists_open_early,
        )
    }
)
"""The faults by name, in the order in which they are told; read-only."""

MEASURES: Final[tuple[Measure, ...]] = tuple(
    {
        measure.name: measure
        for measure in (
            *(
                criterion.measure
                for definition in CATALOGUE.values()
                for criteria in definition.criteria.values()
                for criterion in criteria
            ),
            *GENERAL,
        )
    }.values()
)
"""Every measure the service takes, those of the faults first."""

__all__ = [
    "CATALOGUE",
    "CAUTIONS",
    "MEASURES",
    "Criterion",
    "Direction",
    "FaultDefinition",
    "title_of",
]


def title_of(fault: str) -> str:
    """A fault's title; its name where the catalogue no longer has it, as in older records.

    >>> title_of("handle_rise"), title_of("one_that_was")
    ('Handle rising at impact', 'one_that_was')
    """
    return CATALOGUE[fault].title if fault in CATALOGUE else fault
