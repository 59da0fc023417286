"""Filming a motion: a clip as it would come from a pose estimator."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from service.analysis.types import Club, FloatArray, Handedness, Intent, SwingRecording
from training.simulator.filming.camera import Camera
from training.simulator.filming.estimating.estimator import EstimatorNoise


class Movement(Protocol):
    """Anything that moves and can be filmed."""

    @property
    def duration(self) -> float:
        """Seconds."""

    @property
    def handedness(self) -> Handedness:
        """Which way the player plays."""

    @property
    def club(self) -> Club:
        """The player's club."""

    @property
    def intent(self) -> Intent:
        """What the motion was meant to be."""

    def joints(self, times: FloatArray) -> FloatArray:
        """Joints of shape (n_times, N_POINTS, 3) in anatomical order, metres."""


def film(
    motion: Movement,
    camera: Camera,
    fps: float = 60.0,
    times: FloatArray | None = None,
    noise: EstimatorNoise | None = None,
    rng: np.random.Generator | None = None,
    *,
    tell: bool = False,
) -> SwingRecording:
    """Clip of a motion.

    Parameters
    ----------
    camera : Camera
        As for a right-hander; a left-hander is filmed by its mirror image.
    fps, times
        Frames a second, or the frames' own times in seconds of shape (n_frames,).
    noise : EstimatorNoise, optional
        None for the true image points with full confidence.
    rng : numpy Generator
        Needed with ``noise``, which it determines fully.
    tell : bool
        Whether the recording states view, handedness and club.

    Raises
    ------
    ValueError
        If there is noise but no generator.
    """
    if times is None:
        times = np.arange(0.0, motion.duration, 1.0 / fps)
    left = motion.handedness is Handedness.LEFT
    pixels, depth = (camera.mirrored() if left else camera).project(motion.joints(times))
    if noise is None:
        points, confidence = pixels, np.where(np.isnan(pixels[..., 0]), 0.0, 1.0)
    elif rng is None:
        raise ValueError("noise needs a random generator: pass rng")
    else:
        points, confidence = noise.observe(pixels, depth, times, rng)
    return SwingRecording(
        points=points,
        confidence=confidence,
        times=times - times[0],
        view=camera.view if tell else None,
        handedness=motion.handedness if tell else None,
        intent=motion.intent,
        club=motion.club if tell else None,
    )
