"""What the film's clock allows: slow, fast or uneven play, frames too few, a clip cut short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from service.analysis.faults.hurried_transition import DEFINITION as HURRIED
from service.analysis.footage.uneven import Clip, Frames, frame_by_frame
from service.analysis.types import (
    FloatArray,
    Intent,
    Level,
    Position,
    Remark,
    Source,
    View,
)

_IMPACT_FRAMES: Final[float] = 2.0
_FAST_ENOUGH: Final[float] = 110.0
"""Frames a second from which the rate is not to blame."""
_LONGEST_DOWNSWING: Final[float] = 0.45
"""Seconds from P4 to P7 that hardly any swing at full speed takes: 0.2 to 0.35 s is common
practice. Of 59 real swings at a known frame rate the slowest took 0.44 s, the usual one 0.26 s."""
_LONGEST_SNATCHED: Final[float] = 0.36
"""Seconds from P4 to P7 beyond which a quick backswing is no haste: 0.2 to 0.35 s is common
practice, and what takes longer after a quick backswing is shown slow, as phones do from the top on.
Of 27 real swings at a known rate whose start is seen none takes more than 0.28 s; of 82 at an
unknown rate, some slowed, one in ten does."""
_LARGEST_RATIO: Final[float] = 5.5
"""Backswing over downswing beyond which they don't go by one clock: of 109 real swings the largest
is 5.0, three in four lie below 3.1."""
_LONGEST_BACKSWING: Final[float] = 1.6
"""Seconds from P1 to P4 that hardly anybody takes at full speed: of the same 109, of which some are
shown slow, the longest is 1.3 s."""
_FILLED_IN: Final[float] = 0.35
"""By which the shares of frames filled in differ between backswing and downswing where one of them
was slowed: a half or more are at half its speed."""
_FEWEST: Final[int] = 2
"""Frames of backswing and downswing from which such shares tell anything."""
_LEAST_OWN: Final[Mapping[str, float]] = {"backswing": 0.4, "downswing": 0.17}
"""Seconds of frames that were filmed that a part into which others were filled has at least: of 109
real swings whose start is seen the shortest backswing took 0.5 s, of 59 the fastest downswing 0.19.
Without it frames at the top, where hands hardly move, are taken for ones that nobody filmed."""
_LACKING: Final[Mapping[str, float]] = {"backswing": 0.05, "downswing": 0.15}
"""Share of the frames of a part that may seem to be lacking: in a downswing of eight frames one in
which an estimator errs is more than a tenth."""
_SHORTEST_DOWNSWING: Final[float] = 0.15
"""Seconds from P4 to P7 that nobody is quick enough for: of the same 59 the fastest took 0.19 s."""
_USUAL_DOWNSWING: Final[float] = 0.27
"""Seconds from P4 to P7, common practice; tells how many times a film is slowed."""
_SLOWED: Final[tuple[float, ...]] = (0.5, 0.25, 0.125)
"""Playback speeds of slow-motion film that phones write: 60, 120 and 240 frames a second at 30."""
_SNATCHED: Final[float] = HURRIED.criteria[View.FACE_ON][0].threshold


def plays_slow(positions: tuple[Position, ...], intent: Intent) -> Remark | None:
    """A downswing slower than at full speed: most likely slow motion not told of."""
    top, impact = positions[3].time, positions[6].time
    if intent is not Intent.FULL_SPEED or top is None or impact is None:
        return None
    took = impact - top
    if took <= _LONGEST_DOWNSWING:
        return None
    slowed = np.array(_SLOWED)
    speed = float(slowed[np.argmin(np.abs(np.log(slowed * took / _USUAL_DOWNSWING)))])
    return Remark(
        "plays_slow",
        Level.WARNING,
        f"The downswing takes {took:.2f} s, longer than at full speed: the film seems to play "
        "slow, so that times, tempo and what hangs on them are off.",
        f"Say how fast the film plays: playback_speed {speed:g} (times the one sent, if any); or "
        "that it is a slow rehearsal (intent), if the player did swing slowly.",
    )


def plays_unevenly(
    positions: tuple[Position, ...], intent: Intent, frames: str | None
) -> Remark | None:
    """Backswing and downswing that don't go by one clock, though neither is out of all bounds.

    ``frames`` is what :func:`uneven_frames` tells of the swing.
    """
    took = _took(positions, intent)
    if took is None:
        return None
    back, down = took
    slow = down > _LONGEST_SNATCHED and back < _SNATCHED * down
    if slow or back > min(_LARGEST_RATIO * down, _LONGEST_BACKSWING):
        seen = (
            f"A backswing of {back:.2f} s and a downswing of {down:.2f} s hardly go together at "
            "full speed"
        )
    elif frames:
        seen = frames
    else:
        return None
    return Remark(
        "plays_unevenly",
        Level.WARNING,
        f"{seen}: a part of the film may play slow or fast, so that the tempo can't be judged.",
        "Send the whole swing at one speed, with all its frames or their true times; or intent: "
        "rehearsal if the player did swing slowly.",
    )


def _took(positions: tuple[Position, ...], intent: Intent) -> tuple[float, float] | None:
    """Seconds of backswing and downswing at full speed, where it is not told already that the
    latter is too slow or too fast."""
    start, top, impact = (positions[k].time for k in (0, 3, 6))
    if intent is not Intent.FULL_SPEED or start is None or top is None or impact is None:
        return None
    within = _SHORTEST_DOWNSWING <= impact - top <= _LONGEST_DOWNSWING
    return (top - start, impact - top) if within else None


def uneven_frames(
    swings: Sequence[tuple[tuple[Position, ...], Intent, FloatArray, FloatArray]],
) -> list[str | None]:
    """What frames of each swing tell of a part of it that plays slow or fast.

    Parameters
    ----------
    swings : of each its positions, its intent, its points as they were sent, shape
        (n_frames, n_points, 2), and the times of its frames
    """
    told: list[str | None] = [None] * len(swings)
    turns = {
        k: [int(positions[at].frame or 0.0) for at in (0, 3, 6)]
        for k, (positions, intent, *_) in enumerate(swings)
        if _took(positions, intent) is not None
    }
    long_enough = {
        k: (start, top, impact)
        for k, (start, top, impact) in turns.items()
        if min(top - start, impact - top) >= _FEWEST
    }
    looks = frame_by_frame([Clip(*swings[k][2:], at[0], at[2]) for k, at in long_enough.items()])
    for (k, (start, top, impact)), own in zip(long_enough.items(), looks, strict=True):
        times = swings[k][3]
        parts = {
            "backswing": (slice(0, top - start), float(times[top] - times[start])),
            "downswing": (slice(top - start, None), float(times[impact] - times[top])),
        }
        told[k] = _slowed(own, parts) or _lacks(own, parts)
    return told


_Parts = Mapping[str, tuple[slice, float]]
"""Of backswing and downswing the frames and the seconds they take."""


def _slowed(frames: Frames, parts: _Parts) -> str | None:
    """The part into which frames were filled to slow it, or more of them.

    Not one that would be quicker without them than anybody is.
    """
    shares = {
        part: np.count_nonzero(own := frames.filled_in[at]) / len(own)
        for part, (at, _) in parts.items()
    }
    part = max(shares, key=lambda part: shares[part])
    _, took = parts[part]
    few = shares[part] - min(shares.values()) <= _FILLED_IN
    if few or took * (1.0 - shares[part]) < _LEAST_OWN[part]:
        return None
    return f"Many frames of the {part} show the one before again or were put between two others"


def _lacks(frames: Frames, parts: _Parts) -> str | None:
    """The first part in which frames are lacking."""
    for part, (at, _) in parts.items():
        lacking = frames.lacking[at]
        if lacking.sum() > _LACKING[part] * (len(lacking) + lacking.sum()):
            return (
                f"In the {part} the arms go {1.0 + lacking.max():.0f} times as far from one frame "
                "to the next as before and after, as where frames are lacking"
            )
    return None


def plays_fast(positions: tuple[Position, ...]) -> Remark | None:
    """A downswing faster than anybody's: most likely frames were left out."""
    back, top, impact = (positions[k].time for k in (2, 3, 6))
    if back is None or top is None or impact is None or impact - top >= _SHORTEST_DOWNSWING:
        return None
    return Remark(
        "plays_fast",
        Level.WARNING,
        f"The downswing takes {impact - top:.2f} s, less than anybody's: the film seems to play "
        "fast or to lack frames, so that times, tempo and what hangs on them are off.",
        "Give the rate of the frames that were kept (fps): half the film's where every second "
        "frame is left out.",
    )


def low_rate(frame_rate: float, positions: tuple[Position, ...]) -> Remark | None:
    """Frames too far apart for impact."""
    impact, after = positions[6].time, positions[7].time
    between = 0.05 if impact is None or after is None else after - impact
    if frame_rate >= _FAST_ENOUGH or between * frame_rate >= _IMPACT_FRAMES:
        return None
    return Remark(
        "low_frame_rate",
        Level.WARNING,
        f"At {frame_rate:.0f} frames a second impact falls between two frames.",
        "Film at 120 frames a second or more (slow-motion mode), in good light.",
    )


def clip_starts(positions: tuple[Position, ...]) -> Remark | None:
    """A clip that begins within the swing, or with it."""
    start = positions[0]
    if start.time is None and not start.in_doubt:
        return Remark(
            "clip_starts_late",
            Level.WARNING,
            "The clip starts after the swing has begun: nothing can be held against address.",
            "Start filming a second before the takeaway.",
        )
    if start.source is Source.INFERRED:
        return Remark(
            "address_inferred",
            Level.INFO,
            "No rest is seen before the takeaway: the first frames are taken for address, with "
            "more error.",
            "Start filming a second before the takeaway.",
        )
    return None


def clip_stops(positions: tuple[Position, ...]) -> Remark | None:
    """A clip that ends within the swing."""
    if not any(p.reason is not None and p.reason.code == "clip_stops_early" for p in positions):
        return None
    return Remark(
        "clip_stops_early",
        Level.WARNING,
        "The clip stops before the swing has ended.",
        "Keep filming until the player stands still in the finish.",
    )
