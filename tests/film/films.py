"""Small films written for the tests: their pictures are made up, their containers are real."""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from service.analysis.pose.layouts import LAYOUTS
from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import SwingRecording

CLOCK = Fraction(1, 60_000)
FPS = 60
WIDTH, HEIGHT = 192, 108


def picture(width: int = 64, height: int = 48) -> np.ndarray:
    """Red in the upper left quarter, green in the upper right, blue in the lower left."""
    image = np.zeros((height, width, 3), dtype=np.uint8)
    image[: height // 2, : width // 2, 0] = 255
    image[: height // 2, width // 2 :, 1] = 255
    image[height // 2 :, : width // 2, 2] = 255
    return image


def write_film(
    path: Path,
    times: Sequence[float],
    *,
    images: Sequence[np.ndarray] | None = None,
    rate: int = 30,
    metadata: Mapping[str, str] | None = None,
    rotation: int | None = None,
    pixel_ratio: Fraction | None = None,
) -> Path:
    """Write a film with a frame at each of some times in seconds."""
    shown = [picture()] * len(times) if images is None else images
    with av.open(str(path), "w", options={"movflags": "use_metadata_tags"}) as container:
        container.metadata.update(metadata or {})
        stream = container.add_stream("mpeg4", rate=rate)
        stream.height, stream.width = shown[0].shape[:2]
        stream.pix_fmt, stream.bit_rate = "yuv420p", 4_000_000
        stream.codec_context.time_base = CLOCK
        stream.codec_context.gop_size = 1
        if pixel_ratio is not None:
            stream.codec_context.sample_aspect_ratio = pixel_ratio
        if rotation is not None:
            stream.set_display_rotation(rotation)
        for time, image in zip(times, shown, strict=True):
            frame = av.VideoFrame.from_ndarray(image, format="rgb24")
            frame.pts, frame.time_base = round(time / CLOCK), CLOCK
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def write_blank(path: Path, n_frames: int, **told: object) -> Path:
    """Write a film of WIDTH by HEIGHT that shows one colour."""
    images = [np.full((HEIGHT, WIDTH, 3), (90, 120, 60), dtype=np.uint8)] * n_frames
    times = [k / FPS for k in range(n_frames)]
    return write_film(path, times, images=images, rate=FPS, **told)  # type: ignore[arg-type]


def in_a_picture(recording: SwingRecording) -> SwingRecording:
    """The same swing in fractions of a picture of WIDTH by HEIGHT."""
    low, high = np.nanmin(recording.points, (0, 1)), np.nanmax(recording.points, (0, 1))
    middle, reach = (low + high) / 2, 1.2 * (high - low)[1]
    points = (recording.points - middle) / reach * (HEIGHT / WIDTH, 1.0) + 0.5
    return SwingRecording(points, recording.confidence, recording.times)


class StandIn:
    """Stands in for the pose model: gives the landmarks of a swing frame by frame."""

    def __init__(self, swing: SwingRecording) -> None:
        columns = [0 if j is None else ANATOMICAL.index(j) for j in LAYOUTS["landmarks_33"].joints]
        frames = swing.points[:, columns]
        self._frames = iter(np.concatenate([frames, np.full((*frames.shape[:2], 1), 0.99)], axis=2))

    def landmarks(self, image: np.ndarray) -> np.ndarray:
        assert image.shape == (HEIGHT, WIDTH, 3)
        return next(self._frames)


def turn_clockwise(path: Path) -> None:
    """Set the matrix of the track header to a quarter turn clockwise, as phones held upright do.

    Source: ISO/IEC 14496-12, track header box: x' = a x + c y, y' = b x + d y with y down, so
    (a, b, c, d) = (0, 1, -1, 0) moves what is on the right to the bottom. From memory.
    """
    data = bytearray(path.read_bytes())
    header = data.index(b"tkhd") + 4
    assert data[header] == 0, "the matrix lies elsewhere in a box of version 1"
    matrix = header + 40
    one = 1 << 16
    data[matrix : matrix + 36] = struct.pack(">9i", 0, one, 0, -one, 0, 0, 0, 0, 1 << 30)
    path.write_bytes(data)
