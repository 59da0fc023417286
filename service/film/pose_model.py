"""Keypoints of the player in a picture, by a pose model that ships inside its package.

The full BlazePose model (Bazarevsky et al. 2020) as the wheel of mediapipe 0.10.14 carries it,
licence Apache 2.0; nothing is downloaded. It follows one person, the one that stands out most.
"""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any, Final

import numpy as np

from service.analysis.types import FloatArray
from service.film import FilmError
from service.film.container import Image

LAYOUT: Final[str] = "landmarks_33"
LONGEST_SIDE: Final[int] = 960
"""Pixels of a picture that are enough: the model itself looks at 256 about the player."""
_FULL: Final[int] = 1
_UNUSED: Final[tuple[str, ...]] = ("matplotlib", "matplotlib.pyplot", "sounddevice")
_N_LANDMARKS: Final[int] = 33
_MISSING: Final[str] = (
    "needs the pose model, which is not installed. On Python 3.11 or 3.12: pip install '.[video]' "
    "(its package has no wheels for newer ones; this is Python {}.{}). Without it, send keypoints."
)


class PoseModel:
    """The model, following one person from frame to frame. Made by :func:`pose_model`."""

    def __init__(self, pose: Any) -> None:
        self._pose = pose

    def landmarks(self, image: Image) -> FloatArray:
        """Find the landmarks of the next frame.

        Parameters
        ----------
        image : array of shape (height, width, 3)
            RGB.

        Returns
        -------
        array of shape (33, 3)
            x and y as fractions of width and height, y down, and the visibility from 0 to 1; NaN
            where nobody was found.
        """
        found = self._pose.process(image).pose_landmarks
        if found is None:
            return np.full((_N_LANDMARKS, 3), np.nan)
        return np.array([[each.x, each.y, each.visibility] for each in found.landmark])


@contextmanager
def pose_model() -> Iterator[PoseModel]:
    """Load the model; its own smoothing is off, since it lags.

    Raises
    ------
    FilmError
        When it is not installed; the message says which Pythons have it.
    """
    warnings.filterwarnings("ignore", category=UserWarning, module=r"google\.protobuf")
    with _native_chatter_dropped(), _left_out():
        try:
            from mediapipe.python.solutions.pose import Pose
        except ImportError:
            raise FilmError(_MISSING.format(*sys.version_info[:2])) from None
        pose = Pose(model_complexity=_FULL, smooth_landmarks=False)
        pose.process(np.zeros((64, 64, 3), dtype=np.uint8))
    with pose:
        yield PoseModel(pose)


@contextmanager
def _left_out() -> Iterator[None]:
    """Keep the package from loading what only its drawing and sound need.

    Loading it takes seconds, writes a cache of fonts into the home folder and runs a compiler to
    look for a library of sound.
    """
    stood_in = [name for name in _UNUSED if name not in sys.modules]
    sys.modules.update({name: ModuleType(name) for name in stood_in})
    try:
        yield
    finally:
        for name in stood_in:
            del sys.modules[name]


@contextmanager
def _native_chatter_dropped() -> Iterator[None]:
    """Drop what native code writes to standard error while it starts, past Python's own stream."""
    sys.stderr.flush()
    kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
