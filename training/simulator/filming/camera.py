"""A pinhole camera beside the player."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.analysis.types import FloatArray, View
from training.simulator.body.rotations import about_x, about_y, about_z

# Metres; common practice.
_AIM_HEIGHT: Final[float] = 1.0
"""Height that a camera is aimed at."""
_AIMED_AT: Final[dict[View, float]] = {View.FACE_ON: 0.25, View.DOWN_THE_LINE: 0.40}
"""How far before the ankles the line lies that it looks along or at: down the line, the hands'."""
_HEADING: Final[dict[View, float]] = {View.FACE_ON: 180.0, View.DOWN_THE_LINE: 90.0}
"""Degrees from straight ahead of the player toward the target, in which it looks."""
PORTRAIT: Final = (1080, 1920)
LANDSCAPE: Final = (1920, 1080)


@dataclass(frozen=True)
class Camera:
    """A pinhole camera in the world frame of a right-hander.

    Attributes
    ----------
    position : tuple of three floats
        Metres.
    yaw, pitch, roll : float
        Degrees. With all zero it looks along +z with the image upright; yaw turns it
        toward +x, pitch up, roll clockwise as seen from behind the camera.
    image_size : tuple of two ints
        Width and height in pixels; the optical axis meets the middle.
    focal : float
        Focal length in pixels.
    """

    view: View
    position: tuple[float, float, float]
    yaw: float
    pitch: float
    roll: float
    image_size: tuple[int, int]
    focal: float

    @classmethod
    def standing(
        cls,
        view: View,
        distance: float = 4.0,
        height: float = 1.1,
        yaw: float = 0.0,
        pitch: float = 0.0,
        roll: float = 0.0,
        image_size: tuple[int, int] = PORTRAIT,
    ) -> Camera:
        """Camera at a distance and height in metres, aimed at the player's middle, whom it frames.

        Face-on it stands in front of the player, and a right-hander's target is to the image's
        right. Down the line it stands behind the player on the line of the hands and looks at the
        target; a right-hander faces the image's right. ``yaw`` is how far (degrees) it stands
        round from there, positive toward the target, or down the line toward the ball side; it
        still faces the player. ``pitch`` and ``roll`` are errors of aim.
        """
        heading = _HEADING[view] + yaw
        away = np.radians(heading)
        aim = float(np.degrees(np.arctan2(_AIM_HEIGHT - height, distance)))
        return cls(
            view=view,
            position=(
                -distance * float(np.sin(away)),
                height,
                _AIMED_AT[view] - distance * float(np.cos(away)),
            ),
            yaw=heading,
            pitch=aim + pitch,
            roll=roll,
            image_size=image_size,
            focal=_framing_focal(distance, image_size),
        )

    def mirrored(self) -> Camera:
        """The same camera in the mirror-image world of a left-hander."""
        x, y, z = self.position
        return replace(self, position=(-x, y, z), yaw=-self.yaw, roll=-self.roll)

    def project(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Image of points in space.

        Parameters
        ----------
        points : array of shape (..., 3)
            Metres in the world frame.

        Returns
        -------
        pixels : array of shape (..., 2)
            x to the right and y down from the upper left corner; NaN behind the camera.
        depth : array of shape (...)
            Metres along the optical axis.
        """
        axes = about_y(np.array(self.yaw)) @ about_x(np.array(-self.pitch))
        axes = axes @ about_z(np.array(self.roll))
        seen = (points - np.array(self.position)) @ axes
        depth = seen[..., 2]
        with np.errstate(invalid="ignore", divide="ignore"):
            scale = np.where(depth > 0.1, self.focal / depth, np.nan)
        width, height = self.image_size
        # Looking along +z with y up, the world's +x is on the left.
        pixels = np.stack(
            [0.5 * width - scale * seen[..., 0], 0.5 * height - scale * seen[..., 1]], axis=-1
        )
        return pixels, depth


def random_camera(rng: np.random.Generator, view: View) -> Camera:
    """A camera as players put it up: roughly in place, roughly level."""
    landscape = rng.random() < 0.3
    return Camera.standing(
        view,
        distance=float(rng.uniform(3.2, 6.0)),
        height=float(rng.uniform(0.7, 1.5)),
        yaw=float(np.clip(rng.normal(0.0, 4.0), -10.0, 10.0)),
        pitch=float(np.clip(rng.normal(0.0, 1.5), -4.0, 4.0)),
        roll=float(np.clip(rng.normal(0.0, 1.2), -4.0, 4.0)),
        image_size=LANDSCAPE if landscape else PORTRAIT,
    )


def _framing_focal(distance: float, image_size: tuple[int, int]) -> float:
    """Focal length at which about 3 m of height or width fill the image, whichever is tighter."""
    return min(image_size[0] / 2.6, image_size[1] / 3.0) * distance
