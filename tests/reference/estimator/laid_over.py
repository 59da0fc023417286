"""A pose estimator's points laid over the annotated ones of the same frames.

The two differ by a scale and a shift a clip, which are fitted to the joints that both place well,
so that a few lost points don't matter. What is left is the estimator's error together with the
annotators' own and with what the two call by the same name differently.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from service.analysis.pose.layouts import LAYOUTS, resolve, to_points
from service.analysis.pose.points import ANATOMICAL, swap_sides
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray
from service.contract import answer_to
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.reference.clips import read, request

_RELIABLE: Final = ("shoulder", "hip", "knee", "ankle")
"""Joints that the scale and the shift are fitted to."""
_ROUNDS: Final = 20


@dataclass(frozen=True)
class LaidOver:
    """One swing twice, in body heights, lead and trail sides as the annotated analysis has them.

    Attributes
    ----------
    true, seen : arrays of shape (n_frames, n_points, 2)
        Annotated and estimated, x and y down, in canonical order; NaN where not given.
    confidence : array of shape (n_frames, n_points)
        The estimator's.
    coordinate : array of shape (n_frames,)
        Position coordinate by the annotated points: below 1 before P1, above 10 after P10.
    view : str
        ``face_on`` or ``down_the_line``.
    """

    clip: str
    true: FloatArray
    seen: FloatArray
    confidence: FloatArray
    coordinate: FloatArray
    view: str
    rate: float

    @property
    def error(self) -> FloatArray:
        """Estimated minus annotated, shape (n_frames, n_points, 2)."""
        return self.seen - self.true


def laid_over() -> list[LaidOver]:
    """Every swing of which both are given beyond doubt."""
    by_hand = {clip["id"]: clip for clip in read("golf_clips")}
    return [
        _lay(by_hand[seen["id"]], seen)
        for seen in read("estimated_golf_clips")
        if seen["same_clip_as_annotated"]
    ]


def _lay(by_hand: dict[str, Any], estimated: dict[str, Any]) -> LaidOver:
    answer = answer_to(json.dumps(request(by_hand)).encode(), Analyser.of(Settings()))
    assert isinstance(answer, dict)
    frames = np.array(by_hand["frames"], dtype=float)
    true, _ = to_points(frames, np.ones(frames.shape[:2]), resolve(by_hand["joint_names"]))
    table = np.array(estimated["frames"], dtype=float)
    seen, confidence = to_points(table[..., :2], table[..., 2], LAYOUTS[estimated["layout"]].joints)
    scale, shift = fit(true, seen)
    true = scale * true + shift
    height = body_height(true)
    true, seen = true / height, seen / height
    if answer["handedness"]["value"] == "left":
        true, seen, confidence = map(swap_sides, (true, seen, confidence))
    return LaidOver(
        clip=estimated["id"],
        true=true,
        seen=seen,
        confidence=confidence,
        coordinate=_coordinate(answer, len(true)),
        view=answer["view"]["value"],
        rate=float(estimated["fps"]),
    )


def fit(true: FloatArray, seen: FloatArray) -> tuple[float, FloatArray]:
    """Scale and shift that lay one set of points over another, blind to a few that are far off.

    Parameters
    ----------
    true, seen : arrays of shape (n_frames, n_points, 2)
        In the order of :data:`ANATOMICAL`.

    Returns
    -------
    the scale and a shift of shape (2,): ``seen`` is about ``scale * true + shift``. Least squares
    reweighted with Cauchy weights, the width being the median distance.
    """
    joints = [k for k, name in enumerate(ANATOMICAL) if name.split("_")[-1] in _RELIABLE]
    joints.remove(ANATOMICAL.index("mid_hip"))
    a, b = true[:, joints].reshape(-1, 2), seen[:, joints].reshape(-1, 2)
    weight, scale, shift = np.ones(len(a)), 1.0, np.zeros(2)
    for _ in range(_ROUNDS):
        middle_a, middle_b = (np.average(x, axis=0, weights=weight) for x in (a, b))
        off_a, off_b = a - middle_a, b - middle_b
        spread = (weight[:, None] * off_a**2).sum()
        scale = float((weight[:, None] * off_a * off_b).sum() / spread)
        shift = middle_b - scale * middle_a
        off = np.hypot(*(b - scale * a - shift).T)
        weight = 1.0 / (1.0 + (off / max(float(np.median(off)), 1e-12)) ** 2)
    return scale, shift


def _coordinate(answer: dict[str, Any], n_frames: int) -> FloatArray:
    """Of every frame, also of those before the first and after the last position."""
    told = np.array([np.nan if v is None else v for v in answer["position_coordinate"]], float)
    known = np.flatnonzero(np.isfinite(told))
    told[: known[0]] = told[known[0]] if told[known[0]] > 1.5 else 0.0
    told[known[-1] + 1 :] = 11.0
    assert told.shape == (n_frames,)
    return told
