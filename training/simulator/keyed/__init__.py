"""A second golfer of another make: key positions in space, joined by inverse kinematics.

The golfer of :mod:`training.simulator` is made of curves of joint angles. This one is made of
places: where pelvis, neck, hands and clubhead are at P1 to P10, which way knees and elbows point,
how the feet stand. Smooth curves run through the places, each part of the body on a clock of its
own, and two-bone limbs reach for them. Nothing of the body's mechanics is shared; the world frame,
the names of the faults and the definition of the positions are.

Some hundred style numbers are drawn for every player (:mod:`.player`, where published ranges
stand beside ours), so that turn, tilt, plane, tempo and finish differ as they do between people.
"""

from training.simulator.keyed.motion import KeyedSwing, keyed_swing, random_keyed_swing
from training.simulator.keyed.player import random_player

__all__ = ["KeyedSwing", "keyed_swing", "random_keyed_swing", "random_player"]
