"""Can a classifier tell simulated 33-landmark clips from a real estimator's, and by what?

``python -m tests.reference.estimator.tell_apart`` cuts simulated swings like the real clips, sends
them through the simulated estimator, and prints the AUROC on held-out clips (0.5: they can't be
told apart) over several draws, with the features that give them away, and as a floor that of one
half of the real clips against the other. The features are the estimator's doing: jitter, limbs that
change their length, feet that slide, confidences; and, apart, others that hardly any number was set
by: how errors come in bursts and how confidences go together in time. What the golfers do
differently is :mod:`training.evaluation.two_samples`.
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
from training.simulator.filming.estimating.estimator import LIKE_AN_ESTIMATOR

BEFORE: Final = EstimatorNoise(gaps=0.0, club=False)
"""The simulated estimator without measured errors, for comparison."""
_RATE: Final = 30.0
_SWINGS: Final = 150
_DRAWS: Final = 4
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


def other_features(points: FloatArray, confidence: FloatArray) -> dict[str, float]:
    """How errors come in bursts, and how confidences change and go together in time.

    Of these only the size of bursts was looked at when the simulated estimator was made. Arguments
    as of :func:`features`.
    """
    body = points / body_height(points)
    found: dict[str, float] = {}
    for joint in _JOINTS:
        where = [_index(side, joint) for side in _SIDES]
        sure = [_odds(confidence[:, k]) for k in where]
        _put(found, f"{joint} bursts", [_bursts(body[:, k]) for k in where])
        _put(found, f"{joint} confidence's steps", [_step(one) for one in sure])
        found[f"{joint} confidence, side with side"] = _together(*sure)
    for first, second in (("elbow", "wrist"), ("knee", "ankle"), ("elbow", "knee")):
        pairs = [
            [_odds(confidence[:, _index(side, joint)]) for joint in (first, second)]
            for side in _SIDES
        ]
        _put(found, f"{first} with {second} confidence", [_together(*pair) for pair in pairs])
    return found


def _bursts(path: FloatArray) -> float:
    """Logarithm of large second differences over small ones."""
    sizes = np.abs(np.diff(path, n=2, axis=0)).max(axis=1) + 1e-5
    return float(np.log(np.quantile(sizes, 0.9) / np.quantile(sizes, 0.25)))


def _step(odds: FloatArray) -> float:
    return float(np.log(np.median(np.abs(np.diff(odds))) + 0.01))


def _together(one: FloatArray, other: FloatArray) -> float:
    """Correlation, 0 where either never changes."""
    changes = min(one.std(), other.std()) > 0.0
    return float(np.corrcoef(one, other)[0, 1]) if changes else 0.0


def floor(real: Sequence[dict[str, float]], draws: int = 8) -> dict[str, list[float]]:
    """Held-out AUROC of each classifier between halves of the real clips, one a draw."""
    told: dict[str, list[float]] = {}
    for seed in range(draws):
        order = np.random.default_rng(seed).permutation(len(real))
        halves = [[real[k] for k in half] for half in np.array_split(order, 2)]
        for name, value in told_apart(*halves)[0].items():
            told.setdefault(name, []).append(value)
    return told


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
    real: Sequence[dict[str, float]], simulated: Sequence[dict[str, float]], repeats: int = 3
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
    return held_out_auroc(x, y, repeats), sorted(alone, key=lambda told: -told[1])


def main() -> int:
    """Print how far each simulated estimator can be told from the real one."""
    if not FOLDER.is_dir():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    clips, tops = real_clips(), tops_of_real_clips()
    print(
        f"{len(clips)} real clips against {_SWINGS} simulated ones; AUROC on held-out clips, mean"
    )
    print(f"and range of {_DRAWS} draws of the simulated")
    print(f"halves of the real clips: {_ranges(floor([features(*clip) for clip in clips]))}")
    for title, noise in (("before", BEFORE), ("measured errors", LIKE_AN_ESTIMATOR)):
        simulated = [simulated_clips(noise, tops, seed=seed) for seed in range(_DRAWS)]
        for kind in (features, other_features):
            real = [kind(*clip) for clip in clips]
            draws = [told_apart(real, [kind(*clip) for clip in one]) for one in simulated]
            told = {name: [auroc[name] for auroc, _ in draws] for name in draws[0][0]}
            print(f"{title}, {kind.__name__.replace('_', ' ')}: {_ranges(told)}")
            print("  feature                              AUROC alone  real  simulated (medians)")
            for name, value, theirs, ours in draws[0][1][:_NAMED]:
                print(f"  {name:38s}{value:8.2f}{theirs:11.3f}{ours:9.3f}")
    return 0


def _ranges(told: dict[str, list[float]]) -> str:
    return ", ".join(
        f"{name} {np.mean(each):.2f} ({min(each):.2f} to {max(each):.2f})"
        for name, each in told.items()
    )


if __name__ == "__main__":
    sys.exit(main())
