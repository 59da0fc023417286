"""How long one analysis takes: ``python -m tests.bench.analysis_time``.

A 240-frame COCO-17 clip, the analysis itself without HTTP, rules and models, on one core.
"""

from __future__ import annotations

import os
import statistics
import time

import numpy as np

from service.analysis.analyse import analyse
from service.analysis.pose.layouts import LAYOUTS
from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import SwingRecording, View
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.swings import camera
from training.simulator import EstimatorNoise, Golfer, film, swing_motion

FRAMES = 240
RUNS = 200


def recording(view: View) -> SwingRecording:
    """A noisy 240-frame clip with the joints of COCO-17 and no club."""
    motion = swing_motion(Golfer())
    times = np.linspace(0.0, motion.duration, FRAMES)
    rng = np.random.default_rng(7)
    clip = film(motion, camera(view), times=times, noise=EstimatorNoise(gaps=0.0), rng=rng)
    kept = [ANATOMICAL.index(joint) for joint in LAYOUTS["coco_17"].joints if joint]
    lost = np.setdiff1d(np.arange(len(ANATOMICAL)), kept)
    clip.points[:, lost], clip.confidence[:, lost] = np.nan, 0.0
    return clip


def main() -> None:
    """Print the median and the 95th percentile for both views."""
    os.sched_setaffinity(0, {0})
    model = Analyser.of(Settings()).classifier
    for view in View:
        clip = recording(view)
        analyse(clip, model)
        spent = []
        for _ in range(RUNS):
            start = time.perf_counter()
            analyse(clip, model)
            spent.append(1e3 * (time.perf_counter() - start))
        ninety_fifth = statistics.quantiles(spent, n=20)[-1]
        print(
            f"{view.value:14s} {FRAMES} frames, COCO-17: median {statistics.median(spent):.1f} ms,"
            f" 95th percentile {ninety_fifth:.1f} ms over {RUNS} runs"
        )


if __name__ == "__main__":
    main()
