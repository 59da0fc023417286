"""A swing laid out along its position coordinate instead of along its frames."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.geometry import squared_length
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import BoolArray, FloatArray, Position, View

STEPS_PER_POSITION: Final[int] = 8
GRID: Final[FloatArray] = np.linspace(1.0, 10.0, 9 * STEPS_PER_POSITION + 1)
"""Position coordinates at which every swing is sampled, in steps of an eighth."""


WHOLE: Final[tuple[int, ...]] = tuple(range(len(GRID)))
"""Every place of the grid."""

Places = tuple[tuple[Point, tuple[int, ...]], ...]
"""The points whose errors are drawn, each with the places of the grid at which they are."""
EVERYWHERE: Final[Places] = tuple((point, WHOLE) for point in Point)


@dataclass(frozen=True, eq=False)
class Columns:
    """What the columns of drawn samples stand for: one point at one place of the grid each.

    Attributes
    ----------
    points, places : arrays of shape (n_columns,)
    first : the first column of each point, whose columns lie together
    drawn_at : the places of each point
    unseen : points that would be drawn, were they ever seen
    rows : array of shape (n_columns,)
        Which of all points that are seen it is.
    """

    points: NDArray[np.intp]
    places: NDArray[np.intp]
    first: Mapping[Point, int]
    drawn_at: Mapping[Point, tuple[int, ...]]
    unseen: frozenset[Point]
    rows: NDArray[np.intp]


@lru_cache(maxsize=64)
def columns_of(drawn: Places, seen: tuple[int, ...]) -> Columns:
    """The columns of those points that are seen, told in order."""
    kept = [(point, places) for point, places in drawn if point in seen]
    sizes = np.array([len(places) for _, places in kept], dtype=np.intp)
    ends = np.cumsum(sizes).tolist()
    points = np.repeat(np.array([p for p, _ in kept], dtype=np.intp), sizes)
    return Columns(
        points=points,
        places=np.array([place for _, places in kept for place in places], dtype=np.intp),
        first={p: end - len(places) for (p, places), end in zip(kept, ends, strict=True)},
        drawn_at=dict(kept),
        unseen=frozenset(point for point, _ in drawn if point not in seen),
        rows=np.array(seen, dtype=np.intp).searchsorted(points),
    )


@lru_cache(maxsize=2048)
def _where(columns: Columns, point: Point, places: tuple[int, ...]) -> NDArray[np.intp]:
    """The columns of a point at some places.

    Raises
    ------
    LookupError
        Where the point's errors are not drawn.
    """
    own = {place: k for k, place in enumerate(columns.drawn_at[point], columns.first[point])}
    return np.array([own[place] for place in places], dtype=np.intp)


@dataclass(frozen=True)
class NormalizedSwing:
    """Canonical poses of a swing sampled on :data:`GRID`, with what noise may do to them.

    The first sample of a swing is the best estimate; the others are drawn from the keypoint noise
    and the timing uncertainty, so that the spread of any measure over the samples is its
    uncertainty. They are drawn where measures look and nowhere else.

    Several swings, filmed from one side and showing the same points, may be laid end to end: each
    sample is a row by itself, so that what is written for one swing holds for many.

    Attributes
    ----------
    poses : array of shape (n_swings, n_points, n_grid, 2)
        The best estimate in body heights, y up. Face-on, x grows toward the target; down the
        line, x grows from the player toward the ball. NaN where a point is missing. All x of a
        point lie together in memory, and all y, so that reckoning with either runs along it.
    samples : array of shape (n_columns, 2, n_rows)
        x and y of points at places of the grid; of each swing in turn all samples, the best
        estimate first. All rows of a number lie together, as there are more of them than of the
        places at which a measure looks.
    columns : Columns
        Which points and places these are.
    times : array of shape (n_rows, n_grid)
        Seconds; NaN beyond the positions that were found.
    missing : boolean array of shape (n_swings, n_points, n_grid)
        Where a point is missing from the best estimate.
    view : View
        Where the camera stands.
    shown : the places of the grid that paths of points show
    lines : lines of the body already worked out, by what works them out
    """

    poses: FloatArray
    samples: FloatArray
    columns: Columns
    times: FloatArray
    missing: BoolArray
    view: View
    shown: tuple[int, ...] = WHOLE
    lines: dict[Callable[[NormalizedSwing], FloatArray], FloatArray] = field(
        default_factory=dict, compare=False, repr=False
    )

    def __len__(self) -> int:
        """How many swings are laid end to end."""
        return len(self.poses)

    def one(self, number: int) -> NormalizedSwing:
        """One of the swings by itself; its arrays are parts of these."""
        n_samples = len(self.times) // len(self)
        rows = slice(number * n_samples, (number + 1) * n_samples)
        own = slice(number, number + 1)
        return NormalizedSwing(
            self.poses[own],
            self.samples[..., rows],
            self.columns,
            self.times[rows],
            self.missing[own],
            self.view,
        )

    def by_swing(self, rows: FloatArray) -> FloatArray:
        """What has the shape (n_rows, ...) as (n_swings, n_samples, ...)."""
        return rows.reshape(len(self.poses), -1, *rows.shape[1:])

    @property
    def drawn(self) -> BoolArray:
        """Rows that are drawn, not best estimates, shape (n_rows,)."""
        drawn = np.ones((len(self), len(self.times) // len(self)), dtype=bool)
        drawn[:, 0] = False
        return drawn.reshape(-1)

    def at(self, places: tuple[int, ...]) -> NormalizedSwing:
        """The paths of points at some places of the grid alone; what is told of one position and of
        times stays as it is."""
        if places == self.shown:
            return self
        return NormalizedSwing(
            self.poses, self.samples, self.columns, self.times, self.missing, self.view, places
        )

    def point(self, point: Point) -> FloatArray:
        """Path of one point, shape (n_rows, n_places, 2).

        Raises
        ------
        LookupError
            Where its errors are not drawn at all of these places.
        """
        return self._drawn(point, self.shown)

    def point_at(self, point: Point, position: float) -> FloatArray:
        """One point at one position coordinate, shape (n_rows, 2)."""
        return self._drawn(point, (grid_index(position),))[:, 0]

    def time_at(self, position: float) -> FloatArray:
        """Times of one position coordinate, shape (n_rows,)."""
        return self.times[:, grid_index(position)]

    def _drawn(self, point: Point, places: tuple[int, ...]) -> FloatArray:
        if point in self.columns.unseen:
            return np.full((self.samples.shape[2], len(places), 2), np.nan)
        taken = self.samples.take(_where(self.columns, point, places), axis=0)
        return taken.transpose(2, 0, 1)


def grid_index(position: float) -> int:
    """Index on :data:`GRID` nearest to a position coordinate.

    >>> float(GRID[grid_index(4.5)])
    4.5
    """
    return round((position - 1.0) * STEPS_PER_POSITION)


_BLUR_SPEED: Final[float] = 2.5
"""Body heights a second at which motion blur adds as much error as there is at rest. A judgement:
through an estimator real wrists are off by a third more in the downswing than at the top, simulated
ones, blurred by a shutter, two to four times."""
_MOST_BLUR: Final[float] = 2.0
_MOST_BLUR_OF_CLUB: Final[float] = 3.5
"""A clubhead at speed is a streak as long as a hand (a judgement)."""
_MOST_BLURS: Final[FloatArray] = np.array(
    [_MOST_BLUR_OF_CLUB if point >= Point.GRIP_END else _MOST_BLUR for point in Point]
)
_STEADY_SHARE: Final[float] = 0.3
"""Share of a keypoint's variance that stays the same all through a swing, the rest drifts within
0.15 s: measured on real swings (``python -m tests.reference.estimator_errors``)."""
_REST: Final[float] = 0.3
"""Seconds up to P1 over which the address is averaged. Players stand still there: simulated ones by
construction; in real clips, which show hardly more, the hips keep within what their keypoints
err."""
_MEMORY: Final[float] = 0.14
"""Seconds in which a drifting error falls to 1/e: hips, knees and ankles of those real swings."""
_AROUND: Final[NDArray[np.intp]] = np.arange(-1, 3)[:, None]
_NO_TIME: Final[float] = 1e-9
"""Seconds between a frame and itself, so that nothing is divided by zero."""
N_DRAWS: Final[int] = 40
DRAW_SEED: Final[int] = 1415
"""Of 300 seeds tried on simulated clips, one whose few draws spread the measures that faults are
judged by within 15 % of what a thousand draws do, and all others within 30 %."""


def unit_draws(seed: int, *shape: int) -> FloatArray:
    """Standard normal draws of shape (N_DRAWS, *shape), each with its opposite.

    Fixed, so that the same clip gets the same answer; in pairs, so that what noise does to a
    measure on average is told apart from what a few draws happen to do. Where the draws are
    enough for it, no two of the ``shape`` numbers go together and each spreads by exactly one.
    """
    half = np.random.default_rng(seed).standard_normal((N_DRAWS // 2, *shape))
    if half[0].size <= len(half):
        square, _ = np.linalg.qr(half.reshape(len(half), -1))
        half = np.sqrt(len(half)) * square.reshape(half.shape)
    return np.concatenate([half, -half])


_DRAWS: Final[FloatArray] = unit_draws(DRAW_SEED, N_POINTS, 10, 2).swapaxes(0, 1)
"""Unit keypoint errors at P1 to P10."""
_STEADY_DRAWS: Final[FloatArray] = unit_draws(DRAW_SEED + 1, N_POINTS, 1, 2).swapaxes(0, 1)
_TIME_DRAWS: Final[FloatArray] = unit_draws(DRAW_SEED + 2, 10)


def _shares() -> FloatArray:
    """Shares of P1 to P10 at each place of the grid, shape (10, n_grid)."""
    lower = np.minimum((GRID - 1.0).astype(np.intp), 8)
    share, places = GRID - 1.0 - lower, np.arange(len(GRID))
    shares = np.zeros((10, len(GRID)))
    shares[lower, places], shares[lower + 1, places] = 1.0 - share, share
    # Dividing keeps the spread of the mix what it is at the positions themselves.
    return shares / np.hypot(1.0 - share, share)


_SHARES: Final[FloatArray] = _shares()
"""Draws at P1 to P10 times this are draws along the grid."""
_ALONG_GRID: Final[FloatArray] = np.ascontiguousarray(
    np.sqrt(1.0 - _STEADY_SHARE) * (np.moveaxis(_DRAWS, -1, 1) @ _SHARES)
    + np.sqrt(_STEADY_SHARE) * np.moveaxis(_STEADY_DRAWS, -1, 1)
)
"""Unit keypoint errors on the grid, shape (N_POINTS, 2, N_DRAWS, n_grid)."""
_AT_ADDRESS: Final[FloatArray] = np.sqrt(1.0 - _STEADY_SHARE) * np.moveaxis(
    _DRAWS[..., 0, :], -1, 1
)
"""What of these drifts at P1, shape (N_POINTS, 2, N_DRAWS)."""


@dataclass(frozen=True)
class PhaseCurve:
    """The position coordinate as a function of time, straight between its knots.

    4.5 is halfway along the hands' path from P4 to P5. Measured along the path and not by
    time, it means the same in a slow rehearsal, at full speed and across a pause.

    Attributes
    ----------
    times, values : arrays of shape (n_knots,)
        Both increasing.
    """

    times: FloatArray
    values: FloatArray

    def at(self, times: FloatArray) -> FloatArray:
        """Coordinate at given times; NaN before the first and after the last position."""
        if self.times.size < 2:
            return np.full(len(times), np.nan)
        return np.interp(times, self.times, self.values, left=np.nan, right=np.nan)

    def when(self, coordinates: FloatArray) -> FloatArray:
        """Times of given coordinates; NaN where they were not found."""
        return np.interp(coordinates, self.values, self.times, left=np.nan, right=np.nan)


def phase_curve(times: FloatArray, path: FloatArray, positions: Sequence[Position]) -> PhaseCurve:
    """Run the position coordinate through the positions found.

    Parameters
    ----------
    times : array of shape (n_frames,)
    path : array of shape (n_frames, 2)
        Path of the hands.
    positions : P1 to P10
    """
    found = [(p.time, p.number) for p in positions if p.time is not None]
    moments, numbers = np.array(found, dtype=float).T
    within = times[times.searchsorted(moments[0]) : times.searchsorted(moments[-1], side="right")]
    stops = np.sort(np.concatenate([moments, within]))
    stops = stops[np.concatenate([[True], stops[1:] > stops[:-1]])]
    x, y = (np.interp(stops, times, path[:, k]) for k in (0, 1))
    way = np.hypot(x[1:] - x[:-1], y[1:] - y[:-1])
    way[np.isnan(way)] = 0.0
    # A little of the time keeps the coordinate running through a dead stop.
    travelled = np.zeros(len(stops))
    np.cumsum(way + 1e-3 * (stops[1:] - stops[:-1]), out=travelled[1:])
    marks = travelled[stops.searchsorted(moments)]
    return PhaseCurve(stops, np.interp(travelled, marks, numbers))


@dataclass(frozen=True)
class PlacedSwing:
    """A swing whose positions are known.

    Attributes
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    times : array of shape (n_frames,)
    curve : PhaseCurve
    positions : P1 to P10
    noise : array of shape (n_points,)
        One standard deviation of the error of ``points`` on one axis.
    """

    points: FloatArray
    times: FloatArray
    curve: PhaseCurve
    positions: tuple[Position, ...]
    noise: FloatArray

    @cached_property
    def seen(self) -> tuple[int, ...]:
        """The points that are seen in any frame."""
        return tuple(np.flatnonzero(~np.isnan(self.points[..., 0]).all(axis=0)).tolist())


def time_normalize(
    swings: Sequence[PlacedSwing], view: View, drawn: Places = EVERYWHERE
) -> NormalizedSwing:
    """Sample swings on :data:`GRID`, once as found and then with drawn errors, laid end to end.

    Parameters
    ----------
    swings : those of one view that show the same points
    drawn : where the errors of which points are drawn
    """
    seen = np.array(swings[0].seen, dtype=np.intp)
    columns = columns_of(drawn, swings[0].seen)
    paths = [swing.points.take(seen, axis=1).T for swing in swings]
    grid_times = np.array([swing.curve.when(GRID) for swing in swings])
    shifts = _drawn_shifts(swings)
    best, velocity = _sample(paths, [swing.times for swing in swings], grid_times)
    drift_left = np.array(
        [
            _average_address(best[k], velocity[k], path, swing.times, float(grid_times[k, 0]))
            for k, (swing, path) in enumerate(zip(swings, paths, strict=True))
        ]
    )
    noise = np.array([swing.noise for swing in swings])[:, seen, None]
    error = noise * _blur(velocity, seen)
    samples = _draw(columns, best, velocity, shifts, error, drift_left)
    poses = np.full((len(swings), N_POINTS, 2, len(GRID)), np.nan)
    poses[:, seen] = best.swapaxes(1, 2)
    # A position that was not found must not take the times of the others along.
    times = np.fmax.accumulate(grid_times[:, None] + shifts, axis=2)
    times.swapaxes(1, 2)[np.isnan(grid_times)] = np.nan
    return NormalizedSwing(
        poses.swapaxes(2, 3),
        samples,
        columns,
        times.reshape(-1, len(GRID)),
        np.isnan(poses[:, :, 0]),
        view,
    )


def _drawn_shifts(swings: Sequence[PlacedSwing]) -> FloatArray:
    """By how many seconds each sample is off along the grid, the best estimate by none; shape
    (n_swings, N_DRAWS + 1, n_grid)."""
    spread = np.array([[p.uncertainty or 0.0 for p in swing.positions] for swing in swings])
    shifts = np.zeros((len(swings), N_DRAWS + 1, len(GRID)))
    shifts[:, 1:] = (_TIME_DRAWS * spread[:, None]) @ _SHARES
    return shifts


def _draw(
    columns: Columns,
    best: FloatArray,
    velocity: FloatArray,
    shifts: FloatArray,
    error: FloatArray,
    drift_left: FloatArray,
) -> FloatArray:
    """The samples of :class:`NormalizedSwing`, shape (n_columns, 2, n_swings * (N_DRAWS + 1)).

    Parameters
    ----------
    best, velocity : arrays of shape (n_swings, 2, n_seen, n_grid)
    shifts : array of shape (n_swings, N_DRAWS + 1, n_grid)
    error : array of shape (n_swings, n_seen, n_grid)
        One standard deviation on one axis.
    drift_left : array of shape (n_swings,)
        Share of a drifting error that is left at address.
    """
    rows, places = columns.rows, columns.places
    samples = np.empty((len(rows), 2, len(best), N_DRAWS + 1))
    late = shifts.transpose(2, 0, 1).take(places, axis=0)[:, None]
    # To first order, a moment found late shows the pose a little further along its way.
    np.multiply(velocity[:, :, rows, places].T[..., None], late, out=samples)
    samples += best[:, :, rows, places].T[..., None]
    along_grid, drifting, address = _unit_errors(columns)
    off = error[:, rows, places].T[:, None, :, None]
    samples[..., 1:] += off * along_grid[:, :, None]
    gone = (1.0 - drift_left)[:, None] * off[address]
    samples[address, ..., 1:] -= gone * drifting[:, :, None]
    return samples.reshape(len(rows), 2, -1)


@lru_cache(maxsize=16)
def _unit_errors(columns: Columns) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    """Unit keypoint errors, shape (n_columns, 2, N_DRAWS); what of them drifts at P1, shape
    (n_at_address, 2, N_DRAWS), and which columns these are."""
    address = np.flatnonzero(columns.places == 0)
    along_grid = np.ascontiguousarray(_ALONG_GRID[columns.points, :, :, columns.places])
    return along_grid, _AT_ADDRESS[columns.points[address]], address


def _average_address(
    best: FloatArray, velocity: FloatArray, points: FloatArray, times: FloatArray, start: float
) -> float:
    """Put the mean of the frames before P1 in the place of the pose at P1.

    What is measured against address depends on that pose as much as on the one it is held against,
    and at rest there are many frames of it.

    Parameters
    ----------
    best, velocity : arrays of shape (2, n_points, n_grid)
        Changed in place at P1, where a point is seen there: the mean goes along with P1 by the
        difference of the poses at its ends over the time between them.
    points : array of shape (2, n_points, n_frames)
    start : time of P1 in seconds, NaN where it was not found

    Returns
    -------
    What averaging leaves of the spread of a drifting error: of one with an exponential memory m,
    the mean over T has the share 2 m/T (1 - m/T (1 - exp(-T/m))) of the variance (Papoulis,
    *Probability, Random Variables, and Stochastic Processes*, from memory).
    """
    first, last = times.searchsorted([start - _REST, start - _NO_TIME])
    if not first < last:  # NaN too: it sorts behind every time
        return 1.0
    frames = points[..., first:last]
    told = ~np.isnan(frames)
    ends = (best[..., 0] - frames[..., 0]) / max(start - float(times[first]), _NO_TIME)
    velocity[..., 0] = np.where(np.isnan(ends), velocity[..., 0], ends)
    total = np.add.reduce(np.where(told, frames, 0.0), axis=-1) + best[..., 0]
    best[..., 0] = total / (1 + np.add.reduce(told, axis=-1))
    memories = (start - times[first]) / _MEMORY
    return float(np.sqrt(2.0 / memories * (1.0 - (1.0 - np.exp(-memories)) / memories)))


def _blur(velocity: FloatArray, points: NDArray[np.intp]) -> FloatArray:
    """Factor by which points are less well seen while they move, (n_swings, n_points, n_grid).

    ``velocity`` has shape (n_swings, 2, n_points, n_grid).
    """
    blur = np.sqrt(1.0 + squared_length(velocity.swapaxes(0, 1)) / _BLUR_SPEED**2)
    return np.minimum(blur, _MOST_BLURS[points, None])


def _sample(
    paths: Sequence[FloatArray], clocks: Sequence[FloatArray], at: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Points and their velocities at arbitrary times, by cubic Hermite interpolation.

    Parameters
    ----------
    paths : of each swing an array of shape (2, n_points, n_frames)
    clocks : of each swing an array of shape (n_frames,)
    at : array of shape (n_swings, n_grid)

    Returns
    -------
    two arrays of shape (n_swings, 2, n_points, n_grid); NaN where a point is missing next to the
    time asked for, where the velocity is 0.
    """
    lost = np.isnan(at)
    begin = np.array([clock[0] for clock in clocks])[:, None]
    wanted = np.where(lost, begin, at)
    frames = [_frames_about(*each) for each in zip(clocks, wanted, strict=True)]
    around = np.array([path.take(own, axis=2) for path, own in zip(paths, frames, strict=True)])
    moments = np.array([clock.take(own) for clock, own in zip(clocks, frames, strict=True)])
    moments, u = moments[:, None, None], wanted[:, None, None]
    steps = np.maximum(moments[..., 1:, :] - moments[..., :-1, :], _NO_TIME)
    slopes = (around[..., 1:, :] - around[..., :-1, :]) / steps
    chord, step = slopes[..., 1, :], steps[..., 1, :]
    # Beyond either end of the clip an outer frame falls on its neighbour.
    alone = steps == _NO_TIME
    before = _between(slopes[..., 0, :], chord, steps[..., 0, :], step)
    before = np.where(np.isnan(before) | alone[..., 0, :], chord, before)
    after = _between(chord, slopes[..., 2, :], step, steps[..., 2, :])
    after = np.where(np.isnan(after) | alone[..., 2, :], chord, after)
    left, right = around[..., 1, :], around[..., 2, :]
    u = (u - moments[..., 1, :]) / step
    v = 1.0 - u
    place = (1 + 2 * u) * v**2 * left + u * v**2 * step * before
    place += u**2 * (3 - 2 * u) * right - u**2 * v * step * after
    velocity = v * before + u * after
    # On a frame itself the missing neighbour does not matter.
    place = np.where(u == 0.0, left, place)
    place = np.where(lost[:, None, None], np.nan, place)
    return place, np.where(np.isnan(velocity), 0.0, velocity)


def _frames_about(clock: FloatArray, at: FloatArray) -> NDArray[np.intp]:
    """Two frames before and two after each time, shape (4, n_at); at the ends of the clip an outer
    one falls on its neighbour."""
    last = len(clock) - 1
    k = np.minimum(np.maximum(clock.searchsorted(at, side="right") - 1, 0), last - 1)
    return np.minimum(np.maximum(k + _AROUND, 0), last)


def _between(
    slope: FloatArray, slope_on: FloatArray, step: FloatArray, step_on: FloatArray
) -> FloatArray:
    """Slope at the frame between two steps of time, the slope over the shorter counting more."""
    share = step / (step + step_on)
    return (1.0 - share) * slope + share * slope_on
