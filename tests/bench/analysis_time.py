"""How long one analysis takes: ``python -m tests.bench.analysis_time``.

A 240-frame COCO-17 clip, the analysis itself without HTTP, rules and models, on one core; one swing
after the other, and many in one call from arrays in memory. Told in processor time.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable

import numpy as np

from service.analysis.analyse import analyse, analyse_many
from service.analysis.pose.layouts import LAYOUTS
from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import SwingRecording, View
from service.settings import Settings
from service.use_cases.analyse import Analyser
from training.simulator import Camera, EstimatorNoise, Golfer, film, swing_motion

FRAMES = 240
RUNS = 200
MANY = 128
ROUNDS = 7


def recording(view: View) -> SwingRecording:
    """A noisy 240-frame clip with the joints of COCO-17 and no club."""
    motion = swing_motion(Golfer())
    times = np.linspace(0.0, motion.duration, FRAMES)
    rng = np.random.default_rng(7)
    clip = film(motion, Camera.standing(view), times=times, noise=EstimatorNoise(gaps=0.0), rng=rng)
    kept = [ANATOMICAL.index(joint) for joint in LAYOUTS["coco_17"].joints if joint]
    lost = np.setdiff1d(np.arange(len(ANATOMICAL)), kept)
    clip.points[:, lost], clip.confidence[:, lost] = np.nan, 0.0
    return clip


def main() -> None:
    """Print the median and the 95th percentile for both views, and the rate of many."""
    os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    model = Analyser.of(Settings()).classifier
    clips = {view: recording(view) for view in View}
    for view, clip in clips.items():
        spent = sorted(milliseconds(lambda clip=clip: analyse(clip, model)) for _ in range(RUNS))
        print(
            f"{view.value:14s} {FRAMES} frames, COCO-17: median {statistics.median(spent):.1f} ms,"
            f" 95th percentile {statistics.quantiles(spent, n=20)[-1]:.1f} ms over {RUNS} runs"
        )
    many = [*clips.values()] * (MANY // len(clips))
    spent = [milliseconds(lambda: analyse_many(many, model)) / len(many) for _ in range(ROUNDS)]
    print(
        f"many swings    {len(many)} at once, both views: median {statistics.median(spent):.1f} ms"
        f" a swing, {1e3 / statistics.median(spent):.0f} swings/s, over {ROUNDS} rounds"
    )


def milliseconds(work: Callable[[], object]) -> float:
    """Processor time that some work takes, which other processes disturb less than the clock."""
    start = time.process_time()
    work()
    return 1e3 * (time.process_time() - start)


if __name__ == "__main__":
    main()
