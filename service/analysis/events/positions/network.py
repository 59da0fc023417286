"""Positions placed better than any one threshold can: by a network that sees all of the swing.

For every position the network (``python -m training.models.fit_positions``) tells the chance of
each sample of a strip (:mod:`service.analysis.events.positions.strip`). A position is placed where
most of the chance lies within the error that is allowed, and how widely its chance is spread tells
how sure that is. It is learnt on golfers of several makes, by clocks of many kinds, so that no one
generator's way of starting, turning and stopping is taken for a player's; the scale of its
uncertainty is what networks leave on the makes that they were not learnt from.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Final

import numpy as np

from service.analysis.events.positions.strip import N_SAMPLES, Strip
from service.analysis.onnx_session import open_session
from service.analysis.types import FloatArray, View

FILE: Final[str] = "positions.onnx"
SPREAD: Final[str] = "spread"
"""Name of the model's note of how its uncertainty is scaled."""
ALLOWED: Final[float] = 0.033
ALLOWED_SHARE: Final[float] = 0.02
"""Error that is allowed, in seconds or in lengths of the swing, whichever is more: what the
positions are held to."""
LABEL: Final[float] = 0.4
"""One standard deviation of the chances that the network was taught, in errors allowed."""
_LEAST: Final[float] = 1e-4
"""Seconds; less is no spread."""
_in_use: ContextVar[Path | None] = ContextVar("network in use", default=None)


@dataclass(frozen=True)
class Told:
    """When P1 to P10 are and how widely their chances are spread, seconds, each of shape (10,)."""

    times: FloatArray
    spread: FloatArray


@dataclass(frozen=True)
class Network:
    """A network that places positions.

    ``scales``, of shape (10, 3) for each view, makes uncertainties of spreads: parts of the spread
    itself, of seconds and of the time between frames.
    """

    session: Any
    scales: Mapping[View, FloatArray]

    def place(self, strip: Strip, view: View, frame: float) -> Told:
        """Times of P1 to P10 and one standard deviation of each, seconds.

        Parameters
        ----------
        frame : float
            Seconds between frames.
        """
        inputs = {"signals": strip.signals[None], "about": strip.about[None]}
        told = read_off(self.session.run(None, inputs)[0][0], strip)
        parts = np.column_stack([told.spread, np.ones(10), np.full(10, frame)])
        return Told(told.times, np.sqrt(((parts * self.scales[view]) ** 2).sum(axis=1)))


def read_off(chances: FloatArray, strip: Strip) -> Told:
    """Where most of the chance lies within the error that is allowed.

    Parameters
    ----------
    chances : array of shape (10, N_SAMPLES)
    """
    clock = strip.clock
    allowed = max(ALLOWED, ALLOWED_SHARE * strip.length)
    gathered = np.zeros((len(chances), N_SAMPLES + 1))
    np.cumsum(chances, axis=1, out=gathered[:, 1:])
    edges = np.append(clock - 0.5 * np.diff(clock, prepend=2 * clock[0] - clock[1]), clock[-1])
    within = _at(edges, gathered, clock + allowed) - _at(edges, gathered, clock - allowed)
    best = clock[within.argmax(axis=1), None]
    near = chances * (np.abs(clock - best) <= allowed)
    times = (near @ clock) / near.sum(axis=1)
    off = (clock - times[:, None]) ** 2
    variance = np.einsum("pt,pt->p", chances, off) - (LABEL * allowed) ** 2
    return Told(times, np.sqrt(np.maximum(variance, _LEAST**2)))


def _at(edges: FloatArray, gathered: FloatArray, times: FloatArray) -> FloatArray:
    """What chances have gathered up to some times, shape (10, n_times)."""
    last = np.minimum(np.maximum(edges.searchsorted(times) - 1, 0), len(edges) - 2)
    share = (times - edges[last]) / (edges[last + 1] - edges[last])
    share = np.minimum(np.maximum(share, 0.0), 1.0)
    before = gathered.take(last, axis=1)
    return np.asarray(before + share * (gathered.take(last + 1, axis=1) - before))


@contextmanager
def using_network(path: Path) -> Iterator[None]:
    """Go by the network of another file while this lasts: one learnt without some make of golfers,
    say, when that make is what it is held against."""
    before = _in_use.set(path)
    try:
        yield
    finally:
        _in_use.reset(before)


def network() -> Network:
    """The network in use."""
    return _read(_in_use.get())


@cache
def _read(path: Path | None) -> Network:
    at = resources.files("service.analysis.events.positions").joinpath(FILE)
    session = open_session(at.read_bytes() if path is None else path.read_bytes())
    scales = json.loads(session.get_modelmeta().custom_metadata_map[SPREAD])
    return Network(session, {view: np.array(scales[view.value]) for view in View})
