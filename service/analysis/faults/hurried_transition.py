"""Hurried transition."""

from __future__ import annotations

from typing import Final

from service.analysis.bibliography import cite
from service.analysis.faults.definition import Criterion, FaultDefinition
from service.analysis.measures.definition import BOTH_VIEWS
from service.analysis.measures.general import TEMPO_RATIO

_CRITERIA: Final = (
    Criterion(
        TEMPO_RATIO,
        below=2.2,
        grey=0.2,
        moderate=1.9,
        marked=1.6,
        reference=(
            f"{cite('grober2006')}: backswing to downswing about 3 to 1; "
            "the threshold itself is common practice"
        ),
    ),
)

DEFINITION: Final = FaultDefinition(
    name="hurried_transition",
    title="Hurried transition",
    description=(
        "The backswing is quick against the downswing, so that the change of direction at the "
        "top is snatched; skilled players take about three times as long going back."
    ),
    criteria=dict.fromkeys(BOTH_VIEWS, _CRITERIA),
    causes=(
        "The club is snatched away from the ball.",
        "The downswing starts before the turn back is complete.",
    ),
    checkpoint=(
        "Count an even one-two-three to the top and four at impact; rehearse slowly, then at "
        "three-quarter pace."
    ),
    brings=("shaft_steep_at_top", "wrists_open_early"),
    min_frames=4.0,
    full_speed_only=True,
    shows_at=4.0,
    kept="The backswing leaves time for the change of direction.",
)
