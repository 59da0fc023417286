"""The pose model on a real film: people who walk, and no swing.

`.ci/film` fetches the film, which a general package for two-dimensional kinematics carries as its
demonstration, and says where it is in SWING_TEST_FILM.
"""

from __future__ import annotations

import gzip
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("av", reason="PyAV is not installed; the extra video brings it")
pytest.importorskip("mediapipe", reason="the pose model is not installed; .ci/film installs it")

from service.__main__ import main
from tests.attack.test_telemetry import HELPERS, ROOT, WATCHED

FILM = os.environ.get("SWING_TEST_FILM", "")

pytestmark = pytest.mark.skipif(not FILM, reason="SWING_TEST_FILM is not set; .ci/film fetches one")

_WORK = """
from pathlib import Path
from service.film.container import frames_of, look_into
from service.film.pose_model import pose_model
film = look_into(Path({film!r}))
with pose_model() as model:
    found = [model.landmarks(f.image) for f in frames_of(film, 960, range(40, 50, 3))]
assert (found[-1] == found[-1]).all(), "nobody was found"
"""


def test_a_film_of_people_walking_holds_no_swing_and_its_joints_are_where_they_are_seen(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["analyse", FILM, "--out", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert told.startswith("No golf swing found. ")
    assert "several people" in " ".join(told.split())  # the other one walks by

    request = json.loads(gzip.decompress((tmp_path / "demo.mp4.request.json.gz").read_bytes()))
    seen = [frame for frame in request["keypoints"] if frame[0] is not None]
    assert len(request["keypoints"]) == 230
    assert np.allclose(np.diff(request["timestamps"]), 1 / 30, atol=1e-5)
    assert len(seen) > 0.9 * 230
    joints = np.array(request["keypoints"][46])[[0, 15, 16, 27, 28], :2]
    # Read off that frame by eye: a man on a roof with his arms spread, his left to the right.
    by_eye = [(632, 86), (765, 214), (524, 216), (666, 420), (620, 420)]
    assert np.hypot(*(joints - by_eye).T).max() < 30.0

    page = (tmp_path / "demo.mp4.html").read_text(encoding="utf-8")
    assert "No golf swing found." in page
    assert page.count('href="data:image/jpeg;base64,') == 4


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="no /proc to look into")
def test_the_pose_model_opens_no_socket_and_writes_no_file(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    environment = {
        **{k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "ORT_"))},
        "HOME": str(home),
        "TMPDIR": str(home),
        "PYTHONDONTWRITEBYTECODE": "1",
        "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]),
    }
    script = HELPERS + WATCHED.format(work=_WORK.format(film=FILM))
    ran = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, env=environment, capture_output=True, text=True
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert list(home.rglob("*")) == []
