"""What a picture needs."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from service.analysis.types import SwingAnalysis, SwingRecording

_EMBEDDED: Final = re.compile(r"data:image/(jpeg|png);base64,[A-Za-z0-9+/]+=*")


@dataclass(frozen=True)
class Still:
    """One frame of the film, to lie under a drawing.

    Attributes
    ----------
    uri
        The image itself as a ``data:`` address of JPEG or PNG, so that nothing is fetched.
    width, height, left, top
        The part of the film's picture that it covers, in the unit of the recording's points.

    Raises
    ------
    ValueError
        When ``uri`` is anything else.
    """

    uri: str
    width: float
    height: float
    left: float = 0.0
    top: float = 0.0

    def __post_init__(self) -> None:
        if not _EMBEDDED.fullmatch(self.uri):
            raise ValueError("A still is embedded: data:image/jpeg;base64,... or image/png.")


@dataclass(frozen=True)
class Clip:
    """A clip with what was found in it.

    ``reference`` is what the client calls it, ``None`` where it has no name. ``stills`` are the
    frames of which an image was kept, by frame number.
    """

    reference: str | None
    recording: SwingRecording
    analysis: SwingAnalysis
    stills: Mapping[int, Still] = field(default_factory=dict)
