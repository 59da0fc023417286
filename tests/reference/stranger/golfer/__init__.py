"""A golfer of another hand: key poses in space, joints between by the law of cosines."""

from tests.reference.stranger.golfer.faults import CHANGES, random_faults
from tests.reference.stranger.golfer.swing import Swing, random_swing

__all__ = ["CHANGES", "Swing", "random_faults", "random_swing"]
