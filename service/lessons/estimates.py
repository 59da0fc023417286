"""Values with their uncertainty: several swings as one, and what difference counts.

References
----------
[weir2005], [dersimonian1986]
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import Final

import numpy as np
from scipy.special import ndtri, stdtrit

from service.analysis.types import FloatArray

NORMAL_95: Final[float] = float(ndtri(0.975))
"""Two-sided 95 % point of the normal distribution, some 1.96."""
_LEAST_FREEDOM: Final[int] = 2
"""Degrees of freedom from which a spread is told: three repeats of one swing."""
_LEAST_UNCERTAINTY: Final[float] = 1e-9


@dataclass(frozen=True)
class Values:
    """One measure over several swings, arrays of shape (n_swings,) in one unit.

    ``uncertainties`` are one standard deviation each.
    """

    values: FloatArray
    uncertainties: FloatArray

    @property
    def variances(self) -> FloatArray:
        """Squares of the uncertainties, kept off zero so that they can weigh."""
        return np.maximum(self.uncertainties, _LEAST_UNCERTAINTY) ** 2


@dataclass(frozen=True)
class Spread:
    """A player's spread from swing to swing: a variance and its degrees of freedom."""

    variance: float = 0.0
    freedom: int = 0


@dataclass(frozen=True)
class Estimate:
    """A mean over ``count`` swings; ``uncertainty`` is its one standard deviation."""

    value: float
    uncertainty: float
    count: int

    @property
    def band(self) -> tuple[float, float]:
        """The 95 % band."""
        reach = NORMAL_95 * self.uncertainty
        return self.value - reach, self.value + reach


def spread_between_swings(groups: Sequence[Values]) -> Spread:
    """Variance from swing to swing that the swings' own uncertainties do not explain.

    The moment estimator of DerSimonian and Laird, pooled over groups that each have a
    mean of their own. Zero with fewer than two degrees of freedom (three repeats of one
    swing, or two pairs), where it can't be told.
    """
    freedom = sum(len(g.values) - 1 for g in groups)
    if freedom < _LEAST_FREEDOM:
        return Spread()
    excess, scale = -float(freedom), 0.0
    for group in groups:
        weights = 1.0 / group.variances
        mean = np.average(group.values, weights=weights)
        excess += float(np.sum(weights * (group.values - mean) ** 2))
        scale += float(np.sum(weights) - np.sum(weights**2) / np.sum(weights))
    return Spread(max(0.0, excess / scale), freedom)


def pool(group: Values, spread: Spread) -> Estimate:
    """Mean of a group weighted by precision, the spread from swing to swing included.

    >>> pool(Values(np.array([1.0, 3.0]), np.array([1.0, 1.0])), Spread()).value
    2.0
    """
    weights = 1.0 / (group.variances + spread.variance)
    total = float(np.sum(weights))
    value = float(np.sum(weights * group.values)) / total
    return Estimate(value, sqrt(1.0 / total), len(group.values))


def smallest_detectable_change(before: Values, after: Values, spread: Spread) -> float:
    """Change between two groups below which nothing can be said with 95 % certainty.

    Weir's minimal difference is SEM x 1.96 x sqrt(2), with one standard error of
    measurement (SEM) for both occasions. Here every swing brings a variance of its own,
    so that twice the squared SEM becomes the sum of the two: for one swing a side

        1.96 x sqrt(u1^2 + u2^2)

    and for groups the u are the uncertainties of the means (:func:`pool`). As far as
    that variance rests on a spread told from few repeats, 1.96 gives way to the 95 %
    point of Student's t with the Welch-Satterthwaite degrees of freedom.

    >>> one = Values(np.array([0.0]), np.array([1.0]))
    >>> round(smallest_detectable_change(one, one, Spread()), 3)
    2.772
    """
    total, own = (
        sum(pool(group, s).uncertainty ** 2 for group in (before, after))
        for s in (spread, Spread())
    )
    from_spread = total - own
    factor = NORMAL_95
    if from_spread > 0.0:
        freedom = spread.freedom * (total / from_spread) ** 2
        factor = float(stdtrit(freedom, 0.975))
    return factor * sqrt(total)


def unwrapped(groups: Sequence[Values], unit: str) -> list[Values]:
    """Angles brought to the turn within 180 degrees of the first; other units untouched.

    >>> pair = [Values(np.array([a]), np.array([1.0])) for a in (179.0, -179.0)]
    >>> unwrapped(pair, "degrees")[1].values.tolist()
    [181.0]
    """
    if unit != "degrees" or not groups:
        return list(groups)
    about = groups[0].values[0]
    return [replace(g, values=about + (g.values - about + 180.0) % 360.0 - 180.0) for g in groups]
