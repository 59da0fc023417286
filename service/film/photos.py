"""Parts of a film's frames as JPEG, to lie under a drawing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from service.film.container import Film, Image, frames_of, to_jpeg
from service.report.pictures.still import Photo, Window

_QUALITIES: Final[tuple[int, ...]] = (4, 7, 12, 20, 31)
"""As :func:`~service.film.container.to_jpeg` counts, best first."""
_SMALLER: Final[float] = 0.7
"""Share of its width that a photo keeps where its worst quality takes too many bytes."""


def photos(
    film: Film, windows: Mapping[int, Window], wide: float, most_bytes: int | None = None
) -> dict[int, Photo]:
    """Decode a film once more for the parts of some frames, holding one frame at a time.

    Parameters
    ----------
    windows
        By frame, what to show of the picture, in its pixels; what lies outside is left out, and a
        frame of which nothing is left has no photo.
    wide
        Most pixels across a photo.
    most_bytes
        Of one photo; quality goes first, then size.

    Raises
    ------
    FilmError
        When the film can't be read any more.
    """
    if not windows:
        return {}
    narrowest = min(window.width for window in windows.values())
    longest = max(round(wide / narrowest * max(film.width, film.height)), 2)
    cut = {
        frame.index: _cut(frame.image, film, windows[frame.index], wide, most_bytes)
        for frame in frames_of(film, longest, windows)
    }
    return {frame: photo for frame, photo in cut.items() if photo is not None}


def _cut(
    image: Image, film: Film, window: Window, wide: float, most_bytes: int | None
) -> Photo | None:
    scale = image.shape[1] / film.width
    high, across = image.shape[:2]
    left, top = (int(max(side * scale, 0)) for side in (window.left, window.top))
    right = int(min((window.left + window.width) * scale, across))
    bottom = int(min((window.top + window.height) * scale, high))
    right, bottom = right - (right - left) % 2, bottom - (bottom - top) % 2
    if right - left < 2 or bottom - top < 2:
        return None
    part = Window(left / scale, top / scale, (right - left) / scale, (bottom - top) / scale)
    return Photo(_within(image[top:bottom, left:right], int(wide), most_bytes), part)


def _within(image: Image, wide: int, most_bytes: int | None) -> bytes:
    for quality in _QUALITIES:
        jpeg = to_jpeg(image, quality, wide)
        if most_bytes is None or len(jpeg) <= most_bytes:
            return jpeg
    return _within(image, int(_SMALLER * min(wide, image.shape[1])), most_bytes)
