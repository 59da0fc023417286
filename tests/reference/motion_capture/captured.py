"""The two captured swings, as they are read, freed of shaking and turned into our frame.

They come from public sample files of the C3D format and from the CMU Graphics Lab motion capture
database (created with funding from NSF EIA-0196217). They stay outside the project, are found
through ``SWING_REFERENCE_DIR`` and are for testing only.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, Final

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.signal import butter, sosfiltfilt

from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import FloatArray
from tests.reference.clips import read

_FILE: Final = "golf_motions_3d"
_HAS_MOVED: Final = 0.015
"""Metres by which the lead hand has left address, for what comes before it to be waiting, where
the file does not tell times."""
_SHAKES: Final = {"motion-0": (42, 118)}
"""The file whose markers shake, and the frames between which it is not thinned in time. At impact
its hips jump by 1 % of body height and back within 25 ms, and its feet jitter by 0.2 to 0.3 %, ten
times as much as the other file's hips: half of the bias that measures at impact would show."""
_BODY_HZ, _ARM_HZ = 12.0, 25.0
"""What goes faster is taken for a marker's shaking: cut-offs for trunk and legs, and for arms;
common practice. The club keeps all."""
_FADE: Final = 8
"""Frames over which this sets in."""

# The file's joints, and what they are here.
_JOINTS: Final[dict[str, Point]] = {
    "right_toe": Point.TRAIL_TOE, "right_heel": Point.TRAIL_HEEL,
    "right_ankle": Point.TRAIL_ANKLE, "right_knee": Point.TRAIL_KNEE,
    "right_hip": Point.TRAIL_HIP, "left_toe": Point.LEAD_TOE, "left_heel": Point.LEAD_HEEL,
    "left_ankle": Point.LEAD_ANKLE, "left_knee": Point.LEAD_KNEE, "left_hip": Point.LEAD_HIP,
    "right_shoulder": Point.TRAIL_SHOULDER, "right_elbow": Point.TRAIL_ELBOW,
    "right_hand": Point.TRAIL_WRIST, "right_wrist": Point.TRAIL_WRIST,
    "left_shoulder": Point.LEAD_SHOULDER, "left_elbow": Point.LEAD_ELBOW,
    "left_hand": Point.LEAD_WRIST, "left_wrist": Point.LEAD_WRIST,
    "left_knuckle": Point.LEAD_HAND, "right_knuckle": Point.TRAIL_HAND, "head": Point.HEAD,
    "head_base": Point.HEAD, "head_top": Point.HEAD_TOP, "neck": Point.NECK,
    "spine_mid": Point.MID_TRUNK, "pelvis": Point.MID_HIP, "club_grip": Point.GRIP,
    "club_tip": Point.CLUBHEAD,
}  # fmt: skip
CLUB: Final = [Point.GRIP_END, Point.GRIP, Point.SHAFT_MID, Point.CLUBHEAD]
HANDS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST, Point.LEAD_HAND, Point.TRAIL_HAND, *CLUB]
ELBOWS: Final = [Point.LEAD_ELBOW, Point.TRAIL_ELBOW]


@dataclass(frozen=True)
class Captured:
    """One captured swing in our frame, metres.

    ``paths`` gives joints at frames; ``frames`` are those of address, the arm's turn at the top,
    impact and the end. ``rate`` is in frames a second. One file is thinned in time outside the
    downswing (``rate`` NaN), so that the way of the hand and not the frame says how far the swing
    has come; the other starts, turns and recoils as the player did.
    """

    name: str
    paths: CubicSpline
    seen: tuple[Point, ...]
    frames: tuple[float, float, float, float]
    rate: float

    @cached_property
    def way(self) -> tuple[FloatArray, FloatArray]:
        """Fractional frames and how far the lead hand has come by then, metres."""
        frames = np.arange(self.frames[0], self.frames[3] + 0.05, 0.1)
        hand = self.at(frames)[:, Point.LEAD_WRIST]
        steps = np.linalg.norm(np.diff(hand, axis=0), axis=-1)
        return frames, np.concatenate([[0.0], np.cumsum(steps)])

    def at(self, frames: FloatArray) -> FloatArray:
        """Joints at fractional frames."""
        joints = np.full((len(frames), N_POINTS, 3), np.nan)
        joints[:, list(self.seen)] = self.paths(frames)
        return joints


@cache
def captured() -> tuple[Captured, ...]:
    """The captured swings.

    Raises
    ------
    FileNotFoundError
        Without the reference data.
    """
    return tuple(_captured(row) for row in read(_FILE))


def _captured(row: dict[str, Any]) -> Captured:
    columns = _columns(row)
    seen, thinned = tuple(sorted(columns)), row["id"] in _SHAKES
    events = row["events"]
    address, impact = events["address"], events["impact"]
    paths = np.stack([columns[p] for p in seen], axis=1)
    if thinned:
        paths = _steadied(paths, seen, row["fps"], _SHAKES[row["id"]])
    paths = (paths - _origin(columns, address)) @ _frame(columns, address, impact).T
    first = _start(columns[Point.LEAD_WRIST], address, events["top"], thinned=thinned)
    arm = paths[:, seen.index(Point.LEAD_WRIST)] - paths[:, seen.index(Point.LEAD_SHOULDER)]
    swept = np.unwrap(np.arctan2(arm[:, 0], -arm[:, 1]))
    turn = first + int(np.argmin(swept[first:impact]))
    return Captured(
        row["id"],
        CubicSpline(np.arange(len(paths)), paths, axis=0),
        seen,
        (float(first), float(turn), float(impact), float(len(paths) - 1)),
        np.nan if thinned else float(row["fps"]),
    )


def _columns(row: dict[str, Any]) -> dict[Point, FloatArray]:
    """Each point's path in the file's own frame, y up, with middles where the file lacks them."""
    points = np.array(row["points"], dtype=float)
    if row["up"] == "z":
        points = points[..., [1, 2, 0]]
    names = [n for n in row["joint_names"] if n in _JOINTS]
    columns = {_JOINTS[n]: points[:, row["joint_names"].index(n)] for n in names}
    if Point.CLUBHEAD in columns:
        columns[Point.GRIP_END] = columns[Point.GRIP]
        columns[Point.SHAFT_MID] = 0.5 * (columns[Point.GRIP] + columns[Point.CLUBHEAD])
    for middle, pair in (
        (Point.MID_HIP, (Point.LEAD_HIP, Point.TRAIL_HIP)),
        (Point.NECK, (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)),
    ):
        columns.setdefault(middle, 0.5 * (columns[pair[0]] + columns[pair[1]]))
    return columns


def _steadied(
    paths: FloatArray, seen: tuple[Point, ...], rate: float, evenly: tuple[int, int]
) -> FloatArray:
    """Paths without the shaking of markers, of shape (n_frames, n_points, 3); the club as it is."""
    steady = paths.copy()
    for k, point in enumerate(seen):
        if point not in CLUB:
            hertz = _ARM_HZ if point in (*HANDS, *ELBOWS) else _BODY_HZ
            steady[:, k] = without_jitter(paths[:, k], rate, hertz, evenly)
    return steady


def _origin(columns: dict[Point, FloatArray], address: int) -> FloatArray:
    """On the ground between the feet."""
    feet = 0.5 * (columns[Point.LEAD_ANKLE][address] + columns[Point.TRAIL_ANKLE][address])
    ground = min(float(columns[p][address, 1]) for p in (Point.LEAD_TOE, Point.TRAIL_TOE))
    return np.array([feet[0], ground, feet[2]])


def _start(hand: FloatArray, address: int, top: int, *, thinned: bool) -> int:
    """The frame from which the swing is played: the last of waiting, or the one most at rest."""
    still = np.linalg.norm(hand - hand[address], axis=-1)[:top] < _HAS_MOVED
    last = int(np.flatnonzero(still)[-1])
    if thinned:
        return last
    speed = np.linalg.norm(np.gradient(hand, axis=0), axis=-1)
    return address + int(np.argmin(speed[address : last + 1]))


def without_jitter(
    path: FloatArray, rate: float, hertz: float, evenly: tuple[int, int]
) -> FloatArray:
    """A path less what goes faster than some cut-off from one frame to another, setting in and
    ceasing within :data:`_FADE`: a second-order Butterworth filter run forwards and backwards.

    Parameters
    ----------
    path : array of shape (n_frames, 3)
    rate : float
        Frames a second.
    evenly : two frames
        Between them frames are evenly spaced in time.
    """
    first, last = evenly
    filters = butter(2, hertz, fs=rate, output="sos")
    clean = path.copy()
    clean[first : last + 1] = sosfiltfilt(filters, path[first : last + 1], axis=0)
    frames = np.arange(len(path))
    share = np.clip(np.minimum(frames - first, last - frames) / _FADE, 0.0, 1.0)[:, None]
    return np.asarray(path + share * (clean - path))


def _frame(columns: dict[Point, FloatArray], address: int, impact: int) -> FloatArray:
    """Rows: to the target (as the lead hand travels through the ball, levelled, and as the
    stance lies, half and half), up, to the ball."""
    hand = columns[Point.LEAD_WRIST]
    travel = hand[impact + 2] - hand[impact - 4]
    stance = columns[Point.LEAD_ANKLE][address] - columns[Point.TRAIL_ANKLE][address]
    level = np.array([1.0, 0.0, 1.0])
    target = sum(v * level / np.linalg.norm(v * level) for v in (travel, stance))
    target = target / np.linalg.norm(target)
    up = np.array([0.0, 1.0, 0.0])
    return np.stack([target, up, np.cross(target, up)])
