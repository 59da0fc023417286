"""Clips of the stranger's golfer, each with its own truth: a source as the others are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.pose.points import swap_sides
from service.analysis.types import FloatArray, Handedness, SwingRecording, View
from tests.reference.stranger.errors import spoil
from tests.reference.stranger.film import Camera, project, random_camera
from tests.reference.stranger.golfer import Swing, random_faults, random_swing
from tests.reference.stranger.truth import Seen, truth_of
from training.data.draws import PHONE_NOISE, Footage, with_layout
from training.data.sources import Clip
from training.simulator import EstimatorNoise

_APART: Final = 0.02
"""Seconds that two positions are apart at least in a swing that is a swing."""
_TRIES: Final = 20
_PIXELS: Final = 700.0
"""Pixels of a stature; a judgement."""
_MIDDLE: Final = (960.0, 540.0)
_SIZES: Final = (0.3, 0.7, 1.1, 1.6)
_SIZE_SHARES: Final = (0.2, 0.4, 0.25, 0.15)
"""Sizes of an estimator's errors and how often; from 1 on those of a phone's film; judgements."""
_CLUB_SHARE: Final = 0.6


def stranger(seed: int, number: int) -> Iterator[Clip]:
    """One swing of one golfer from both sides."""
    rng = np.random.default_rng([seed, number])
    faults, swing = _swing(rng)
    for view in View:
        camera = random_camera(rng, view, swing.golfer.stature)
        footage = _footage(rng, camera.rate)
        recording, start = filmed(swing, camera, footage, rng)
        truth = truth_of(swing, view)
        yield Clip(
            swing, recording, start, footage, view, clean=not faults,
            setting=f"{camera.distance:g} m", truth=truth,
        )  # fmt: skip


def _swing(rng: np.random.Generator) -> tuple[dict[str, float], Swing]:
    """A swing whose positions all come, and in order; faults too large for each other are drawn
    anew."""
    for _ in range(_TRIES):
        faults = random_faults(rng)
        swing = random_swing(rng, faults)
        if np.isfinite(swing.position_times).all() and _in_order(swing.position_times):
            return faults, swing
    raise RuntimeError("No swing with all its positions was drawn.")


def _in_order(times: FloatArray) -> bool:
    return bool(np.diff(times).min() > _APART)


def filmed(
    swing: Swing, camera: Camera, footage: Footage, rng: np.random.Generator
) -> tuple[SwingRecording, float]:
    """The clip, and the time of its first frame on the swing's clock."""
    step = 1.0 / camera.rate
    times = np.arange(rng.uniform(0.0, step), swing.duration, step)
    coordinate = Seen(swing, camera.view).coordinate
    known = np.isfinite(coordinate)
    at = np.interp(times, swing.clock.times[known], coordinate[known])
    seen = project(swing, camera, times)
    quality = footage.noise.level / PHONE_NOISE, footage.noise.gaps > 0.0
    points, confidence = spoil(seen, (times, at), camera.view, quality, rng)
    if swing.handedness is Handedness.LEFT:
        points, confidence = swap_sides(points), swap_sides(confidence)
    pixels = np.array(_MIDDLE) + _PIXELS * points * np.array([1.0, -1.0])
    clip = SwingRecording(pixels, confidence, times - times[0], intent=swing.intent)
    return with_layout(clip, footage), float(times[0])


def _footage(rng: np.random.Generator, rate: float) -> Footage:
    club = bool(rng.random() < _CLUB_SHARE)
    size = float(rng.choice(_SIZES, p=_SIZE_SHARES))
    gaps = float(rng.random() < 0.5)
    return Footage(
        rate=rate,
        noise=replace(EstimatorNoise(), level=PHONE_NOISE * size, gaps=gaps, club=club),
        layout=str(rng.choice(["coco_17", "landmarks_33"])),
        club=club,
        uneven=0.0,
        dropped=0.0,
        tell_view=False,
    )
