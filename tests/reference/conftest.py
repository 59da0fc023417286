import gzip
import json
from pathlib import Path

import numpy as np
import pytest

from service.analysis.pose.layouts import resolve, to_points
from service.analysis.types import SwingRecording

WALKING = Path(__file__).parents[1] / "data" / "walking_33_landmarks.json.gz"


@pytest.fixture(scope="session")
def walking_request():
    """A request as a pose estimator's output over a clip of a walk makes it."""
    return json.loads(gzip.decompress(WALKING.read_bytes()))


@pytest.fixture(scope="session")
def walking(walking_request):
    """The walk as a recording: image pixels, y down."""
    keypoints = np.array(walking_request["keypoints"])
    points, confidence = to_points(
        keypoints[..., :2], keypoints[..., 2], resolve(walking_request["layout"])
    )
    times = np.arange(len(points)) / walking_request["fps"]
    return SwingRecording(points, confidence, times)
