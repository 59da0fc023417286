"""Can a classifier tell simulated 33-landmark clips from a real estimator's, and by what?

``python -m tests.reference.tell_estimated`` cuts simulated swings like the real clips, sends them
through the simulated estimator, and prints the AUROC on held-out clips (0.5: they can't be told
apart) with the features that give them away. The features are the estimator's doing: jitter, limbs
that change their length, feet that slide, confidences. What the golfers do differently is
:mod:`training.evaluation.two_samples`.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from sklearn.metrics import roc_auc_score

from service.analysis.pose.layouts import LAYOUTS, to_points
from service.analysis.pose.points import ANATOMICAL
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray, View
from tests.reference.clips import FOLDER, read
from training.data.mixed_players import mixed_player
from training.evaluation.two_samples import held_out_auroc
from training.simulator import EstimatorNoise, film, random_camera
from training.simulator.filming.estimator import LIKE_AN_ESTIMATOR

BEFORE: Final = EstimatorNoise(gaps=0.0, club=False)
"""The simulated estimator without measured errors, for comparison."""
_RATE: Final = 30.0
_SWINGS: Final = 150
_FRAMES: Final = 40
_FACE_ON_SHARE: Final = 0.25
_NAMED: Final = 12
_JOINTS: Final = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe", "ear")
_SEGMENTS: Final = (
    ("upper arm", "shoulder", "elbow"),
    ("forearm", "elbow", "wrist"),
    ("hand", "wrist", "hand"),
    ("thigh", "hip", "knee"),
    ("shank", "knee", "ankle"),
    ("foot", "heel", "toe"),
    ("side of the trunk", "shoulder", "hip"),
)
_SIDES: Final = ("left", "right")


def real_clips() -> list[tuple[FloatArray, FloatArray]]:
    """Points and confidence of every clip without lost frames."""
    return [
        to_points(table[..., :2], table[..., 2], LAYOUTS[clip["layout"]].joints)
        for clip in read("estimated_golf_clips")
        if (table := _table(clip)) is not None
    ]


def _table(clip: dict[str, Any]) -> FloatArray | None:
    if any(frame is None or None in frame for frame in clip["frames"]):
        return None
    return np.array(clip["frames"], dtype=float)


def simulated_clips(
    noise: EstimatorNoise, tops: Sequence[float], n: int = _SWINGS, seed: int = 0
) -> list[tuple[FloatArray, FloatArray]]:
    """Points and confidence of simulated swings cut as the real clips are.

    ``tops`` are frames at which the top of the backswing comes in real clips.
    """
    rng = np.random.default_rng(seed)
    made = []
    for k in range(n):
        motion = mixed_player(rng)
        view = View.FACE_ON if k < _FACE_ON_SHARE * n else View.DOWN_THE_LINE
        start = float(motion.position_times[3]) - float(rng.choice(tops)) / _RATE
        times = start + np.arange(_FRAMES) / _RATE
        times = times[(times >= 0.0) & (times <= motion.duration)]
        clip = film(motion, random_camera(rng, view), times=times, noise=noise, rng=rng)
        made.append((clip.points, clip.confidence))
    return made


def tops_of_real_clips() -> list[float]:
    """Frame of the top of the backswing in each annotated clip, the middle of its window."""
    return [float(np.mean(event["top"])) for event in read("golf_events")]


def features(points: FloatArray, confidence: FloatArray) -> dict[str, float]:
    """What an estimator leaves in its points; the sides in order of size, so that none is named.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
    confidence : array of shape (n_frames, n_points)
    """
    body = points / body_height(points)
    found: dict[str, float] = {}
    for joint in _JOINTS:
        paths = [body[:, _index(side, joint)] for side in _SIDES]
        sure = [confidence[:, _index(side, joint)] for side in _SIDES]
        _put(found, f"{joint} jitter", [np.log(_flicker(p) + 1e-5) for p in paths])
        _put(found, f"{joint} confidence", [_odds(c).mean() for c in sure])
        _put(found, f"{joint} confidence unrest", [_odds(c).std() for c in sure])
    for name, start, end in _SEGMENTS:
        lengths = [
            np.linalg.norm(body[:, _index(side, start)] - body[:, _index(side, end)], axis=-1)
            for side in _SIDES
        ]
        _put(found, f"{name} flicker", [np.log(_flicker(v[:, None]) + 1e-5) for v in lengths])
        if name in ("thigh", "shank"):
            _put(found, f"{name} stretch", [np.std(v) for v in lengths])
    for joint in ("ankle", "heel"):
        _put(found, f"{joint} slide", [_slide(body[:, _index(s, joint)]) for s in _SIDES])
    apart = np.linalg.norm(
        body[:, _index("left", "wrist")] - body[:, _index("right", "wrist")], axis=-1
    )
    found["wrists apart"] = float(np.median(apart))
    found["wrists apart, most"] = float(np.quantile(apart, 0.9))
    return found


def _index(side: str, joint: str) -> int:
    return ANATOMICAL.index(f"{side}_{joint}")


def _put(found: dict[str, float], name: str, sides: Sequence[Any]) -> None:
    low, high = sorted(map(float, sides))
    found[f"{name}, less"], found[f"{name}, more"] = low, high


def _flicker(path: FloatArray) -> float:
    """Median size of second differences, as one standard deviation of independent errors."""
    return float(np.median(np.abs(np.diff(path, n=2, axis=0))) / (0.6745 * np.sqrt(6.0)))


def _slide(path: FloatArray) -> float:
    return float(np.median(np.linalg.norm(path - np.median(path, axis=0), axis=-1)))


def _odds(confidence: FloatArray) -> FloatArray:
    held = np.clip(confidence, 0.003, 0.9995)
    return np.asarray(np.log(held / (1.0 - held)))


def told_apart(
    real: Sequence[dict[str, float]], simulated: Sequence[dict[str, float]]
) -> tuple[dict[str, float], list[tuple[str, float, float, float]]]:
    """Held-out AUROC of each classifier, and every feature with its own AUROC and medians."""
    names = list(real[0])
    x = np.array([[f[n] for n in names] for f in (*real, *simulated)])
    y = np.repeat([1, 0], [len(real), len(simulated)])
    alone = []
    for k, name in enumerate(names):
        score = float(roc_auc_score(y, x[:, k]))
        middle = [float(np.median(x[y == side, k])) for side in (1, 0)]
        alone.append((name, max(score, 1.0 - score), *middle))
    return held_out_auroc(x, y), sorted(alone, key=lambda told: -told[1])


def main() -> int:
    """Print how far each simulated estimator can be told from the real one."""
    if not FOLDER.is_dir():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    real = [features(*clip) for clip in real_clips()]
    tops = tops_of_real_clips()
    print(f"{len(real)} real clips against {_SWINGS} simulated ones; AUROC on held-out clips")
    for title, noise in (("before", BEFORE), ("measured errors", LIKE_AN_ESTIMATOR)):
        simulated = [features(*clip) for clip in simulated_clips(noise, tops)]
        auroc, alone = told_apart(real, simulated)
        print(f"{title}: " + ", ".join(f"{name} {value:.3f}" for name, value in auroc.items()))
        print("  feature                              AUROC alone  real  simulated (medians)")
        for name, value, theirs, ours in alone[:_NAMED]:
            print(f"  {name:38s}{value:8.2f}{theirs:11.3f}{ours:9.3f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
