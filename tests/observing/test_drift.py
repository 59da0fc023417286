from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import update

from service.__main__ import main
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.estimates import USUAL, Range
from service.analysis.judging.features import FEATURE_NAMES, feature_vector
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.types import View
from service.observing import drift
from service.observing.drift import CHANGED, FEWEST, WINDOW, Drift, stability_index
from service.records import Behalf, Database
from service.records.access import academies
from service.records.tables import SwingRow
from service.settings import Settings
from tests.records.kept import keep, keep_lesson, keep_player, still_body, swing_body
from training.data.sources import clips_of

N = len(FEATURE_NAMES)
SHIFTED = FEATURE_NAMES.index("clip.frames_down")


def normal_drift() -> tuple[Drift, np.random.Generator]:
    """Of features drawn from a normal distribution in training."""
    columns = np.arange(N, dtype=np.intp)
    bound = np.full(N, 2.3263, dtype=np.float32)  # the 99th percentile of the normal distribution
    known = Range(columns, -bound, bound, 0.1)
    return Drift({View.FACE_ON: known}), np.random.default_rng(4)


def add(watched: Drift, rng: np.random.Generator, n: int, shift: float = 0.0) -> None:
    for _ in range(n):
        vector = rng.normal(size=N).astype(np.float32)
        vector[SHIFTED] += shift
        watched.add(View.FACE_ON, vector)


def test_swings_like_those_of_training_do_not_drift():
    watched, rng = normal_drift()
    add(watched, rng, 500)
    assert {w.group for w in watched.worst()} == {name.partition(".")[0] for name in FEATURE_NAMES}
    assert max(w.index for w in watched.worst()) < CHANGED


def test_a_feature_that_leaves_its_range_is_named():
    watched, rng = normal_drift()
    add(watched, rng, 300, shift=2.0)
    worst = max(watched.worst(), key=lambda w: w.index)
    assert worst.index > CHANGED
    assert (worst.group, worst.feature) == ("clip", "clip.frames_down")


def test_what_is_long_past_is_forgotten():
    watched, rng = normal_drift()
    add(watched, rng, 300, shift=2.0)
    add(watched, rng, int(5 * WINDOW))
    assert max(w.index for w in watched.worst()) < CHANGED


def test_nothing_is_said_of_few_swings_or_of_what_was_never_seen():
    watched, rng = normal_drift()
    add(watched, rng, int(FEWEST) - 1, shift=9.0)
    assert watched.worst() == []
    assert np.isnan(stability_index(np.zeros((2, 3)))).all()


def test_missing_features_are_not_counted():
    watched, _ = normal_drift()
    for _ in range(200):
        watched.add(View.FACE_ON, np.full(N, np.nan, dtype=np.float32))
    assert watched.worst() == []


def test_the_served_ranges_are_those_percentiles():
    assert USUAL == (1.0, 99.0)
    ranges = Classifier.load(Settings().model_dir).ranges
    assert set(ranges) == set(View)


@pytest.mark.parametrize("slow", [False, True], ids=["as they are", "at a third of the frames"])
def test_clips_of_a_shifted_setting_drift_in_how_they_were_filmed(
    slow: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drift, "FEWEST", 12.0)
    seen = []
    classifier = Classifier.load(Settings().model_dir)
    watched = Drift(classifier.ranges)
    for vector in _vectors(slow):
        watched.add(View.FACE_ON, vector)
        seen.append(vector[SHIFTED])
    found = {w.group: w for w in watched.worst()}
    assert len(seen) >= 14
    if slow:
        assert found["clip"].index > CHANGED
    else:
        down = classifier.ranges[View.FACE_ON]
        low = down.low[list(down.columns).index(SHIFTED)]
        assert np.mean(np.array(seen) < low) < 0.15


def _vectors(slow: bool) -> list[np.ndarray]:
    vectors = []
    for number in range(18):
        clip = next(
            c for c in clips_of("joint angles", "test", 1, number) if c.view is View.FACE_ON
        )
        recording = clip.recording
        if slow:
            keep = slice(None, None, max(1, round(recording.times.size / 40)))
            recording = replace(
                recording,
                points=recording.points[keep],
                confidence=recording.confidence[keep],
                times=recording.times[keep],
            )
        swing = measure_swing(recording)
        if isinstance(swing, MeasuredSwing) and swing.view.value is View.FACE_ON:
            vectors.append(feature_vector(swing))
    return vectors


def test_swings_of_several_days_are_held_against_those_of_training_by_a_command(
    database: Database,
    database_url: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("SWING_DATABASE_URL", database_url)
    assert main(["drift"]) == 0
    assert capsys.readouterr().out == "no swing came in and was kept in the last 30 days\n"
    with database.writing() as session:
        others = academies.add(session, "Others")
    kept: list[str] = []
    for whose in (database, database.on_behalf(Behalf(others.id))):
        lesson = keep_lesson(whose, keep_player(whose))
        bodies = (swing_body(1), swing_body(2), still_body())
        kept += [keep(whose, lesson, body).id for body in bodies]
    with database.connected() as connection:
        connection.execute(
            update(SwingRow)
            .where(SwingRow.id == kept[0])
            .values(created=datetime.now(UTC) - timedelta(days=3))
        )
    assert main(["drift"]) == 0
    told = capsys.readouterr().out
    assert "face_on: 4 swings of 2 players on 2 days, 0% unlike those of training" in told
    assert "of fewer than 5 players" in told
    assert "the index is told of 100 swings and more" in told
    assert main(["drift", "--days", "1"]) == 0
    assert "face_on: 3 swings of 2 players on 1 days" in capsys.readouterr().out
    assert main(["drift", "--most", "1"]) == 0
    assert "face_on: 1 swings of 1 players" in capsys.readouterr().out


def test_over_several_days_each_swing_counts_alike() -> None:
    columns = np.arange(N, dtype=np.intp)
    bound = np.full(N, 1.0, dtype=np.float32)
    watched = Drift({View.FACE_ON: Range(columns, -bound, bound, 0.1)}, window=np.inf)
    for value in (2.0, *[0.0] * 999):
        watched.add(View.FACE_ON, np.full(N, value, dtype=np.float32))
    worst = watched.worst()[0]
    assert (worst.below, worst.above) == (0.0, 0.001)
