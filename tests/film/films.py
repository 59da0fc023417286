"""Small films written for the tests: their pictures are made up, their containers are real."""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

CLOCK = Fraction(1, 60_000)


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
