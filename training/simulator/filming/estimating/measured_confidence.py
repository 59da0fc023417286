"""How sure a real pose estimator is of its points on golf swings, drawn from what was measured.

The levels are those of :mod:`training.simulator.filming.estimating.joint_errors`. How points go
together was measured on 29 golf clips through that estimator and found alike on 41 of other
actions: the joints of a limb are told with nearly one confidence, which says how much of the limb
is seen.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray
from training.simulator.filming.estimating.common_errors import shared, wander
from training.simulator.filming.estimating.hidden_sides import hidden
from training.simulator.filming.estimating.joint_errors import ARMS, column
from training.simulator.filming.estimating.measured_errors import ClipSizes

_BETWEEN: Final[float] = 0.52
"""Spread of confidence between clips of one view, log-odds: 0.4 to 0.8."""
_CLIPS_ALIKE: Final[FloatArray] = shared(clip=0.25, part=0.3, limb=0.4)
"""Between clips: 0.90 to 0.99 along a limb, 0.90 from ear to ear, 0.3 to 0.7 from one far limb or
the head to another."""
_POORER: Final[float] = 0.4
"""Correlation of that with how little a point jitters: 0.4 to 0.6 at the legs, -0.2 to 0.4 at the
arms."""
_UNREST_SPREAD: Final[float] = 0.32
_UNREST_ALIKE: Final[FloatArray] = shared(limb=0.4, turn=0.45)
"""Of the logarithm of a limb's unrest between clips: 0.8 to 0.95 along a limb."""
_COURSE_ALIKE: Final[FloatArray] = shared(part=0.2, limb=0.3, turn=0.42)
"""In time: 0.8 to 0.93 along a limb, 0.35 to 0.75 from the arm to the leg of a side, -0.2 to -0.5
from arm to arm, about nothing from leg to leg."""
_SETTLES: Final[float] = 0.4
"""Seconds in which confidence changes."""
_KEPT: Final[float] = 0.75
_ARMS_KEPT: Final[float] = 0.6
"""Share of a joint's confidence that stays what it is on average over the clip, however it turns.
Like the spreads of confidence in the table, set by ``tests.reference.estimator.tell_apart``."""
_FORSAKEN: Final[float] = 0.7
"""Log-odds of confidence that a lost wrist falls by: measured 0.86 to 0.76, 0.68 to 0.50, 0.56 to
0.43 and 0.89 to 0.66."""
_FAR_OFF: Final[float] = 0.12
"""Body heights by which a joint of a lost arm is off."""


def measured_confidence(
    error: FloatArray,
    pixels: FloatArray,
    depth: FloatArray,
    times: FloatArray,
    sizes: ClipSizes,
    rng: np.random.Generator,
) -> FloatArray:
    """Confidence as that estimator gives it, to three decimals, shape (n_frames, n_points).

    High for whatever faces the camera, right or wrong; low for the far side's limbs and lower still
    where one is lost.
    """
    unseen = hidden(depth)
    kept = np.full(depth.shape[1], _KEPT)
    kept[np.ravel(ARMS)] = _ARMS_KEPT
    unseen = kept * unseen.mean(axis=0) + (1.0 - kept) * unseen
    odds = (1.0 - unseen) * column("near") + unseen * column("far")
    differ = rng.standard_normal(len(_CLIPS_ALIKE)) @ _CLIPS_ALIKE
    odds += _BETWEEN * (np.sqrt(1.0 - _POORER**2) * differ - _POORER * sizes.jitter)
    size = np.exp(_UNREST_SPREAD * rng.standard_normal(len(_UNREST_ALIKE)) @ _UNREST_ALIKE)
    unrest = np.broadcast_to(column("unrest") * size, depth.shape).copy()
    for arm in ARMS:
        unrest[:, arm] *= 1.45 - 1.0 * unseen[:, arm]
    odds += unrest * (
        wander((len(times), len(_COURSE_ALIKE)), times, _SETTLES, rng) @ _COURSE_ALIKE
    )
    for arm in ARMS:
        far_off = np.linalg.norm(error[:, arm], axis=-1) / body_height(pixels) > _FAR_OFF
        odds[:, arm] -= _FORSAKEN * far_off
    told: FloatArray = np.clip(1.0 / (1.0 + np.exp(-odds)), 0.003, 1.0)
    return np.asarray(np.round(told, 3))
