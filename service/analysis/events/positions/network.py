"""Positions placed better than any one threshold can: by a network that sees all of the swing.

For every position the network (``python -m training.models.fit_positions``) tells the chance of
each moment of a strip (:mod:`service.analysis.events.positions.strip`). A position is placed where
most of the chance lies within the error that is allowed, and how widely its chance is spread tells
how sure that is. It is learnt on golfers of several makes, by clocks of many kinds, so that no one
generator's way of starting, turning and stopping is taken for a player's; the scale of its
uncertainty is what networks leave on the makes that they were not learnt from.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.positions.strip import Strip
from service.analysis.events.positions.strip_clock import N_MOMENTS
from service.analysis.onnx_session import open_session
from service.analysis.types import FloatArray, View

FILE: Final[str] = "positions.onnx"
_OUTPUTS: Final = ("chances",)
SPREAD: Final[str] = "spread"
"""Name of the model's note of how its uncertainty is scaled."""
ALLOWED: Final[float] = 0.033
ALLOWED_SHARE: Final[float] = 0.02
"""Error that is allowed, in seconds or in lengths of the swing, whichever is more: what the
positions are held to."""
LABEL: Final[float] = 0.4
"""One standard deviation of the chances that the network was taught, in errors allowed."""
_AT_FULL_SPEED: Final[float] = 2.0
"""Seconds from P1 to P10 up to which a swing is one at full speed, of which nearly all take less:
in a slower one all happens as much slower, and what is off by a way is off by as much more time."""
_LEAST: Final[float] = 1e-4
"""Seconds; less is no spread."""
_in_use: ContextVar[Path | None] = ContextVar("network in use", default=None)


@dataclass(frozen=True)
class PositionEstimates:
    """Times of P1 to P10 and how widely their chances are spread, seconds, each of shape (10,)."""

    times: FloatArray
    spread: FloatArray


@dataclass(frozen=True)
class Network:
    """A network that places positions.

    ``scales``, of shape (10, 3) for each view, makes uncertainties of spreads: parts of the spread
    itself, of seconds, more of them in a slower swing, and of the time between frames.
    """

    session: Any
    scales: Mapping[View, FloatArray]

    def place_all(
        self, strips: Sequence[Strip], views: Sequence[View], frames: FloatArray
    ) -> list[PositionEstimates]:
        """Times of P1 to P10 and one standard deviation of each, strip by strip.

        Parameters
        ----------
        frames : array of shape (n_strips,)
            Seconds between frames.
        """
        if not strips:
            return []
        inputs = {
            "signals": np.array([strip.signals for strip in strips]),
            "about": np.array([strip.about for strip in strips]),
        }
        times, spread = _read_off(self.session.run(_OUTPUTS, inputs)[0], strips)
        parts = np.empty((*spread.shape, 3))
        parts[..., 0], parts[..., 1], parts[..., 2] = spread, slowness(times), frames[:, None]
        parts *= np.array([self.scales[view] for view in views])
        sure = np.sqrt(np.add.reduce(parts * parts, axis=-1))
        return [PositionEstimates(*each) for each in zip(times, sure, strict=True)]


def slowness(times: FloatArray) -> FloatArray:
    """How much slower swings go than at full speed, 1 at least, shape (n_strips, 1).

    Parameters
    ----------
    times : array of shape (n_strips, 10)
        Of P1 to P10.

    >>> slowness(np.linspace([0.0, 1.0], [1.8, 6.0], 10).T).tolist()
    [[1.0], [2.5]]
    """
    return np.maximum((times[:, 9:] - times[:, :1]) / _AT_FULL_SPEED, 1.0)


def read_off(chances: NDArray[np.float32], strip: Strip) -> PositionEstimates:
    """Where most of the chance lies within the error that is allowed.

    Parameters
    ----------
    chances : array of shape (10, N_MOMENTS)
    """
    times, spread = _read_off(chances[None], (strip,))
    return PositionEstimates(times[0], spread[0])


def _read_off(
    chances: NDArray[np.float32], strips: Sequence[Strip]
) -> tuple[FloatArray, FloatArray]:
    """Times and spreads of many strips, each of shape (n_strips, 10).

    ``chances`` has shape (n_strips, 10, N_MOMENTS).
    """
    clocks = np.array([strip.clock for strip in strips])
    lengths = np.array([[strip.length] for strip in strips])
    allowed = np.maximum(ALLOWED, ALLOWED_SHARE * lengths)
    off = clocks[:, None] - _fullest(chances, clocks, allowed)[..., None]
    near = chances * (np.abs(off) <= allowed[..., None])
    times = (near @ clocks[..., None])[..., 0] / np.add.reduce(near, axis=-1)
    off = clocks[:, None] - times[..., None]
    variance = np.add.reduce(chances * (off * off), axis=-1) - (LABEL * allowed) ** 2
    return times, np.sqrt(np.maximum(variance, _LEAST**2))


def _fullest(chances: NDArray[np.float32], clocks: FloatArray, allowed: FloatArray) -> FloatArray:
    """The times about which most chance lies within what is allowed, shape (n_strips, 10).

    ``clocks`` has shape (n_strips, N_MOMENTS), ``allowed`` (n_strips, 1).
    """
    before = np.concatenate([2 * clocks[:, :1] - clocks[:, 1:2], clocks[:, :-1]], axis=1)
    edges = np.concatenate([clocks - 0.5 * (clocks - before), clocks[:, -1:]], axis=1)
    gathered = np.zeros((*chances.shape[:2], N_MOMENTS + 1))
    np.cumsum(chances, axis=2, out=gathered[..., 1:])
    best = np.empty(chances.shape[:2])
    for k, (clock, off) in enumerate(zip(clocks, allowed, strict=True)):
        up_to = _at(edges[k], gathered[k], np.concatenate([clock - off, clock + off]))
        within = up_to[:, N_MOMENTS:] - up_to[:, :N_MOMENTS]
        best[k] = clock.take(within.argmax(axis=1))
    return best


def _at(edges: FloatArray, gathered: FloatArray, times: FloatArray) -> FloatArray:
    """What chances have gathered up to some times, shape (10, n_times)."""
    last = np.minimum(np.maximum(edges.searchsorted(times) - 1, 0), len(edges) - 2)
    here = edges.take(last)
    share = (times - here) / (edges.take(last + 1) - here)
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
