"""What of a film is analysed: the shot that holds the swing, without what was not seen in it."""

from service.analysis.shots.choosing import shots_with_swing
from service.analysis.shots.stray_club import without_stray_club

__all__ = ["shots_with_swing", "without_stray_club"]
