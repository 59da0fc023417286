"""The models that are compared, and how one is judged before it is chosen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit
from sklearn.base import clone
from sklearn.ensemble import HistGradientBoostingClassifier, HistGradientBoostingRegressor
from sklearn.impute import SimpleImputer
from sklearn.linear_model import LogisticRegression, Ridge
from sklearn.metrics import log_loss, roc_auc_score
from sklearn.model_selection import GroupKFold
from sklearn.neural_network import MLPRegressor
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler

from service.analysis.judging.calibration import log_odds
from service.analysis.types import BoolArray, FloatArray

GREY: Final[float] = 1.0
"""Half-width of the grey zone in the unit of the truth's margin."""
_FARTHEST: Final[float] = 3.0
"""Margins beyond this tell nothing more of whether the fault is there."""
_FOLDS: Final[int] = 3
Rows = NDArray[np.float32]


@dataclass(frozen=True)
class Candidate:
    """A kind of model.

    ``margin`` tells whether it is taught how far beyond the threshold the truth lies, or only
    on which side; ``raw`` whether it sees joints over plain time instead of the features.
    ``trees`` marks gradient-boosted trees, whose ONNX gives their raw score.
    """

    name: str
    make: Callable[[], Any]
    margin: bool
    raw: bool = False
    trees: bool = False

    def fit(self, rows: Rows, margin: FloatArray) -> Any:
        """Fitted on rows of shape (n, n_columns) with the truth of shape (n,)."""
        target = np.clip(margin, -_FARTHEST, _FARTHEST) if self.margin else margin > 0.0
        return clone(self.make()).fit(rows.astype(np.float64), target)  # as ONNX converters expect

    def score(self, estimator: Any, rows: Rows) -> FloatArray:
        """What it says on the scale that is calibrated: a margin, or log-odds."""
        if self.margin:
            return np.asarray(estimator.predict(rows.astype(np.float64)), dtype=np.float64)
        odds = estimator.decision_function(rows.astype(np.float64))
        if self.trees:
            return np.asarray(odds)
        # Its ONNX tells a probability, which is held within these bounds.
        return np.asarray(np.clip(odds, *log_odds(np.array([0.0, 1.0]))))


def _linear(model: Any) -> Any:
    return make_pipeline(SimpleImputer(keep_empty_features=True), StandardScaler(), model)


_TREES: Final = {
    "max_iter": 90,
    "learning_rate": 0.09,
    "max_leaf_nodes": 8,
    "min_samples_leaf": 20,
    "l2_regularization": 1.0,
    "max_features": 0.3,
    "early_stopping": False,
    "random_state": 0,
}
CANDIDATES: Final[tuple[Candidate, ...]] = (
    Candidate("logistic", lambda: _linear(LogisticRegression(C=0.02, max_iter=300)), margin=False),
    Candidate("ridge", lambda: _linear(Ridge(alpha=100.0)), margin=True),
    Candidate("trees", lambda: HistGradientBoostingClassifier(**_TREES), margin=False, trees=True),
    Candidate(
        "trees_margin", lambda: HistGradientBoostingRegressor(**_TREES), margin=True, trees=True
    ),
    Candidate(
        "network",
        lambda: _linear(
            MLPRegressor(
                hidden_layer_sizes=(24,),
                alpha=3.0,
                early_stopping=True,
                max_iter=150,
                random_state=0,
            )
        ),
        margin=True,
    ),
    Candidate(
        "time_series",
        lambda: _linear(LogisticRegression(C=0.01, max_iter=200)),
        margin=False,
        raw=True,
    ),
)


@dataclass(frozen=True)
class Scores:
    """How well scores tell a fault, without the grey zone, and how honest they are with it."""

    auroc: float
    log_loss: float


def auroc(margin: FloatArray, score: FloatArray) -> float:
    """Area under the ROC curve over the rows outside the grey zone; NaN with one side only."""
    clear = np.abs(margin) >= GREY
    present = margin[clear] > 0.0
    if present.all() or not present.any():
        return float("nan")
    return float(roc_auc_score(present, score[clear]))


def out_of_fold(
    candidate: Candidate,
    rows: Rows,
    margin: FloatArray,
    golfers: NDArray[np.int64],
    only: BoolArray | None = None,
) -> FloatArray:
    """Scores of every row by a model fitted without its golfer, shape (n,).

    ``only`` marks the rows to fit on, all if ``None``.
    """
    scores = np.full(len(margin), np.nan)
    usable = np.ones(len(margin), dtype=bool) if only is None else only
    for train, held in GroupKFold(_FOLDS).split(rows, groups=golfers):
        train = train[usable[train]]
        estimator = candidate.fit(rows[train], margin[train])
        scores[held] = candidate.score(estimator, rows[held])
    return scores


def platt(score: FloatArray, margin: FloatArray) -> tuple[float, float]:
    """Slope and intercept that turn scores into log-odds.

    References
    ----------
    J. Platt, Probabilistic outputs for support vector machines, 1999 (from memory).
    """
    model = LogisticRegression(C=100.0).fit(score[:, None], margin > 0.0)
    return float(model.coef_[0, 0]), float(model.intercept_[0])


def judge(score: FloatArray, margin: FloatArray) -> Scores:
    """Scores calibrated on themselves, as all candidates are."""
    slope, intercept = platt(score, margin)
    chance = expit(slope * score + intercept)
    return Scores(auroc(margin, score), float(log_loss(margin > 0.0, chance)))
