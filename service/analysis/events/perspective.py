"""What a camera that stands a few metres away does to a swing, undone as far as it is known.

A point nearer the camera looks larger and farther from the middle of the picture. The clip does
not tell depth, but a golf swing brings every joint about the same distance toward the camera and
away from it at the same position: a table of usual depths (``typical_depth.json``, written by
``python -m training.data.typical_depth`` from simulated players of two makes) and the usual place
of a camera undo most of it. What is left (where the camera really stands, how this player differs
from the table, that nobody stands quite straight in front or holds quite level) goes into the
drawn samples, and so into every measure's uncertainty.

For a pinhole camera at distance D a point at depth d beyond the reference plane is seen at
``u = x / (1 + d / D)`` from the foot of the optical axis, hence ``x = u (1 + d / D)``.
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
from scipy.special import expit, logit

from service.analysis.events.normalized import (
    DRAW_SEED,
    GRID,
    Columns,
    NormalizedSwing,
    blocks,
    grid_index,
    unit_draws,
)
from service.analysis.pose import geometry
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import FloatArray, View

_TABLE: Final = json.loads((Path(__file__).parent / "typical_depth.json").read_text("utf-8"))

# Where players put a camera, in body heights (of some 1.72 m); common practice.
_NEARNESS: Final[float] = 0.35
"""One over the distance: about 4.9 m."""
_NEARNESS_SPREAD: Final[float] = 0.10
_LENS_HEIGHT: Final[float] = 0.64
"""Above the ground: about 1.1 m."""
_LENS_HEIGHT_SPREAD: Final[float] = 0.12
_ASIDE: Final[dict[View, float]] = {View.FACE_ON: 0.0, View.DOWN_THE_LINE: 0.22}
"""Of the optical axis from the middle of the feet: on the player, or on the line of the hands."""
_ROUND: Final[float] = float(np.radians(3.5))
"""Spread of how far a camera stands round from straight, radians."""
_ROLL: Final[float] = float(np.radians(1.0))
"""Spread of how far it is off level, radians."""
_MOVED: Final[float] = 0.004
"""Spread on each axis of how far a picture has moved between address and impact, body heights: what
both ankles of real clips, held by hand or panned, go together (0.3 to 0.9 % by P5 or P7 in 81
annotated swings, from which no measure was set), and a tripod's 0: a judgement between them."""
_PANNED: Final[float] = 0.05
"""The same of a picture that follows the player, turns or zooms while it is taken."""
_PANNED_SHARE: Final[float] = 0.05
"""Of films in which it does: a judgement, as is how far."""
STAYS: Final = (Point.LEAD_ANKLE, Point.LEAD_HEEL, Point.LEAD_TOE)
"""Points that stay where they are from address to impact."""
_COMING_DOWN: Final = slice(grid_index(5.0), grid_index(7.0) + 1)
STAYS_AT: Final = (0, *range(_COMING_DOWN.start, _COMING_DOWN.stop))
"""Places of the grid at which that is looked at: P1, and from P5 to P7."""

_ANKLE_HEIGHT: Final[float] = 0.045
_HIP_HEIGHT: Final[float] = 0.52
"""Of the middle of the hips at address, where no feet are seen."""
# Sample 0 is the usual camera and player; shapes (n_samples,) and (N_POINTS, n_samples).
_CAMERAS: Final[FloatArray] = np.vstack([np.zeros(4), unit_draws(DRAW_SEED + 3, 4)])
_APART: Final[FloatArray] = np.vstack([np.zeros(N_POINTS), unit_draws(DRAW_SEED + 4, N_POINTS)]).T
"""How far players differ from the usual depth, in units of the spread."""
_NEARER: Final[FloatArray] = np.maximum(_NEARNESS + _NEARNESS_SPREAD * _CAMERAS[:, 0], 0.0)
_HIGHER: Final[FloatArray] = _LENS_HEIGHT_SPREAD * _CAMERAS[:, 1]
_ASTRAY: Final[FloatArray] = _ROUND * _CAMERAS[:, 2]
_TURNED: Final[FloatArray] = _ROLL * _CAMERAS[:, 3]
_WANDER: Final[FloatArray] = np.vstack([np.zeros(2), unit_draws(DRAW_SEED + 5, 2)])
_GONE: Final[FloatArray] = np.minimum((GRID - 1.0) / 4.0, 1.0)
"""Share of the picture's way that it has gone along the grid: all of it by P5."""


def _depths(view: View) -> tuple[FloatArray, FloatArray]:
    """Depth beyond the middle of the feet, shape (N_POINTS, n_grid), and its spread from player to
    player, shape (N_POINTS,), body heights."""
    told = _TABLE[view.value]
    columns = np.array(told["depth"])
    grid = np.array([np.interp(GRID, np.arange(1.0, 11.0), row) for row in columns])
    return grid, np.array(told["spread"])


_DEPTHS: Final[dict[View, tuple[FloatArray, FloatArray]]] = {view: _depths(view) for view in View}


@lru_cache(maxsize=16)
def _shifts(view: View, columns: Columns) -> tuple[FloatArray, FloatArray]:
    """What the distance of each sample's camera does to points, whatever the swing.

    By what share they are nearer the foot of the axis than they should be, of shape
    (n_columns, 1, n_samples), and how far to move them aside for a camera that does not stand
    straight and up for one that stands higher, of shape (n_columns, 2, n_samples).
    """
    depth, spread = _DEPTHS[view]
    usual = depth[columns.points, columns.places, None]
    beyond = usual + spread[columns.points, None] * _APART[columns.points]
    nearer = _NEARER * beyond
    return nearer[:, None], np.stack([_ASTRAY * beyond, -_HIGHER * nearer], axis=1)


def undo_perspective(swing: NormalizedSwing) -> NormalizedSwing:
    """Swings as seen from far away, straight and level, to the best of what is known.

    The best estimate is corrected for the usual camera and the usual depths; the other samples for
    cameras and depths drawn about them. Where neither feet nor hips are seen at address a swing
    stays as it is. The poses are changed in place, for they are large and nobody needs them as they
    were.
    """
    foot = _foot_of_axis(swing)
    lost = np.isnan(foot[:, 0])
    if lost.all():
        return swing
    depth, _ = _DEPTHS[swing.view]
    best, samples = swing.poses.swapaxes(2, 3), _by_swing(swing)
    kept = (best[lost], samples[:, :, lost]) if lost.any() else None
    best += _NEARNESS * depth[:, None] * (best - foot[:, None, :, None])
    grown, moved = _shifts(swing.view, swing.columns)
    for some in blocks(samples):
        own = samples[some]
        away = own - foot.T[..., None]
        own += moved[some, :, None]
        own[:, 0] += _TURNED * away[:, 1]
        own[:, 1] -= _TURNED * away[:, 0]
        away *= grown[some, :, None]
        own += away
    if kept is not None:
        best[lost], samples[:, :, lost] = kept
    return swing


def hold_still(swing: NormalizedSwing) -> NormalizedSwing:
    """Swings as a camera sees them that does not move, to the best of what is known.

    The lead foot stays where it is until impact, so that what it has gone from address to where
    the arms come down is the camera, or its own error. Of the two it is taken for the camera by the
    share that a camera's usual way (:data:`_MOVED`) has in the sum of both variances, the mean of
    a normal distribution that is known before and measured with an error; what remains unknown
    goes into the drawn samples. Where both feet go farther together than a held camera and their
    error explain, the film is panned, and what the foot goes is the camera. The poses are changed
    in place.
    """
    way = _way_of_lead_foot(swing)
    error = way[:, 1:] - way[:, :1]
    unsure = np.add.reduce(error * error, axis=1) / error.shape[1]
    panned = _panned(swing, way[:, 0], unsure) > 0.5
    usual = np.where(panned, _PANNED, _MOVED)[:, None] ** 2
    share = usual / (usual + unsure)
    seen = ~np.isnan(share)
    moved = np.where(seen[:, None], share[:, None] * way, 0.0)
    moved -= _WANDER * np.sqrt(usual * (1.0 - np.where(seen, share, 0.0)))[:, None]
    best, samples = swing.poses.swapaxes(2, 3), _by_swing(swing)
    best -= moved[:, 0, None, :, None] * _GONE
    along = np.ascontiguousarray(moved.transpose(2, 0, 1))
    gone = _GONE[swing.columns.places, None, None, None]
    for some in blocks(samples):
        samples[some] -= along * gone[some]
    return swing


def _by_swing(swing: NormalizedSwing) -> FloatArray:
    """The samples themselves as an array of shape (n_columns, 2, n_swings, n_samples)."""
    samples = swing.samples.view()
    samples.shape = (*swing.samples.shape[:2], len(swing), -1)
    return samples


def _way_of_lead_foot(swing: NormalizedSwing) -> FloatArray:
    """How far it goes from P1 to where the arms come down, shape (n_swings, n_samples, 2); the mean
    of its points that are seen all along, NaN where none is."""
    stays = [point for point in STAYS if point in swing.columns.drawn_at]
    if not stays:
        return np.full((len(swing), len(swing.times) // len(swing), 2), np.nan)
    shown, missing = swing.at(STAYS_AT), swing.missing.take(stays, axis=1)
    lost = missing[..., 0] | missing[..., _COMING_DOWN].any(axis=2)
    paths = [swing.by_swing(shown.point(point)) for point in stays]
    told = [np.where(lost[:, k, None, None, None], 0.0, path) for k, path in enumerate(paths)]
    count = len(stays) - np.count_nonzero(lost, axis=1)
    feet = np.add.reduce(told) / np.where(count > 0, count, np.nan)[:, None, None, None]
    way: FloatArray = _mean_coming_down(feet[:, :, 1:]) - feet[:, :, 0]
    return way


def _mean_coming_down(paths: FloatArray) -> FloatArray:
    """Mean place over those frames of the grid, which are the last axis but one."""
    return np.asarray(np.add.reduce(paths, axis=-2) / paths.shape[-2])


def _panned(swing: NormalizedSwing, way: FloatArray, unsure: FloatArray) -> FloatArray:
    """How likely each film is panned, by Bayes' rule, from what both feet go together.

    Parameters
    ----------
    way, unsure : arrays of shape (n_swings, 2)
        What the lead foot goes, and the variance of its error.

    Returns
    -------
    array of shape (n_swings,); 0 where either foot is lost
    """
    ankle = swing.poses[:, Point.TRAIL_ANKLE]
    other = _mean_coming_down(ankle[:, _COMING_DOWN]) - ankle[:, 0]
    together = np.where(way * other > 0.0, np.minimum(np.abs(way), np.abs(other)), 0.0)
    held, panned = (_MOVED**2 + unsure, _PANNED**2 + unsure)
    log_odds = 0.5 * np.add.reduce(
        together**2 * (1.0 / held - 1.0 / panned) + np.log(held / panned), axis=1
    )
    chance = expit(log_odds + logit(_PANNED_SHARE))
    return np.where(np.isnan(way + other).any(axis=1), 0.0, chance)


def _foot_of_axis(swing: NormalizedSwing) -> FloatArray:
    """Where the optical axis of the usual camera meets the plane of the player, shape
    (n_swings, 2); NaN where neither feet nor hips are seen."""
    foot, each = np.full((len(swing), 2), np.nan), np.arange(len(swing))
    for pair, height in (
        ((Point.LEAD_ANKLE, Point.TRAIL_ANKLE), _ANKLE_HEIGHT),
        ((Point.LEAD_HIP, Point.TRAIL_HIP), _HIP_HEIGHT),
    ):
        lead, trail = (swing.poses[:, point] for point in pair)
        first = (~np.isnan(lead[..., 0] + trail[..., 0])).argmax(axis=1)
        between = geometry.midpoint(lead[each, first], trail[each, first])
        aside = np.array([_ASIDE[swing.view], _LENS_HEIGHT - height])
        foot = np.where(np.isnan(foot), between + aside, foot)
    return foot
