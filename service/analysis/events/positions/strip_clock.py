"""When the samples of a strip are: anchored at four positions, with even steps of time between."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.landmark_paths import Tracks
from service.analysis.pose.timeline import Timeline
from service.analysis.types import BoolArray, FloatArray, View

# Numbers below say what is looked at, not what is concluded: judgement, checked by what a network
# makes of them on makes of golfers left out.
_BEFORE: Final[float] = 0.8
"""Backswings before P1 at which the strip begins."""
_AFTER: Final[float] = 1.2
"""Ways through, from P7 to P10, after P10 at which it ends."""
COUNTS: Final[tuple[int, ...]] = (64, 112, 72, 112, 88)
"""Moments before P1, to P4, to P7, to P10 and after it."""
N_MOMENTS: Final[int] = sum(COUNTS)
"""Moments of which a network tells the chance."""
EACH: Final[int] = 2
"""Every so many moments there is a sample: at twice as many a network does no better."""
N_SAMPLES: Final[int] = N_MOMENTS // EACH
BACK_TO_DOWN: Final[float] = 2.7
THROUGH_TO_DOWN: Final[float] = 2.3
"""Usual lengths of backswing and way through in downswings, where P1, P7 or P10 are not seen."""
_LEAST_PART: Final[float] = 0.03
"""Seconds; what lies closer was misread."""
_PARTS: Final[NDArray[np.intp]] = np.repeat(np.arange(len(COUNTS)), COUNTS)
_NUMBERS: Final = np.concatenate([np.arange(count) for count in COUNTS])
"""The part that each moment is of, and its number in it."""
Single = NDArray[np.float32]
Anchors = tuple[float, float, float, float]
"""Seconds of P1, P4, P7 and P10."""


class StripInput(NamedTuple):
    """A swing to lay on a strip.

    ``times`` are seconds, by number, of the positions that thresholds have found; the rest is as in
    :class:`~.scene.Scene`.
    """

    points: FloatArray
    tracks: Tracks
    view: View
    noise: FloatArray
    times: Mapping[int, float]


def anchors_of(swing: StripInput) -> Anchors | None:
    """The moments at which a strip is anchored, by usual lengths where they were not found.

    ``None`` where too few were found, or some lie too close together.
    """
    times = swing.times
    if len(swing.tracks.times) < 2 or 4 not in times or not (1 in times or 7 in times):
        return None
    top = times[4]
    down = times[7] - top if 7 in times else (top - times[1]) / BACK_TO_DOWN
    start = times.get(1, top - BACK_TO_DOWN * down)
    impact = top + down
    anchors = start, top, impact, times.get(10, impact + THROUGH_TO_DOWN * down)
    return anchors if min(b - a for a, b in pairwise(anchors)) > _LEAST_PART else None


def clocks_of(anchors: Sequence[Anchors]) -> FloatArray:
    """Seconds of every moment, shape (n_swings, N_MOMENTS)."""
    edges = np.array(
        [
            (
                start - _BEFORE * (top - start),
                *(start, top, impact, finish),
                finish + _AFTER * (finish - impact),
            )
            for start, top, impact, finish in anchors
        ]
    )
    steps = (edges[:, 1:] - edges[:, :-1]) / COUNTS
    return np.asarray(_NUMBERS * steps.take(_PARTS, axis=1) + edges.take(_PARTS, axis=1))


def steps_of(clocks: FloatArray) -> FloatArray:
    """Half the seconds between the neighbours of each sample, those to the only one at either end.

    Takes the times of samples and returns an array of the same shape, (n_swings, N_SAMPLES).
    """
    inner = 0.5 * (clocks[:, 2:] - clocks[:, :-2])
    ends = clocks[:, 1:2] - clocks[:, :1], clocks[:, -1:] - clocks[:, -2:-1]
    return np.concatenate([ends[0], inner, ends[1]], axis=1)


class Between(NamedTuple):
    """Where times lie between the frames of clips laid end to end; of shape (n_swings, N_SAMPLES).

    Attributes
    ----------
    frames : the frame before, counted along all clips; the first or last but one beyond a clip
    shares : how far on the way to the next, from 0 to 1
    inside : whether the time lies within the clip
    """

    frames: NDArray[np.intp]
    shares: Single
    inside: BoolArray


def between_frames(line: Timeline, times: Sequence[FloatArray]) -> list[Between]:
    """Where some times lie between frames, each an array of shape (n_swings, N_SAMPLES)."""
    at = np.concatenate(times, axis=1)
    frames = np.empty(at.shape, dtype=np.intp)
    for span, own, told in zip(line.spans, at, frames, strict=True):
        before = line.times[span].searchsorted(own) - 1
        told[:] = np.minimum(np.maximum(before, 0), span.stop - span.start - 2) + span.start
    here = line.times.take(frames)
    shares = (at - here) / (line.times.take(frames + 1) - here)
    inside = (shares >= 0.0) & (shares <= 1.0)
    held = np.minimum(np.maximum(shares, 0.0), 1.0).astype(np.float32)
    parts = [slice(k, k + N_SAMPLES) for k in range(0, at.shape[1], N_SAMPLES)]
    return [Between(frames[:, part], held[:, part], inside[:, part]) for part in parts]


def sample(values: Single, between: Between) -> Single:
    """Values of shape (n_frames, ...) between frames, shape (n_swings, n_at, ...)."""
    frames, flat = between.frames.reshape(-1), values.reshape(len(values), -1)
    here = flat.take(frames, axis=0)
    way = flat.take(frames + 1, axis=0)
    way -= here
    way *= between.shares.reshape(-1, 1)
    way += here
    return np.asarray(way.reshape(*between.frames.shape, *values.shape[1:]))
