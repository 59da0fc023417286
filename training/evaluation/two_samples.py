"""Can a classifier tell the pictures of simulated swings from real clips, and by what?

The real clips are the golf swings of J-HMDB [jhuang2013], 15 joints annotated by hand at 30 frames
a second. The simulated ones are filmed at that rate, keep those joints only and
carry the errors of annotators as far as they are known. Both go through the service's own analysis
up to the swing laid out along its positions.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from sklearn.ensemble import GradientBoostingClassifier
from sklearn.impute import SimpleImputer
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import StratifiedKFold, cross_val_predict
from sklearn.pipeline import Pipeline, make_pipeline
from sklearn.preprocessing import StandardScaler

from service.analysis.events.normalized import GRID, NormalizedSwing, columns_of, grid_index
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.pose.geometry import distance, elevation, joint_angle, midpoint
from service.analysis.pose.layouts import resolve, to_points
from service.analysis.pose.points import ANATOMICAL, N_POINTS, Point, joint_of
from service.analysis.types import FloatArray, SwingRecording, View
from training.data.mixed_players import mixed_player
from training.simulator import film, random_camera
from training.simulator.filming.estimating.estimator import LIKE_AN_ANNOTATOR

_CLIPS: Final = "golf_clips.ndjson"
_RATE: Final[float] = 30.0
"""Frames a second of the simulated clips."""
_SWINGS: Final[int] = 300
_FOLDS: Final[int] = 5
_REPEATS: Final[int] = 3
"""Simulated swings, folds of the cross-validation, and ways to draw these."""
_AT: Final = (3, 4, 5, 6, 7, 8)
"""Numbers of the positions that are compared."""
_NAMED: Final[int] = 10
"""Features that are named as telling most."""
_SEEN: Final = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "neck", "mid_trunk", "head")
_UNSEEN: Final = [k for k, name in enumerate(ANATOMICAL) if joint_of(name) not in _SEEN]
_WIDTHS: Final = (
    ("shoulder width", Point.LEAD_SHOULDER),
    ("hip width", Point.LEAD_HIP),
    ("knee width", Point.LEAD_KNEE),
    ("ankle width", Point.LEAD_ANKLE),
    ("elbow width", Point.LEAD_ELBOW),
)
_BENDS: Final = (
    ("lead elbow", Point.LEAD_SHOULDER, Point.LEAD_ELBOW, Point.LEAD_WRIST),
    ("trail elbow", Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
    ("lead knee", Point.LEAD_HIP, Point.LEAD_KNEE, Point.LEAD_ANKLE),
    ("trail knee", Point.TRAIL_HIP, Point.TRAIL_KNEE, Point.TRAIL_ANKLE),
)
_PLACES: Final = (
    ("head", Point.HEAD),
    ("neck", Point.NECK),
    ("lead wrist", Point.LEAD_WRIST),
    ("trail wrist", Point.TRAIL_WRIST),
    ("lead elbow", Point.LEAD_ELBOW),
    ("trail elbow", Point.TRAIL_ELBOW),
    ("lead knee", Point.LEAD_KNEE),
    ("trail knee", Point.TRAIL_KNEE),
)
Labels = NDArray[np.intp]


@dataclass(frozen=True)
class Tell:
    """A feature by which the two are told apart.

    ``weight`` is that of the logistic regression on the standardised feature, positive where
    larger values speak for a real clip; ``alone`` is the AUROC of the feature by itself.
    """

    feature: str
    weight: float
    alone: float
    real: float
    simulated: float


@dataclass(frozen=True)
class TwoSamples:
    """Cross-validated AUROC of each classifier, 0.5 if they can't be told apart, and the tells.

    ``limbs`` uses shoulders, elbows, wrists, knee and ankle places and times only: the real clips
    mark hips, neck and face elsewhere than on our joints, which alone gives every clip
    away. The tells are those of the logistic regression on ``limbs``.
    """

    clips: int
    swings: int
    auroc: dict[str, float]
    limbs: dict[str, float]
    tells: tuple[Tell, ...]


def tell_apart(folder: Path, swings: int = _SWINGS) -> TwoSamples:
    """Train both classifiers; every clip and every simulated player is a group of its own.

    Raises
    ------
    FileNotFoundError
        Without the reference data.
    """
    real = [found for clip in _read(folder) if (found := _measured(clip)) is not None]
    side_on = float(np.mean([f.view.value is View.FACE_ON for f in real]))
    simulated = _simulated(swings, side_on, np.random.default_rng(0))
    x = np.array([_features(f.normalized) for f in (*real, *simulated)])
    y: Labels = np.repeat([1, 0], [len(real), len(simulated)])
    return TwoSamples(
        clips=len(real),
        swings=len(simulated),
        auroc=held_out_auroc(x, y),
        limbs=held_out_auroc(x[:, _LIMBS], y),
        tells=_tells(x, y, _LIMBS),
    )


def _read(folder: Path) -> list[SwingRecording]:
    lines = (folder / _CLIPS).read_text(encoding="utf-8").splitlines()
    recordings = []
    for clip in map(json.loads, lines):
        frames = np.array(clip["frames"], dtype=float)
        points, confidence = to_points(
            frames, np.ones(frames.shape[:2]), resolve(clip["joint_names"])
        )
        recordings.append(SwingRecording(points, confidence, np.arange(len(frames)) / clip["fps"]))
    return recordings


def _measured(recording: SwingRecording) -> MeasuredSwing | None:
    found = measure_swing(recording)
    return found if isinstance(found, MeasuredSwing) else None


def _simulated(swings: int, side_on: float, rng: np.random.Generator) -> list[MeasuredSwing]:
    """Swings seen from both sides as often as the real ones, from address into the finish."""
    found = []
    for k in range(swings):
        view = View.FACE_ON if k < round(side_on * swings) else View.DOWN_THE_LINE
        motion = mixed_player(rng)
        clip = film(motion, random_camera(rng, view), fps=_RATE, noise=LIKE_AN_ANNOTATOR, rng=rng)
        points, confidence = clip.points.copy(), clip.confidence.copy()
        points[:, _UNSEEN], confidence[:, _UNSEEN] = np.nan, 0.0
        one = _measured(SwingRecording(points, confidence, clip.times))
        if one is not None:
            found.append(one)
    return found


def _features(swing: NormalizedSwing) -> FloatArray:
    """Shapes at the positions and the time between them; NaN where not seen."""
    reaches = [
        distance(_middle(swing, Point.LEAD_SHOULDER, at), _middle(swing, Point.LEAD_ANKLE, at))
        for at in _AT
    ]
    # Body heights would not do: they are told from bones that end at the hips.
    reach = float(np.nanmedian(reaches))
    shapes = [list(_shapes_at(swing, at, reach).values()) for at in _AT]
    moments = np.diff([swing.time_at(at)[0] for at in _AT])
    return np.asarray([*(value for values in shapes for value in values), *moments])


def _middle(swing: NormalizedSwing, lead: Point, at: float) -> FloatArray:
    """Between the two sides of a joint."""
    lead_side, trail_side = swing.poses[0, lead : lead + 2, grid_index(at)]
    return midpoint(lead_side, trail_side)


def _shapes_at(swing: NormalizedSwing, at: float, reach: float) -> dict[str, float]:
    """Angles in degrees; lengths, and places about the middle of the shoulders, by ``reach``.

    ``reach`` is the distance from the shoulders to the ankles.
    """

    def point(which: int) -> FloatArray:
        return np.asarray(swing.poses[0, which, grid_index(at)])

    shoulders = _middle(swing, Point.LEAD_SHOULDER, at)
    hips = _middle(swing, Point.LEAD_HIP, at)
    places = {
        "hips": hips,
        "ankles": _middle(swing, Point.LEAD_ANKLE, at),
        **{name: point(p) for name, p in _PLACES},
    }
    shapes = {f"{name} angle": float(joint_angle(*map(point, three))) for name, *three in _BENDS}
    shapes |= {n: float(distance(point(p), point(p + 1)) / reach) for n, p in _WIDTHS}
    shapes["trunk rise"] = float(elevation(hips, shoulders))
    for name, place in places.items():
        shapes[f"{name} x"], shapes[f"{name} y"] = map(float, (place - shoulders) / reach)
    return shapes


def _names() -> tuple[str, ...]:
    empty = NormalizedSwing(
        poses=np.full((1, N_POINTS, len(GRID), 2), np.nan),
        samples=np.empty((0, 2, 1)),
        columns=columns_of((), ()),
        times=np.full((1, len(GRID)), np.nan),
        missing=np.ones((1, N_POINTS, len(GRID)), dtype=bool),
        view=View.FACE_ON,
    )
    shapes = tuple(_shapes_at(empty, 1, 1.0))
    return (
        *(f"P{at} {name}" for at in _AT for name in shapes),
        *(f"seconds P{a} to P{b}" for a, b in pairwise(_AT)),
    )


FEATURES: Final[tuple[str, ...]] = _names()
_MARKED_ELSEWHERE: Final = ("hip", "trunk", "knee angle", "head", "neck")
_LIMBS: Final = np.array(
    [k for k, name in enumerate(FEATURES) if not any(word in name for word in _MARKED_ELSEWHERE)]
)


def _models() -> dict[str, Pipeline]:
    return {
        "logistic regression": _logistic(),
        "gradient boosting": make_pipeline(
            SimpleImputer(strategy="median"),
            GradientBoostingClassifier(
                n_estimators=80, max_depth=2, subsample=0.7, max_features=0.3, random_state=0
            ),
        ),
    }


def _logistic() -> Pipeline:
    return make_pipeline(
        SimpleImputer(strategy="median"),
        StandardScaler(),
        LogisticRegression(C=0.02, class_weight="balanced", max_iter=2000),
    )


def held_out_auroc(x: FloatArray, y: Labels, repeats: int = _REPEATS) -> dict[str, float]:
    """AUROC of each classifier on rows that it was not fitted on.

    Parameters
    ----------
    x : array of shape (n, n_features)
        NaN where missing.
    y : array of shape (n,)
        0 or 1.
    repeats
        Ways to fold over which it is averaged.
    """
    return {name: _auroc(model, x, y, repeats) for name, model in _models().items()}


def _auroc(model: Pipeline, x: FloatArray, y: Labels, repeats: int) -> float:
    scores = []
    for repeat in range(repeats):
        folds = StratifiedKFold(_FOLDS, shuffle=True, random_state=repeat)
        held_out = cross_val_predict(model, x, y, cv=folds, method="predict_proba")[:, 1]
        scores.append(roc_auc_score(y, held_out))
    return float(np.mean(scores))


def _tells(x: FloatArray, y: Labels, among: NDArray[np.intp]) -> tuple[Tell, ...]:
    weights = _logistic().fit(x[:, among], y)[-1].coef_[0]
    heaviest = np.argsort(-np.abs(weights))[:_NAMED]
    return tuple(
        Tell(
            feature=FEATURES[k],
            weight=float(weight),
            alone=_alone(x[:, k], y),
            real=float(np.nanmedian(x[y == 1, k])),
            simulated=float(np.nanmedian(x[y == 0, k])),
        )
        for k, weight in zip(among[heaviest], weights[heaviest], strict=True)
    )


def _alone(values: FloatArray, y: Labels) -> float:
    seen = np.isfinite(values)
    score = float(roc_auc_score(y[seen], values[seen]))
    return max(score, 1.0 - score)
