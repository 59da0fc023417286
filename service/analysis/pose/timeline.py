"""Clips laid end to end along time, so that what is done to each frame is done to all at once.

What looks from one frame to another must not look from one clip into the next: a timeline knows
where each begins. The times of each stay its own, so that a clip among others gets to the last
digit what it gets alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.geometry import frame_rate
from service.analysis.types import BoolArray, FloatArray

AT_ONCE: Final[int] = 6144
"""Frames of clips laid end to end, at most: what is made of more leaves the processor's nearest
memory before it is looked at again (``tests/bench/SPEED.md``)."""


def batches(lengths: Sequence[int], most: int = AT_ONCE) -> Iterator[slice]:
    """Clips in a row that have so many frames together at most; a longer one goes by itself.

    Parameters
    ----------
    lengths : frames of each clip

    >>> list(batches([3, 3, 1, 9], 6))
    [slice(0, 2, None), slice(2, 3, None), slice(3, 4, None)]
    """
    first, frames = 0, 0
    for k, length in enumerate(lengths):
        if k > first and frames + length > most:
            yield slice(first, k)
            first, frames = k, 0
        frames += length
    if lengths:
        yield slice(first, len(lengths))


@dataclass(frozen=True)
class Timeline:
    """Where clips lie, one behind the other.

    Attributes
    ----------
    times : array of shape (n_frames,)
        Seconds, strictly increasing within each clip.
    first : array of shape (n_clips,)
        The first frame of each clip; each has one at least.
    """

    times: FloatArray
    first: NDArray[np.intp]

    @classmethod
    def of(cls, clips: Sequence[FloatArray]) -> Timeline:
        """Lay clips end to end, each given by its frames' seconds, shape (n_frames of it,)."""
        first = list(accumulate(map(len, clips[:-1]), initial=0))
        return cls(np.concatenate(clips), np.array(first))

    @cached_property
    def spans(self) -> list[slice]:
        """The frames of each clip."""
        ends = [*self.first.tolist(), len(self.times)]
        return [slice(*both) for both in pairwise(ends)]

    @cached_property
    def rates(self) -> list[float]:
        """Median frame rate of each clip, hertz; NaN for fewer than two frames."""
        return [frame_rate(self.times[span]) for span in self.spans]

    @cached_property
    def clip(self) -> NDArray[np.intp]:
        """The clip of each frame, shape (n_frames,)."""
        begins = np.zeros(len(self.times), dtype=np.intp)
        begins[self.first[1:]] = 1
        return begins.cumsum()

    def within(self, reach: int) -> BoolArray:
        """Whether each frame and the one ``reach`` after it are of one clip, shape
        (n_frames - reach,).

        >>> Timeline.of([np.arange(3.0), np.arange(2.0)]).within(1).tolist()
        [True, True, False, True]
        """
        return np.asarray(self.clip[reach:] == self.clip[: len(self.clip) - reach])

    def clips_with(self, frames: BoolArray) -> list[int]:
        """The clips that have any of some frames, told by a mask of shape (n_frames,)."""
        return sorted(set(self.clip[frames.nonzero()[0]].tolist())) if frames.any() else []

    def velocity(self, path: FloatArray) -> FloatArray:
        """Change with time at every frame of its clip, of second order between the clip's ends,
        whatever the spacing.

        Parameters
        ----------
        path : array of shape (..., n_frames)

        Returns
        -------
        array of the shape of ``path``; NaN next to what is missing, and in a clip of one frame

        >>> Timeline.of([np.array([0.0, 1.0, 3.0])]).velocity(np.array([0.0, 1.0, 9.0]))
        array([1., 2., 4.])
        """
        told = np.full(path.shape, np.nan)
        step = np.where(self.within(1), self.times[1:] - self.times[:-1], np.nan)
        slope = (path[..., 1:] - path[..., :-1]) / step
        share = step[:-1] / (step[:-1] + step[1:])
        told[..., 1:-1] = (1.0 - share) * slope[..., :-1] + share * slope[..., 1:]
        for span in self.spans:
            if span.stop - span.start > 1:
                told[..., span.start] = slope[..., span.start]
                told[..., span.stop - 1] = slope[..., span.stop - 2]
        return told

    def picked(self, mask: BoolArray) -> tuple[NDArray[np.intp], NDArray[np.intp], Timeline]:
        """What a mask of shape (n_points, n_frames) picks, each point of each clip as a clip of its
        own.

        Returns
        -------
        point, frame : arrays of shape (n_picked,), point by point
        line : where those clips lie
        """
        point, frame = mask.nonzero()
        clip = self.clip[frame]
        turns = (point[1:] != point[:-1]) | (clip[1:] != clip[:-1])
        first = np.flatnonzero(np.concatenate([np.ones(min(len(point), 1), dtype=bool), turns]))
        return point, frame, Timeline(self.times[frame], first)
