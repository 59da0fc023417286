"""A film's frames as a viewer sees them, each with its time.

Times come from the container, so a variable rate is kept; the rotation flag is followed and pixels
that are not square are made so. High-speed films that play slow tell the rate at which they were
taken in the metadata key ``com.android.capture.fps`` (Android's ``MediaMetadataRetriever``
documents it as METADATA_KEY_CAPTURE_FRAMERATE; the key's name is from memory). Apple's key
``com.apple.quicktime.full-frame-rate-playback-intent`` only says how a film is meant to be played
(Apple's AVFoundation documentation); the times in such films are true as they are.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from service.film import FilmError

if TYPE_CHECKING:
    import av

Image = NDArray[np.uint8]

_CAPTURE_RATE: Final[str] = "com.android.capture.fps"
_SAME_RATE: Final[float] = 0.1
"""Share by which the rate of capture may differ from that of the film and the film still plays in
real time: a phone that is short of light takes fewer frames than it was asked for."""
_LEAST_STEP: Final[float] = 1e-4
"""Seconds between frames; what is nearer is one frame written twice."""


@dataclass(frozen=True)
class Film:
    """What a container tells of its film.

    Attributes
    ----------
    width, height : int
        Of the upright picture, in square pixels.
    turned : int
        Degrees by which the stored picture is turned counterclockwise to stand upright: 0, 90, 180
        or 270.
    rate : float
        Frames a second of playing time.
    capture_rate : float or None
        Frames a second at which it was taken, where the metadata tell.
    length : float
        Seconds of playing time, 0 where not told.
    """

    path: Path
    width: int
    height: int
    turned: int
    rate: float
    capture_rate: float | None
    length: float

    @property
    def playback_speed(self) -> float:
        """1 for real time, 0.25 where it plays four times slower than life."""
        if self.capture_rate is None:
            return 1.0
        speed = self.rate / self.capture_rate
        return 1.0 if abs(speed - 1.0) <= _SAME_RATE else speed


@dataclass(frozen=True)
class Frame:
    """One frame: ``time`` in seconds of playing time from the first, and ``image`` in RGB.

    ``image`` has shape (height, width, 3) and may be smaller than the film.
    """

    index: int
    time: float
    image: Image


def look_into(path: Path) -> Film:
    """What the container and the first frame of a film tell.

    Raises
    ------
    FilmError
        When there is no film in the file, or what reads films is not installed.
    """
    with _opened(path) as (container, stream):
        first = next(iter(container.decode(stream)), None)
        if first is None:
            raise FilmError("holds no frame")
        turned = round(first.rotation / 90) % 4 * 90
        width, height = _square(stream, first)
        if turned % 180:
            width, height = height, width
        rate = stream.average_rate or stream.guessed_rate or stream.base_rate
        length = stream.duration * stream.time_base if stream.duration else 0
        return Film(
            path,
            width,
            height,
            turned,
            float(rate or 0),
            _number({**container.metadata, **stream.metadata}.get(_CAPTURE_RATE)),
            float(length),
        )


def frames_of(
    film: Film, longest: int | None = None, wanted: Collection[int] | None = None
) -> Iterator[Frame]:
    """Decode a film frame by frame, holding one at a time.

    Parameters
    ----------
    longest
        Most pixels of the longer side; larger pictures are reduced.
    wanted
        Numbers of the frames to give; all of them unless told.

    Raises
    ------
    FilmError
        When the film breaks off or can't be read.
    """
    end = max(wanted, default=-1) if wanted is not None else None
    with _opened(film.path) as (container, stream):
        start, last, index = None, -1.0, 0
        for number, frame in enumerate(container.decode(stream)):
            moment = _moment(frame, number, film.rate)
            start = moment if start is None else start
            if moment - start - last < _LEAST_STEP:
                continue
            if end is not None and index > end:
                return
            last = moment - start
            if wanted is None or index in wanted:
                yield Frame(index, last, _upright(frame, film, longest))
            index += 1


def _moment(frame: av.VideoFrame, number: int, rate: float) -> float:
    """When a frame is shown; by its number where the container only tells the rate."""
    if frame.time is not None:
        return frame.time
    if not rate:
        raise FilmError("tells neither the times of its frames nor their rate")
    return number / rate


@contextmanager
def _opened(path: Path) -> Iterator[tuple[Any, Any]]:
    """The container and its first film; whatever goes wrong is a :class:`FilmError`."""
    try:
        import av
    except ImportError:
        raise FilmError("can't be read without the extra: pip install '.[video]'") from None
    try:
        with av.open(str(path)) as container:
            if not container.streams.video:
                raise FilmError("holds no film, only other streams")
            stream = container.streams.video[0]
            stream.thread_type = "AUTO"
            yield container, stream
    except av.FFmpegError as error:
        raise FilmError(f"can't be read as a film: {error.strerror or error}") from None


def _square(stream: Any, frame: av.VideoFrame) -> tuple[int, int]:
    """Size of a stored frame in square pixels."""
    ratio = stream.sample_aspect_ratio
    return (round(frame.width * ratio) if ratio else frame.width), frame.height


def _upright(frame: av.VideoFrame, film: Film, longest: int | None) -> Image:
    size = np.array([film.width, film.height])
    if longest is not None and size.max() > longest:
        size = np.maximum(np.round(size * (longest / size.max())).astype(int), 1)
    width, height = (int(side) for side in (size[::-1] if film.turned % 180 else size))
    stored = frame.reformat(width=width, height=height, format="rgb24").to_ndarray()
    return np.ascontiguousarray(np.rot90(stored, film.turned // 90))


def _number(told: str | None) -> float | None:
    try:
        value = float(told or "")
    except ValueError:
        return None
    return value if np.isfinite(value) and value > 0 else None


def to_jpeg(image: Image, quality: int = 4, wide: int | None = None) -> bytes:
    """A picture as JPEG.

    Parameters
    ----------
    image : array of shape (height, width, 3)
        RGB; a last odd row or column is cut off.
    quality
        2 (best) to 31, as the encoder counts.
    wide
        Most pixels across; a wider picture is reduced.
    """
    import av

    height, width = (side - side % 2 for side in image.shape[:2])
    frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(image[:height, :width]), format="rgb24")
    encoder = av.CodecContext.create("mjpeg", "w")
    if wide is not None and width > wide:
        width, height = (max(round(s * wide / width) // 2 * 2, 2) for s in (width, height))
    encoder.width, encoder.height, encoder.pix_fmt = width, height, "yuvj420p"
    encoder.time_base = Fraction(1)
    encoder.options = {"qmin": str(quality), "qmax": str(quality)}
    shown = frame.reformat(width=width, height=height, format="yuvj420p")
    packets = [*encoder.encode(shown), *encoder.encode(None)]
    return b"".join(bytes(packet) for packet in packets)
