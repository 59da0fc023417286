"""The columns of every table, in and out. Add columns only; readers rely on their names.

Times are seconds of the player's own time from the first frame, frames are zero-based, lengths and
angles in the unit that stands beside them. ``swing`` is the same in every table: a digest of the
path below the archive and the line, so that it is the same in every run.
"""

from __future__ import annotations

from typing import Final

import pyarrow as pa

_WORD: Final = pa.dictionary(pa.int32(), pa.string())
"""A text of which there are few."""
_CARRIED: Final = pa.map_(pa.string(), pa.string())

CLIPS: Final = pa.schema(
    [
        # Frame by frame, point by point: x, y, confidence. NaN or null where missing or not sent.
        pa.field("keypoints", pa.list_(pa.float32()), nullable=False),
        # The points of a frame: a published layout, or else their names.
        pa.field("layout", pa.string()),
        pa.field("joints", pa.list_(pa.string())),
        # One of the two: frames a second of the video, or the video time of every frame.
        pa.field("fps", pa.float64()),
        pa.field("timestamps", pa.list_(pa.float64())),
        pa.field("playback_speed", pa.float64()),
        # "pixels" when null; "normalised" needs the image's size in pixels.
        pa.field("coordinates", pa.string()),
        pa.field("image_width", pa.float64()),
        pa.field("image_height", pa.float64()),
        pa.field("view", pa.string()),
        pa.field("handedness", pa.string()),
        pa.field("intent", pa.string()),
        pa.field("club", pa.string()),
        pa.field("stop_at", pa.float64()),
        pa.field("client_reference", pa.string()),
        # What a conversion notes: where the clip came from, what was said of how it was read.
        pa.field("origin_path", pa.string()),
        pa.field("origin_line", pa.int64()),
        pa.field(
            "remarks",
            pa.list_(pa.struct([(name, pa.string()) for name in ("code", "level", "text", "fix")])),
        ),
        # Whatever else is known of the swing; other columns of numbers or texts are taken alike.
        pa.field("carried", _CARRIED),
    ]
)
"""A swing a row. Only ``keypoints``, ``layout`` or ``joints``, and ``fps`` or ``timestamps`` are
needed; row groups of some 512 swings are best, as one is the least that is done at once."""

_POSITION: Final = tuple(f"p{number}" for number in range(1, 11))

SWINGS: Final = pa.schema(
    [
        ("swing", pa.string()),
        ("path", pa.string()),
        ("line", pa.int64()),  # from 1; null where the file is one swing
        ("client_reference", pa.string()),
        ("swing_found", pa.bool_()),
        ("reason", _WORD),  # why none was found
        ("view", _WORD),
        ("view_confidence", pa.float64()),
        ("view_given", pa.bool_()),
        ("handedness", _WORD),
        ("handedness_confidence", pa.float64()),
        ("handedness_given", pa.bool_()),
        ("intent", _WORD),
        ("club", _WORD),
        ("frames", pa.int32()),
        ("frame_rate", pa.float64()),
        *((f"{name}_s", pa.float64()) for name in _POSITION),
        *((f"{name}_uncertainty_s", pa.float64()) for name in _POSITION),
        *((f"{name}_source", _WORD) for name in _POSITION),
        ("asked_stop_at", pa.float64()),
        ("stopped_at", pa.float64()),
        ("stopped_at_uncertainty", pa.float64()),
        ("remarks", pa.list_(_WORD)),
        ("kept_as", pa.string()),  # id in the service's records, where it was kept
        ("not_kept", _WORD),  # why it was not, where it was to be
        ("service", _WORD),
        ("model", _WORD),  # null where rules judged alone
        ("carried", _CARRIED),
    ]
)
FINDINGS: Final = pa.schema(
    [
        ("swing", pa.string()),
        ("fault", _WORD),
        ("status", _WORD),
        ("score", pa.float64()),
        ("confidence", pa.float64()),
        ("chance", pa.float64()),
        ("severity", pa.float64()),
        ("severity_unit", _WORD),
        ("grade", _WORD),
        ("shows_most_frame", pa.int32()),
        ("shows_most_s", pa.float64()),
        ("shows_most_position", pa.float64()),
        ("reason", _WORD),  # why it is not assessable
        (
            "evidence",
            pa.list_(
                pa.struct(
                    [
                        ("measure", pa.string()),
                        ("value", pa.float64()),
                        ("uncertainty", pa.float64()),
                        ("threshold", pa.float64()),
                        ("direction", pa.string()),
                    ]
                )
            ),
        ),
    ]
)
MEASURES: Final = pa.schema(
    [
        ("swing", pa.string()),
        ("measure", _WORD),
        ("at", _WORD),
        ("unit", _WORD),
        ("value", pa.float64()),
        ("uncertainty", pa.float64()),
        ("as_measured", pa.float64()),  # where value is a trained estimate
        ("reason", _WORD),  # why there is no value
    ]
)
ERRORS: Final = pa.schema(
    [
        ("path", pa.string()),
        ("line", pa.int64()),
        ("client_reference", pa.string()),
        ("code", _WORD),  # see service.archive.errors.CODES
        ("message", pa.string()),
        ("pointer", pa.string()),
        ("fix", pa.string()),
        ("more", pa.int32()),  # further fields that are wrong
    ]
)

RESULTS: Final = {"findings": FINDINGS, "measures": MEASURES, "errors": ERRORS, "swings": SWINGS}
"""The tables of the results, each in a folder of its name, in the order in which they are written:
a partition is done when its swings are there."""
