"""Example requests that show each fault in each view, a sound swing, none, and bad points.

They are made up, written by ``python -m training.fault_examples`` for the model that is served,
and shipped with the package. The requests are plain bodies of ``/v1/swings/analyze``.
"""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from types import MappingProxyType
from typing import Final

from service.analysis.faults import CATALOGUE
from service.analysis.types import View

CLEAN: Final[str] = "clean"
NO_SWING: Final[str] = "no_swing"
BAD_POINTS: Final[str] = "bad_points"


@dataclass(frozen=True)
class Example:
    """A request that is answered in a known way.

    Attributes
    ----------
    shows
        A fault, or :data:`CLEAN`, :data:`NO_SWING` or :data:`BAD_POINTS`.
    status
        Of the answer.
    present
        The faults that are found, and no others.
    """

    shows: str
    view: View | None
    status: int = 200
    swing_found: bool = True
    present: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Its name, which is that of its file too."""
        return self.shows if self.view is None else f"{self.shows}-{self.view.value}"

    @property
    def file(self) -> str:
        """Name of its file in this package."""
        return f"{self.name}.json.gz"

    def is_there(self) -> bool:
        """Whether a request was found that shows it, and nothing else, with the model served."""
        return (resources.files(__name__) / self.file).is_file()

    def request(self) -> bytes:
        """The request as JSON text."""
        return gzip.decompress((resources.files(__name__) / self.file).read_bytes())


def wanted() -> list[Example]:
    """Every example that there should be."""
    shown = [
        Example(name, view, present=(name,))
        for name, fault in CATALOGUE.items()
        for view in fault.views
    ]
    clean = [Example(CLEAN, view) for view in View]
    no_swing = Example(NO_SWING, None, swing_found=False)
    bad = Example(BAD_POINTS, None, status=422, swing_found=False)
    return [*shown, *clean, no_swing, bad]


EXAMPLES: Final[Mapping[str, Example]] = MappingProxyType(
    {example.name: example for example in wanted() if example.is_there()}
)
"""Every example that there is, by its name."""
