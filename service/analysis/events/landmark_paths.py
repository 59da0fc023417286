"""Paths of the body's landmarks that finding a swing needs: hands, hips, shoulders.

All in body heights with y up. Works on anatomical and canonical order alike, since it
treats both sides the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isnan
from typing import Final

import numpy as np

from service.analysis.events.better_hands import middle_of, put_better_hands
from service.analysis.pose.geometry import frame_interval, squared_length
from service.analysis.pose.points import Point
from service.analysis.pose.timeline import Timeline
from service.analysis.types import FloatArray

SURE: Final[float] = 0.6
"""Confidence from which a wrist is taken as seen; below it its place is an estimator's or an
annotator's guess (common practice: estimators put what they don't see at or below a half)."""
_WRISTS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST]
_FOLLOWED: Final = np.array(
    [
        *_WRISTS,
        *(Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER),
        *(Point.LEAD_HIP, Point.TRAIL_HIP),
        *(Point.LEAD_ANKLE, Point.TRAIL_ANKLE),
        *(Point.NECK, Point.MID_HIP),
        *(Point.LEAD_ELBOW, Point.TRAIL_ELBOW),
    ]
)
"""Joints from which paths are taken."""
_FIRST, _SECOND = np.array([[0, 2, 4], [1, 3, 5]])
_CHEST, _PELVIS = 1, 2
"""Of these the pairs of which middles are followed, those of the wrists first."""
_ANKLES: Final = slice(6, 8)
_NECK, _MID_HIP = 8, 9
_FROM, _TO = np.array([[0, 10, 10, 11], [1, 11, 0, 1]])
"""Between which a length is told: wrists, elbows, forearms."""


@dataclass(frozen=True)
class Tracks:
    """Paths over the frames of a clip.

    Attributes
    ----------
    times : array of shape (n_frames,)
    frame : float
        Usual time between frames in seconds; NaN in a clip of one.
    hands, hips, shoulders : arrays of shape (n_frames, 2)
        Middle of the wrists, hips and shoulders. ``hands`` is bridged over short gaps.
    hands_apart : array of shape (n_frames,)
        Distance between the wrists; NaN where one is missing or not surely seen.
    wrists_apart : array of shape (n_frames,)
        The same wherever both are placed, however unsurely.
    elbows_apart : array of shape (n_frames,)
        Distance between the elbows.
    forearm : array of shape (n_frames,)
        From elbow to wrist, on the side where that is farther.
    ankles : array of shape (n_frames, 2, 2)
        Both ankles.
    path : array of shape (n_frames, 2)
        The hands against the hips.
    height : array of shape (n_frames,)
        Height of the hands above the hips.
    speed : array of shape (n_frames,)
        Speed of the hands against the hips, body heights a second; NaN in a clip of one frame.
    """

    times: FloatArray
    frame: float
    hands: FloatArray
    hips: FloatArray
    shoulders: FloatArray
    hands_apart: FloatArray
    wrists_apart: FloatArray
    elbows_apart: FloatArray
    forearm: FloatArray
    ankles: FloatArray
    path: FloatArray
    height: FloatArray
    speed: FloatArray

    def mirrored(self) -> Tracks:
        """The same with x the other way."""
        flip = np.array([-1.0, 1.0])
        return replace(
            self,
            hands=self.hands * flip,
            hips=self.hips * flip,
            shoulders=self.shoulders * flip,
            ankles=self.ankles * flip,
            path=self.path * flip,
        )


def follow(points: FloatArray, times: FloatArray, confidence: FloatArray | None = None) -> Tracks:
    """What :func:`follow_all` takes from one clip.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
    times : array of shape (n_frames,)
    confidence : array of shape (n_frames, n_points), optional
        Without it every point there counts as seen.
    """
    sure = np.ones(points.shape[:2]) if confidence is None else confidence
    return follow_all([(points, times, sure)])[0]


def follow_all(clips: Sequence[tuple[FloatArray, FloatArray, FloatArray]]) -> list[Tracks]:
    """Take the paths from poses of some clips.

    Parameters
    ----------
    clips
        Of each its points, shape (n_frames, n_points, 2); the times of its frames, shape
        (n_frames,); and the confidence of the points from 0 to 1, shape (n_frames, n_points).
    """
    if not clips:
        return []
    line = Timeline.of([times for _, times, _ in clips])
    joints = np.concatenate([points.take(_FOLLOWED, axis=1) for points, *_ in clips])
    sure = np.concatenate([confidence.take(_WRISTS, axis=1) for *_, confidence in clips])
    # With time innermost what follows runs along memory.
    paths = np.ascontiguousarray(joints.T)
    middles = middle_of(paths.take(_FIRST, axis=1), paths.take(_SECOND, axis=1), line)
    for pair, joint in ((_CHEST, _NECK), (_PELVIS, _MID_HIP)):
        _fill(middles[:, pair], paths[:, joint])
    lengths = np.sqrt(squared_length(paths.take(_FROM, axis=1) - paths.take(_TO, axis=1)))
    apart, elbows_apart, *forearms = lengths
    hands, chest, pelvis = np.ascontiguousarray(middles.transpose(1, 2, 0))
    put_better_hands(hands, joints, apart, sure, line)
    path = hands - pelvis
    along = np.ascontiguousarray(path.T)
    told = (
        hands,
        pelvis,
        chest,
        np.where((sure[:, 0] >= SURE) & (sure[:, 1] >= SURE), apart, np.nan),
        apart,
        elbows_apart,
        np.fmax(*forearms),
        joints[:, _ANKLES],
        path,
        along[1],
        np.sqrt(squared_length(line.velocity(along))),
    )
    return [
        Tracks(times, frame_interval(times), *(each[span] for each in told))
        for span, (_, times, _) in zip(line.spans, clips, strict=True)
    ]


def _fill(path: FloatArray, otherwise: FloatArray) -> None:
    """Put another path, shape (2, n_frames), in frames in which a path isn't seen, in place."""
    if isnan(np.add.reduce(path, axis=None)):
        np.copyto(path, otherwise, where=np.isnan(path))
