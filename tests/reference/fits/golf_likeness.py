"""Make the table of :mod:`service.analysis.events.golf_likeness` anew, and measure such fits.

``python -m tests.reference.fits.golf_likeness`` fits on either source of research clips and prints
what is taken for golf on the other, does the same ten-fold by clip, then fits on all and prints the
table. Simulated swings and motions are in every fit. Each clip is also taken with its start or its
end cut off, without legs, with unsure wrists, with both wrists on one place and with the fall in
slow motion, other actions twice in one film too; those copies weigh half or less and are not
counted in what is measured; some of them have lines of their own.
"""

from __future__ import annotations

import dataclasses
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Any, Final

import numpy as np
from sklearn.linear_model import LogisticRegression

from service.analysis.events.detection import LIKELY_GOLF, falls
from service.analysis.events.golf_likeness import TRAITS, Fall, traits
from service.analysis.events.landmark_paths import Tracks, follow
from service.analysis.pose.conditioning import condition
from service.analysis.pose.points import Point
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray, SwingRecording, View
from tests.reference.clips import (
    BATS,
    EVENTS,
    FOLDER,
    GOLF,
    OTHER,
    action_of,
    available,
    read,
    recording,
)
from tests.reference.perturbations.change import again, along
from training.data.draws import filmed, random_footage
from training.data.sources import clips_of
from training.simulator import random_golfer, random_swing
from training.simulator.other_motions import Standing, Throwing, Walking

_SEED: Final = 77
_SIMULATED_GOLFERS: Final = 60
_MAKES: Final = ("joint angles", "keyed")
_SIMULATED_WEIGHT: Final = 0.25
_STRENGTH: Final = 0.3
"""Inverse strength of the ridge, as scikit-learn has it."""
_NEAR_FRAMES: Final = 3
_NEAR_SECONDS: Final = 0.25
_LEGS: Final = [p for p in Point if "KNEE" in p.name or "ANKLE" in p.name]
_FEET: Final = [p for p in Point if "HEEL" in p.name or "TOE" in p.name]
_NOT_THE_PLAYER: Final = ("estimated_golf_clips golf-23",)
"""Golf clips in which the estimator follows something else than the player."""
_WRISTS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST]
_REAL: Final = ("Penn Action", "J-HMDB")
ONE_PLACE: Final = "both wrists on one place"
SLOWED: Final = "the fall in slow motion"
TWICE: Final = "twice in one film"
_SLOWED: Final = (2.0, 4.0, 8.0)
"""Times that slow motion lasts longer."""
_BACK: Final = (0.7, 2.5)
"""Seconds in which a player goes back to do the same again."""
_COPY_WEIGHT: Final = defaultdict(lambda: 0.5, {SLOWED: 0.25, TWICE: 0.1})
"""A film that holds an action twice holds many falls, and bends the rest if they weigh more."""
_SAME_FALL: Final = 4
"""Frames between the ends of a fall in a clip and in its copy, at most."""
_FOLDS: Final = 10
_EDGES: Final = [-4.0, -2.0, -1.0, 0.0, LIKELY_GOLF, 1.0, 2.0, 4.0]


@dataclass(frozen=True)
class Example:
    """One fall of the hands in a clip; ``copy`` names what was changed, if anything."""

    source: str
    clip: str
    action: str
    golf: bool
    copy: str
    values: FloatArray


@dataclass(frozen=True)
class Fit:
    """A logistic function of the traits."""

    usual: FloatArray
    spread: FloatArray
    weight: FloatArray
    offset: float

    def log_odds(self, values: FloatArray) -> FloatArray:
        """Of falls with traits of shape (n, n_traits), shape (n,)."""
        return _away(values, self.usual, self.spread) @ self.weight + self.offset


def _away(values: FloatArray, usual: FloatArray, spread: FloatArray) -> FloatArray:
    return np.nan_to_num(np.clip((values - usual) / spread, -3.0, 3.0))


def examples() -> list[Example]:
    """Every fall of the hands in every clip, and in the copies."""
    rng = np.random.default_rng(0)
    found = [
        e for name in (*GOLF, *OTHER) for clip in read(name) for e in _of_clip(name, clip, rng)
    ]
    return found + list(_simulated(np.random.default_rng(_SEED)))


def fit(chosen: list[Example]) -> Fit:
    """Fit the weights; golf and other actions weigh the same in all."""
    values = np.array([e.values for e in chosen])
    golf = np.array([e.golf for e in chosen])
    weight = np.array([_weight(e) for e in chosen])
    weight[golf] *= weight[~golf].sum() / weight[golf].sum()
    usual, spread = np.nanmedian(values[golf], axis=0), np.nanstd(values, axis=0) + 1e-9
    model = LogisticRegression(C=_STRENGTH, max_iter=5000)
    model.fit(_away(values, usual, spread), golf, sample_weight=weight)
    return Fit(usual, spread, model.coef_[0], float(model.intercept_[0]))


def _weight(example: Example) -> float:
    own = _SIMULATED_WEIGHT if example.source == "simulated" else 1.0
    return own * (_COPY_WEIGHT[example.copy] if example.copy else 1.0)


def _of_clip(name: str, clip: dict[str, Any], rng: np.random.Generator) -> Iterator[Example]:
    source = "Penn Action" if name.endswith("_2") else "J-HMDB"
    action = action_of(name, clip)
    whole = recording(clip)
    tracks = _tracks(whole)
    if tracks is None or f"{name} {clip['id']}" in _NOT_THE_PLAYER:
        return
    originals = falls(tracks)
    swings = _swings(name, clip, tracks, originals) if action == "golf" else []
    labels = [(f, f in swings) for f in originals if action != "golf" or f in swings]
    about = (source, f"{name} {clip['id']}", action)
    for fall, golf in labels:
        yield Example(*about, golf, "", traits(tracks, fall))
    for kind, copy, at in _copies(whole, [fall for fall, _ in labels], rng):
        changed = _tracks(copy)
        for fall in falls(changed) if changed else ():
            same = [g for f, g in labels if _close(f, fall, at)]
            if same and changed:
                yield Example(*about, same[0], kind, traits(changed, fall))
    if action != "golf":
        twice = _tracks(again(whole, float(rng.uniform(*_BACK))).recording)
        for fall in falls(twice) if twice else ():
            assert twice is not None
            yield Example(*about, False, TWICE, traits(twice, fall))


def _swings(name: str, clip: dict[str, Any], tracks: Tracks, found: list[Fall]) -> list[Fall]:
    """The falls that lie where the clip's events lie, or the deepest where these aren't known."""
    events = {e["id"]: e for e in read(EVENTS.get(name, "golf_events"))}
    event = events.get(clip["id"]) if clip.get("same_clip_as_annotated", True) else None
    if event is None:
        depth = [tracks.height[f.top] - tracks.height[f.low] for f in found]
        return [found[int(np.argmax(depth))]] if found else []
    return [f for f in found if _within(f.top, event["top"]) and _within(f.low, event["impact"])]


def _within(frame: int, window: list[int]) -> bool:
    return window[0] - _NEAR_FRAMES <= frame <= window[1] + _NEAR_FRAMES


def _close(one: Fall, other: Fall, at: FloatArray) -> bool:
    return bool(max(abs(at[one.top] - other.top), abs(at[one.low] - other.low)) <= _SAME_FALL)


def _copies(
    whole: SwingRecording, found: list[Fall], rng: np.random.Generator
) -> Iterator[tuple[str, SwingRecording, FloatArray]]:
    """What is changed, the clip so changed, and where in it each frame of the clip is."""
    own = np.arange(len(whole.times), dtype=float)
    points, sure = whole.points.copy(), whole.confidence.copy()
    points[:, [*_LEGS, *_FEET]], sure[:, [*_LEGS, *_FEET]] = np.nan, 0.0
    yield "no legs", dataclasses.replace(whole, points=points, confidence=sure), own
    sure = whole.confidence.copy()
    sure[:, _WRISTS] = np.minimum(sure[:, _WRISTS], 0.5)
    yield "wrists unsure", dataclasses.replace(whole, confidence=sure), own
    points = whole.points.copy()
    points[:, _WRISTS[0]] = points[:, _WRISTS[1]]
    yield ONE_PLACE, dataclasses.replace(whole, points=points), own
    for fall in found:
        late = int(rng.integers(fall.start, max(fall.start + 1, (fall.start + 3 * fall.top) // 4)))
        early = int(rng.integers(min(fall.low + 2, fall.end), fall.end + 1)) + 1
        for first, last in ((late, len(whole.times)), (0, early)):
            if last - first >= 12:
                yield "cut", _cut(whole, first, last), own - first
        falling = (own >= fall.top) & (own < fall.low)
        pace = np.where(falling, rng.choice(_SLOWED), 1.0)
        played = np.concatenate([[0.0], np.cumsum(pace[:-1])])
        yield SLOWED, along(whole, np.interp(np.arange(played[-1] + 0.5), played, own)), played


def _cut(whole: SwingRecording, first: int, last: int) -> SwingRecording:
    kept = slice(first, last)
    return dataclasses.replace(
        whole,
        points=whole.points[kept],
        confidence=whole.confidence[kept],
        times=whole.times[kept] - whole.times[first],
    )


def _simulated(rng: np.random.Generator) -> Iterator[Example]:
    for number in range(_SIMULATED_GOLFERS):
        swings = chain.from_iterable(clips_of(make, "train", _SEED, number) for make in _MAKES)
        for k, clip in enumerate(swings):
            truth = clip.motion.position_times - clip.start
            yield from _of_simulated(clip.recording, f"{number}-{k}", truth)
        golfer = random_golfer(rng)
        strokes = [
            random_swing(rng, length=float(rng.uniform(*s))) for s in ((0.25, 0.4), (0.45, 0.6))
        ]
        view = list(View)[number % 2]
        for stroke in strokes:
            seen, start = filmed(stroke, view, random_footage(rng), rng)
            yield from _of_simulated(seen, f"stroke {number}", stroke.position_times - start)
        for motion in (Standing(golfer), Walking(golfer), Throwing(golfer)):
            seen, _ = filmed(motion, view, random_footage(rng), rng)
            yield from _of_simulated(seen, f"{type(motion).__name__} {number}", None)


def _of_simulated(seen: SwingRecording, name: str, truth: FloatArray | None) -> Iterator[Example]:
    tracks = _tracks(seen)
    for fall in falls(tracks) if tracks else ():
        assert tracks is not None
        moments = seen.times[[fall.top, fall.low]]
        golf = truth is not None and bool((abs(moments - truth[[3, 6]]) < _NEAR_SECONDS).all())
        if golf or truth is None:
            action = "golf" if golf else "other"
            yield Example("simulated", name, action, golf, "", traits(tracks, fall))


def _tracks(seen: SwingRecording) -> Tracks | None:
    scale = body_height(seen.points)
    if not np.isfinite(scale) or scale <= 0:
        return None
    clean = condition(seen.points, seen.confidence, seen.times, scale=scale)
    return follow(clean.points * np.array([1.0, -1.0]) / scale, seen.times, clean.confidence)


Likely = dict[tuple[str, str], float]
"""The highest log odds of any fall in a clip, by clip and action."""


def _judged(fitted: Fit, held_out: list[Example], copy: str = "") -> Likely:
    best: Likely = defaultdict(lambda: -np.inf)
    for e in held_out:
        if e.copy == copy:
            key = (e.clip, e.action)
            best[key] = max(best[key], float(fitted.log_odds(e.values[None])[0]))
    return best


def _in_folds(everything: list[Example], copy: str = "") -> Likely:
    """Every real clip judged by a fit on nine tenths of the clips, it and its twin not among them:
    what is to be expected of another clip of the same sources."""
    real, simulated = _source(everything, *_REAL), _source(everything, "simulated")
    clips = sorted({_number(e) for e in real})
    fold = {c: k % _FOLDS for k, c in enumerate(np.random.default_rng(0).permutation(clips))}
    best: Likely = {}
    for k in range(_FOLDS):
        fitted = fit([e for e in real if fold[_number(e)] != k] + simulated)
        best |= _judged(fitted, [e for e in real if fold[_number(e)] == k], copy)
    return best


def _number(example: Example) -> str:
    """Of a clip, the same annotated by hand and through the estimator."""
    return example.clip.split()[-1]


def _told(best: Likely) -> str:
    """What is taken for golf, by clip; clips in which no fall was found are in no count."""
    golf = np.array([v for (_, a), v in best.items() if a == "golf"])
    bats = np.array([v for (_, a), v in best.items() if a in BATS])
    rest = np.array([v for (_, a), v in best.items() if a != "golf" and a not in BATS])
    return (
        f"golf {(golf >= LIKELY_GOLF).sum()} of {len(golf)}, "
        f"bat swings {(bats >= LIKELY_GOLF).sum()} of {len(bats)}, "
        f"other actions {(rest >= LIKELY_GOLF).sum()} of {len(rest)} in which the hands fall"
    )


def _source(all_of: list[Example], *names: str) -> list[Example]:
    return [e for e in all_of if e.source in names]


def main() -> int:
    """Measure both ways and print the table."""
    if not available():
        print(f"No reference data in {FOLDER}; set SWING_REFERENCE_DIR.", file=sys.stderr)
        return 2
    everything = examples()
    for one, other in (("Penn Action", "J-HMDB"), ("J-HMDB", "Penn Action")):
        fitted = fit(_source(everything, one, "simulated"))
        print(f"fitted on {one}, on {other}: {_told(_judged(fitted, _source(everything, other)))}")
    best = _in_folds(everything)
    print(f"ten-fold by clip: {_told(best)}")
    for copy in (ONE_PLACE, SLOWED, TWICE):
        print(f"  {copy}: {_told(_in_folds(everything, copy))}")
    for what, golf in (("golf", True), ("other actions", False)):
        odds = [value for (_, action), value in best.items() if (action == "golf") is golf]
        counts, _ = np.histogram(odds, [-np.inf, *_EDGES, np.inf])
        print(f"  {what:14s}log odds up to {_EDGES} and above: {counts.tolist()}")
    final = fit(everything)
    print(f"_OFFSET = {final.offset:.2f}")
    for k, trait in enumerate(TRAITS):
        numbers = (final.usual[k], final.spread[k], final.weight[k])
        print(f"{trait.name:22s}" + "  ".join(f"{n:8.3f}" for n in numbers))
    return 0


if __name__ == "__main__":
    sys.exit(main())
