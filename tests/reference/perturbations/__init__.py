"""Changes to real clips: such as set one clip apart from another, and odd footage.

Each takes a :class:`~service.analysis.types.SwingRecording` and what was found in it as it was, and
gives the changed recording, with the time in the clip as it was of every frame where that differs.
"""

from collections.abc import Mapping
from typing import Final

from tests.reference.perturbations.change import Film, Perturbation
from tests.reference.perturbations.ways.handed_on import HANDED_ON
from tests.reference.perturbations.ways.lost import LOST
from tests.reference.perturbations.ways.odd import ODD
from tests.reference.perturbations.ways.sent import SENT
from tests.reference.perturbations.ways.strayed import STRAYED
from tests.reference.perturbations.ways.usual import USUAL

PERTURBATIONS: Final[Mapping[str, Perturbation]] = {
    **USUAL,
    **ODD,
    **SENT,
    **STRAYED,
    **HANDED_ON,
    **LOST,
}

__all__ = [
    "HANDED_ON",
    "LOST",
    "ODD",
    "PERTURBATIONS",
    "SENT",
    "STRAYED",
    "USUAL",
    "Film",
    "Perturbation",
]
