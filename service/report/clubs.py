"""Clubs as they are called to people."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from service.analysis.types import Club
from service.languages import sayable

CLUB_NAMES: Final[Mapping[Club, str]] = {
    Club.DRIVER: sayable("driver"),
    Club.FAIRWAY_WOOD: sayable("fairway wood"),
    Club.HYBRID: sayable("hybrid"),
    Club.LONG_IRON: sayable("long iron"),
    Club.MID_IRON: sayable("mid iron"),
    Club.SHORT_IRON: sayable("short iron"),
    Club.WEDGE: sayable("wedge"),
    Club.WOOD: sayable("wood"),
    Club.IRON: sayable("iron"),
}
