"""How far a real pose estimator errs at each joint, how sure it is of it, and what errs alike.

Source of the numbers, unless said otherwise: ``python -m tests.reference.estimator.errors``, 21
real swings (J-HMDB videos, 320 x 240 at 30 frames a second, 4 of them face-on) annotated by hand
and seen by a widely used open estimator of 33 landmarks. The tables hold numbers only; no clip is
in them.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from service.analysis.pose.points import ANATOMICAL, joint_of
from service.analysis.types import FloatArray


class JointErrors(NamedTuple):
    """One kind of joint.

    ``steady``, ``drift``, ``jitter`` and ``by_hand`` (an annotator's jitter) are standard
    deviations on one axis in body heights, ``memory`` the seconds in which a drift falls to 1/e.
    ``follows`` is the correlation of its errors with those of the joint before it on the limb.
    ``near`` and ``far`` are the confidence of the side toward the camera and of the hidden one, as
    log-odds, ``unrest`` its spread in time.

    Steady errors are as measured, drifts too but those of knees and ankles (measured 0.0146 and
    0.0129, of which a camera held by hand is a part). ``jitter`` is what comes on top of drift and
    motion from frame to frame at a brisk pace
    (:mod:`training.simulator.filming.estimating.liveliness`): it, the feet and all confidences were
    set so that simulated clips jitter at each joint and phase and are trusted at each joint as the
    real ones are, with ``python -m tests.reference.estimator.tell_apart`` to tell how near that
    comes. They are set on the same clips.
    """

    steady: float
    drift: float
    jitter: float
    by_hand: float
    memory: float
    follows: float
    near: float
    far: float
    unrest: float


JOINTS: Final[dict[str, JointErrors]] = {
    "shoulder": JointErrors(0.0135, 0.0191, 0.0004, 0.0018, 0.11, 0.0, 8.2, 4.4, 0.32),
    "elbow": JointErrors(0.0168, 0.0318, 0.0035, 0.0069, 0.09, 0.48, 3.4, -1.2, 1.15),
    "wrist": JointErrors(0.0150, 0.0291, 0.0045, 0.0113, 0.08, 0.53, 2.6, -0.8, 0.9),
    "hip": JointErrors(0.0127, 0.0142, 0.0008, 0.0001, 0.16, 0.35, 7.2, 5.1, 0.56),
    "knee": JointErrors(0.0110, 0.0135, 0.0009, 0.0003, 0.14, 0.45, 4.0, 0.1, 0.68),
    "ankle": JointErrors(0.0102, 0.0095, 0.0007, 0.0004, 0.16, 0.40, 4.2, 0.9, 0.55),
    # Not annotated, so judgements: hands and feet like the joint before them, faces by how much
    # less annotators differ there (COCO's keypoint constants, from memory).
    "hand": JointErrors(0.0150, 0.0291, 0.0045, 0.0038, 0.08, 0.96, 1.8, -0.5, 0.75),
    "heel": JointErrors(0.0102, 0.0095, 0.0009, 0.0004, 0.14, 0.75, 2.9, 0.9, 0.4),
    "toe": JointErrors(0.0102, 0.0105, 0.0013, 0.0004, 0.14, 0.35, 3.6, 1.2, 0.55),
    "small_toe": JointErrors(0.0102, 0.0105, 0.0013, 0.0004, 0.14, 0.35, 3.6, 1.2, 0.55),
    "nose": JointErrors(0.0060, 0.0090, 0.0003, 0.0012, 0.11, 0.0, 6.3, 6.3, 0.5),
    "eye": JointErrors(0.0060, 0.0090, 0.0003, 0.0012, 0.11, 0.0, 6.3, 6.3, 0.5),
    "ear": JointErrors(0.0060, 0.0090, 0.0005, 0.0012, 0.11, 0.0, 5.4, 4.3, 0.68),
}
_ELSE: Final = JointErrors(0.0127, 0.0142, 0.0008, 0.0012, 0.13, 0.0, 6.3, 6.3, 0.4)
ARMS: Final[list[list[int]]] = [
    [ANATOMICAL.index(f"{side}_{joint}") for joint in ("elbow", "wrist", "hand")]
    for side in ("left", "right")
]
NAMES: Final[list[str]] = [joint_of(point) for point in ANATOMICAL]


def column(which: str) -> FloatArray:
    """One column of the table for every point, shape (n_points,)."""
    return np.array([getattr(JOINTS.get(name, _ELSE), which) for name in NAMES], dtype=float)
