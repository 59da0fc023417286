"""Each column holds what its name says, in a swing of which no two values are alike."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from service.analysis.types import (
    Evidence,
    Finding,
    Grade,
    Handedness,
    Judged,
    Measurement,
    Moment,
    Position,
    Source,
    Status,
    StoppedAt,
    View,
)
from service.archive.rows import Kept, Rows
from service.intake.many.reading import Origin, ReadSwing
from tests.lessons.made_up import swing

FINDING = Finding(
    "long_backswing", "Long", Status.PRESENT, 0.81, 0.82, 7.3, "degrees", Grade.MILD,
    Moment(41, 0.83, 4.5), None,
    (Evidence("arm", "Arm", "degrees", 91.0, 2.0, 82.0, "above", "common practice"),),
    chance=0.84,
)  # fmt: skip
MEASURE = Measurement("arm", "Arm", "degrees", "P4", 91.0, 2.0, None, 93.0)
ANALYSIS = replace(
    swing(findings=[FINDING], measures=[MEASURE]),
    view=Judged(View.FACE_ON, 0.91, given=True),
    handedness=Judged(Handedness.LEFT, 0.92, given=False),
    positions=tuple(
        Position(n, Source.OBSERVED, n + 0.5, 60.0 * n, n / 100, 0.9) for n in range(1, 11)
    ),
    stopped_at=StoppedAt(3.5, 3.75, 0.25),
    times=np.arange(5.0),
)


def rows_of() -> dict[str, dict[str, Any]]:
    """The one row of each table."""
    rows = Rows()
    request = SimpleNamespace(client_reference="one")
    read = ReadSwing(Origin("a.json", 3), cast(Any, request), cast(Any, None), {"coach": "Ada"})
    rows.add(read, ANALYSIS, Kept("id", "why"))
    return {name: table.to_pylist()[0] for name, table in rows.tables().items() if len(table)}


def test_each_column_of_a_swing_holds_what_its_name_says() -> None:
    row = rows_of()["swings"]
    expected = {
        **{"path": "a.json", "line": 3, "client_reference": "one", "swing_found": True},
        **{"view": "face_on", "view_confidence": 0.91, "view_given": True},
        **{"handedness": "left", "handedness_confidence": 0.92, "handedness_given": False},
        **{"intent": "full_speed", "club": None, "frames": 5, "frame_rate": 120.0},
        **{f"p{n}_s": n + 0.5 for n in range(1, 11)},
        **{f"p{n}_uncertainty_s": n / 100 for n in range(1, 11)},
        **{f"p{n}_source": "observed" for n in range(1, 11)},
        **{"asked_stop_at": 3.5, "stopped_at": 3.75, "stopped_at_uncertainty": 0.25},
        **{"kept_as": "id", "not_kept": "why", "carried": [("coach", "Ada")], "remarks": []},
    }
    assert {name: row[name] for name in expected} == expected


def test_each_column_of_a_finding_and_of_a_measure_holds_what_its_name_says() -> None:
    found, measure = rows_of()["findings"], rows_of()["measures"]
    assert found | {"swing": None} == {
        **{"swing": None, "fault": "long_backswing", "status": "present", "reason": None},
        **{"score": 0.81, "confidence": 0.82, "chance": 0.84},
        **{"severity": 7.3, "severity_unit": "degrees", "grade": "mild"},
        **{"shows_most_frame": 41, "shows_most_s": 0.83, "shows_most_position": 4.5},
        "evidence": [
            {"measure": "arm", "value": 91.0, "uncertainty": 2.0, "threshold": 82.0}
            | {"direction": "above"}
        ],
    }
    told = {name: measure[name] for name in ("value", "uncertainty", "as_measured")}
    assert told == {"value": 91.0, "uncertainty": 2.0, "as_measured": 93.0}
