"""A golfer whose lead arm and club are a driven double pendulum.

The golfer of :mod:`training.simulator` is made of curves through key poses, that of
:mod:`training.simulator.keyed` of key positions in space. This one is made of what drives a swing:
the lead arm turns about its shoulder in an inclined plane by an angle in time, backward by one
stroke and through the ball to the finish by another; the club hangs on it by the wrists, is held
there until they let go, and is then thrown outward by the arm's own motion
(:mod:`.courses.pendulum`). When they let go follows from the club having to meet the ball. The
trunk turns and shifts by strokes of its own (:mod:`.courses.strokes`), the trail arm closes the
loop on the handle (:mod:`.figure.arms`), and nothing is keyed at P2, P3, P5, P6, P8 or P9: these
come when they come.

The world frame, the names of the faults, the clubs and the definition of the positions are those of
the other makes.
"""

from training.simulator.driven.motion import DrivenSwing, driven_swing, random_driven_swing
from training.simulator.driven.player import Player, random_player, usual_player

__all__ = [
    "DrivenSwing",
    "Player",
    "driven_swing",
    "random_driven_swing",
    "random_player",
    "usual_player",
]
