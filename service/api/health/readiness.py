"""Whether this instance can do its work, found out each time by doing a little of it."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Mapping
from typing import Final

import anyio
from anyio import CapacityLimiter, to_thread
from pydantic import BaseModel, Field

from service.analysis import faults
from service.records import RecordsError

LONGEST: Final[float] = 0.8
"""Seconds that a check may take; who asks is answered within one second."""

GOOD_FOR: Final[float] = 10.0
"""Seconds for which a check that passed and costs much is not made again."""

STANDS_FOR: Final[float] = 60.0
"""Seconds for which such a check stands when making it anew takes too long."""

Probe = Callable[[], str]
"""Does something that must work and says in a few words what was found; raises when it fails."""

_log = logging.getLogger(__name__)


class Check(BaseModel):
    """One thing that must work."""

    name: str
    passed: bool
    detail: str = Field(description="What was found.")


class Broken(Exception):
    """Raised by a probe that has found what is wrong, in words for whoever runs the service."""


class Readiness:
    """Makes every check in a thread of its own, so that no other work delays it.

    Parameters
    ----------
    probes
        What must work, by the name of the check.
    """

    def __init__(self, probes: Mapping[str, Probe]) -> None:
        self._probes = probes
        self._lanes: dict[str, CapacityLimiter] = {}

    async def check(self) -> list[Check]:
        """Make every check at once; one that gives no answer in time has failed."""
        found: dict[str, Check] = {}

        async def make(name: str, probe: Probe) -> None:
            found[name] = await self._make(name, probe)

        async with anyio.create_task_group() as group:
            for name, probe in self._probes.items():
                group.start_soon(make, name, probe)
        return [found[name] for name in self._probes]

    async def _make(self, name: str, probe: Probe) -> Check:
        lane = self._lanes.setdefault(name, CapacityLimiter(1))
        with anyio.move_on_after(LONGEST):
            return await to_thread.run_sync(
                _outcome, name, probe, limiter=lane, abandon_on_cancel=True
            )
        standing = probe.within(STANDS_FOR) if isinstance(probe, Remembered) else None
        if standing is not None:
            return Check(name=name, passed=True, detail=standing)
        return Check(name=name, passed=False, detail=f"no answer within {LONGEST:g} s")


def _outcome(name: str, probe: Probe) -> Check:
    try:
        return Check(name=name, passed=True, detail=probe())
    except (Broken, RecordsError) as error:
        return Check(name=name, passed=False, detail=str(error))
    except Exception:
        _log.exception("the check of the %s failed", name)
        return Check(name=name, passed=False, detail="failed; the log says how")


class Remembered:
    """A probe made anew only when it last passed more than :data:`GOOD_FOR` ago.

    On a busy machine making it anew may take longer than there is; it goes on in its thread then,
    and what it last found stands for :data:`STANDS_FOR`.
    """

    def __init__(self, probe: Probe) -> None:
        self._probe = probe
        self._passed: tuple[float, str] | None = None

    def __call__(self) -> str:
        """What was found, now or not long ago; raises when the probe fails."""
        recent = self.within(GOOD_FOR)
        if recent is not None:
            return recent
        try:
            self._passed = (time.monotonic(), self._probe())
        except Exception:
            self._passed = None
            raise
        return self._passed[1]

    def within(self, seconds: float) -> str | None:
        """What was found when it passed so many seconds ago or less."""
        passed = self._passed
        return passed[1] if passed and time.monotonic() - passed[0] <= seconds else None


def catalogue_probe() -> str:
    """That there is a fault to find."""
    if not faults.CATALOGUE:
        raise Broken("the catalogue is empty")
    return f"{len(faults.CATALOGUE)} faults"
