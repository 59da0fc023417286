"""A kinematic 3-D golfer with a club, seen by a pinhole camera and a noisy pose estimator.

World frame, right-handed, in metres: x toward the target, y up, z from the player
toward the ball; the origin is on the ground midway between the ankles. That is the
world of a right-hander. A left-hander lives in its mirror image, with x away from the
target, and has left and right exchanged.

The pose at every moment follows from some thirty joint *channels* (turns, tilts, arm
and shaft angles), each a smooth curve through key poses at P1 to P10.
"""

from training.simulator.amounts import FaultAmounts
from training.simulator.filming.camera import Camera, random_camera
from training.simulator.filming.estimating.estimator import EstimatorNoise
from training.simulator.filming.film import Movement, film
from training.simulator.generate import random_golfer, random_swing
from training.simulator.golfer import Golfer
from training.simulator.swing.motion import SwingMotion, swing_motion
from training.simulator.swing.tempo import Tempo

__all__ = [
    "Camera",
    "EstimatorNoise",
    "FaultAmounts",
    "Golfer",
    "Movement",
    "SwingMotion",
    "Tempo",
    "film",
    "random_camera",
    "random_golfer",
    "random_swing",
    "swing_motion",
]
