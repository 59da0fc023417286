"""How a real pose estimator errs on golf swings, joint by joint.

``python -m tests.reference.estimator.errors`` lays its points over the annotated ones of the same
21 videos (:mod:`tests.reference.estimator.laid_over`) and prints sizes, how long errors last, lost
arms, exchanged sides, the lag at fast moments and what confidence says of the error. The simulated
estimator is drawn from these numbers.

The annotators' own error is in every one of them, and so is what both call by the same name
differently: a joint where the annotators guessed looks like an error of the estimator.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import BoolArray, FloatArray
from tests.reference.clips import FOLDER
from tests.reference.estimator.laid_over import LaidOver, laid_over

PHASES: Final = {
    "address": (-1.0, 1.5),
    "backswing": (1.5, 3.5),
    "top": (3.5, 4.5),
    "downswing": (4.5, 7.25),
    "follow-through": (7.25, 12.0),
}
"""Position coordinates of each phase."""
JOINTS: Final = {
    "shoulder": (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER),
    "elbow": (Point.LEAD_ELBOW, Point.TRAIL_ELBOW),
    "wrist": (Point.LEAD_WRIST, Point.TRAIL_WRIST),
    "hip": (Point.LEAD_HIP, Point.TRAIL_HIP),
    "knee": (Point.LEAD_KNEE, Point.TRAIL_KNEE),
    "ankle": (Point.LEAD_ANKLE, Point.TRAIL_ANKLE),
}
ARMS: Final = {
    "lead": (Point.LEAD_ELBOW, Point.LEAD_WRIST),
    "trail": (Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
}
_LEGS: Final = (Point.LEAD_KNEE, Point.LEAD_ANKLE)
_LOST: Final = 0.12
"""Body heights by which an elbow or a wrist is off when its arm counts as lost."""
_APART: Final = 0.08
"""Body heights between the sides below which an exchange can't be told."""
_SURENESS: Final = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.97, 1.01)
_LAGS: Final = np.arange(-3.0, 3.01, 0.1)
_FAST: Final = (4.5, 8.5)
"""Position coordinates between which the hands are fast."""
_NORMAL: Final = 1.4826
"""Standard deviation of a normal variable over the median of its absolute value."""


def parts(clips: Sequence[LaidOver], joints: Sequence[Point]) -> dict[str, float]:
    """Standard deviations on one axis, body heights, in the middle clip.

    ``common`` is what all clips share (root mean square over the axes), ``steady`` the spread of a
    clip's median error over the clips, ``drift`` what varies within a clip and ``jitter`` what
    changes from frame to frame (from second differences); ``jitter_by_hand`` is the annotators'.
    """
    off = [np.median(c.error[:, j], axis=0) for c in clips for j in joints]
    within, jitter, by_hand = (
        [_NORMAL * np.median(np.abs(v), axis=0) for v in values]
        for values in (
            [c.error[:, j] - np.median(c.error[:, j], axis=0) for c in clips for j in joints],
            [_flicker(c.seen[:, j]) for c in clips for j in joints],
            [_flicker(c.true[:, j]) for c in clips for j in joints],
        )
    )
    common = np.median(off, axis=0)
    return {
        "common": float(np.sqrt(np.mean(common**2))),
        "steady": float(np.std(off, axis=0).mean()),
        "drift": float(np.median(within)),
        "jitter": float(np.median(jitter)),
        "jitter_by_hand": float(np.median(by_hand)),
    }


def _flicker(path: FloatArray) -> FloatArray:
    """Second differences scaled to the size of independent errors, shape (n_frames - 2, 2)."""
    return np.asarray(np.diff(path, n=2, axis=0) / np.sqrt(6.0))


def lasting(clips: Sequence[LaidOver], joints: Sequence[Point], longest: int = 12) -> FloatArray:
    """Autocorrelation of what varies within a clip at 0, 1, 2 ... frames, shape (longest,)."""
    total = np.zeros(longest)
    for c in clips:
        for j in joints:
            off = c.error[:, j] - np.median(c.error[:, j], axis=0)
            off = np.clip(off, -0.1, 0.1)
            total += [np.mean(off[: len(off) - k] * off[k:]) for k in range(longest)]
    return np.asarray(total / total[0])


def memory(correlation: FloatArray, rate: float) -> float:
    """Seconds after which an error of this autocorrelation has fallen to 1/e."""
    below = int(np.argmax(correlation < np.exp(-1.0)))
    before, after = correlation[below - 1], correlation[below]
    return float((below - 1 + (before - np.exp(-1.0)) / (before - after)) / rate)


def sizes(clips: Sequence[LaidOver], joints: Sequence[Point], phase: str) -> FloatArray:
    """Lengths of the errors in one phase, body heights, shape (n,)."""
    first, last = PHASES[phase]
    return np.concatenate(
        [
            np.hypot(*c.error[(c.coordinate >= first) & (c.coordinate < last), j].T)
            for c in clips
            for j in joints
        ]
    )


def lost(clip: LaidOver, arm: Sequence[Point]) -> BoolArray:
    """Frames in which an arm's elbow or wrist is far off, shape (n_frames,)."""
    off = np.hypot(*np.moveaxis(clip.error[:, list(arm)], -1, 0))
    return np.asarray((off > _LOST).any(axis=1))


def at_trunk(clip: LaidOver, arm: Sequence[Point]) -> BoolArray:
    """Frames in which the estimate is nearer to the middle of the trunk than the annotation."""
    middle = clip.true[:, [*JOINTS["shoulder"], *JOINTS["hip"]]].mean(axis=1)[:, None]
    near = [
        np.linalg.norm(points[:, list(arm)] - middle, axis=-1).mean(axis=1)
        for points in (clip.seen, clip.true)
    ]
    return np.asarray(near[0] < near[1])


def exchanged(clip: LaidOver, limb: Sequence[Point]) -> BoolArray:
    """Frames in which a limb lies nearer to the other side's than to its own, shape (n_frames,)."""
    own, other = list(limb), [p + 1 for p in limb]
    seen, true = (np.stack([p[:, own], p[:, other]]) for p in (clip.seen, clip.true))
    straight = np.linalg.norm(seen - true, axis=-1).sum(axis=(0, 2))
    crossed = np.linalg.norm(seen - true[::-1], axis=-1).sum(axis=(0, 2))
    apart = np.linalg.norm(true[0] - true[1], axis=-1).max(axis=1)
    return np.asarray((crossed < 0.5 * straight) & (apart > _APART))


def stretches(mask: BoolArray) -> list[int]:
    """Lengths in frames of the runs of true."""
    return [len(list(run)) for value, run in groupby(mask) if value]


def lag(clip: LaidOver) -> float:
    """Frames by which the estimated hands follow the annotated ones while they are fast."""
    frames = np.arange(len(clip.true), dtype=float)
    hands = [p[:, list(JOINTS["wrist"])].mean(axis=1) for p in (clip.true, clip.seen)]
    fast = frames[(clip.coordinate >= _FAST[0]) & (clip.coordinate <= _FAST[1])]
    left = []
    for late in _LAGS:
        moved = np.stack([np.interp(fast + late, frames, hands[1][:, k]) for k in (0, 1)], axis=-1)
        off = moved - hands[0][fast.astype(int)]
        left.append(np.mean(np.hypot(*(off - np.median(off, axis=0)).T)))
    return float(_LAGS[int(np.argmin(left))])


def report(clips: Sequence[LaidOver]) -> list[str]:
    """Everything in lines of text."""
    return [
        f"{len(clips)} clips, {sum(len(c.true) for c in clips)} frames; body heights",
        *_part_lines(clips),
        *_phase_lines(clips),
        *_arm_lines(clips),
        *_exchange_lines(clips),
        *_lag_lines(clips),
        *_sureness_lines(clips),
    ]


def _part_lines(clips: Sequence[LaidOver]) -> Iterator[str]:
    yield "on one axis  common  steady   drift  jitter  by hand  lasts (s)"
    for name, joints in JOINTS.items():
        sd = parts(clips, joints)
        seconds = memory(lasting(clips, joints), clips[0].rate)
        yield f"{name:11s}" + "".join(f"{v:8.4f}" for v in sd.values()) + f"{seconds:11.2f}"


def _phase_lines(clips: Sequence[LaidOver]) -> Iterator[str]:
    for view in ("face_on", "down_the_line"):
        yield f"{view}: length of the error, median / 90 %, " + ", ".join(PHASES)
        chosen = [c for c in clips if c.view == view]
        for pair in JOINTS.values():
            for joint in pair:
                told = [sizes(chosen, [joint], phase) for phase in PHASES]
                yield f"  {joint.label:15s}" + "  ".join(
                    f"{np.median(v):.3f} / {np.quantile(v, 0.9):.3f}" if v.size else "      -      "
                    for v in told
                )


def _arm_lines(clips: Sequence[LaidOver]) -> Iterator[str]:
    for view in ("face_on", "down_the_line"):
        for side, arm in ARMS.items():
            chosen = [c for c in clips if c.view == view]
            gone = [lost(c, arm) for c in chosen]
            where = np.concatenate([at_trunk(c, arm)[g] for c, g in zip(chosen, gone, strict=True)])
            runs = [n for g in gone for n in stretches(g)]
            sure = [
                np.median(
                    np.concatenate(
                        [
                            c.confidence[g == lost_, arm[1]]
                            for c, g in zip(chosen, gone, strict=True)
                        ]
                    )
                )
                for lost_ in (True, False)
            ]
            yield (
                f"{view} {side} arm lost in {np.concatenate(gone).mean():.1%} of frames, "
                f"{len(runs)} times in {len(chosen)} clips, {np.median(runs):.0f} frames long, "
                f"{where.mean():.0%} of them toward the trunk; confidence of the wrist "
                f"{sure[0]:.2f}, else {sure[1]:.2f}"
            )


def _exchange_lines(clips: Sequence[LaidOver]) -> Iterator[str]:
    seconds = sum(len(c.true) / c.rate for c in clips)
    for name, limb in (("arms", ARMS["lead"]), ("legs", _LEGS)):
        runs = [n for c in clips for n in stretches(exchanged(c, limb))]
        length = f", {np.mean(runs):.1f} frames long on average" if runs else ""
        yield f"{name} exchanged {len(runs)} times, {len(runs) / seconds:.2f} a second{length}"


def _lag_lines(clips: Sequence[LaidOver]) -> Iterator[str]:
    lags = np.array([lag(c) for c in clips])
    low, middle, high = np.quantile(lags, (0.25, 0.5, 0.75))
    yield f"hands lag by {middle:.1f} frames in the downswing (quartiles {low:.1f}, {high:.1f})"


def _sureness_lines(clips: Sequence[LaidOver]) -> Iterator[str]:
    yield "confidence and the length of the error, median / 90 % (share of frames)"
    for name, joints in JOINTS.items():
        off = np.concatenate([np.hypot(*c.error[:, j].T) for c in clips for j in joints])
        sure = np.concatenate([c.confidence[:, j] for c in clips for j in joints])
        told = []
        for low, high in pairwise(_SURENESS):
            within = (sure >= low) & (sure < high)
            if within.sum() > 10:
                told.append(
                    f"{low:g}+ {np.median(off[within]):.3f} / {np.quantile(off[within], 0.9):.3f} "
                    f"({within.mean():.0%})"
                )
        yield f"  {name:9s}" + "; ".join(told)


def main() -> int:
    """Print the report."""
    if not FOLDER.is_dir():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    print("\n".join(report(laid_over())))
    return 0


if __name__ == "__main__":
    sys.exit(main())
