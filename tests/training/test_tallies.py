"""What figures count."""

import numpy as np
import pytest

from service.analysis.types import Status, View
from training.data.truth import marked
from training.evaluation.sources.rows import Row, Verdict
from training.evaluation.sources.tallies import FAULT_NAMES, tally_verdicts

ROW = Row(
    view=View.FACE_ON,
    setting="",
    grade="club",
    clean=False,
    rehearsal=False,
    found=True,
    verdicts=(),
    values=(),
    late=np.zeros(10),
    reached=np.ones(10),
    length=1.2,
    estimated=False,
)


def verdict(
    status: Status, margin: float, *, marked: bool = False, shown: bool = True
) -> tuple[Row, Verdict]:
    return ROW, Verdict("handle_rise", status, margin, 0.5, 0.9, marked, shown, against=False)


def test_what_is_clearly_there_and_not_assessable_counts_against_what_is_told():
    told = tally_verdicts(
        [
            verdict(Status.PRESENT, 2.0),
            verdict(Status.NOT_ASSESSABLE, 3.0),
            verdict(Status.NOT_ASSESSABLE, 0.5),
            verdict(Status.NOT_ASSESSABLE, -2.0),
        ],
        clean=0,
    )
    assert told.recall_clear == 1.0
    assert told.there_clear == 2
    assert told.told_clear == pytest.approx(0.5)


def test_of_marked_faults_those_count_that_the_footage_shows():
    told = tally_verdicts(
        [
            verdict(Status.PRESENT, 4.0, marked=True),
            verdict(Status.NOT_ASSESSABLE, 4.0, marked=True),
            verdict(Status.NOT_ASSESSABLE, 4.0, marked=True, shown=False),
            verdict(Status.PRESENT, 2.0),
        ],
        clean=0,
    )
    assert told.marked == 2
    assert told.told_marked == pytest.approx(0.5)


def test_a_fault_is_marked_where_every_criterion_is():
    truth = {"trail_heel_height": 6.0, "trail_heel_outward": 4.0}
    place = FAULT_NAMES.index("trail_heel_kick")
    assert marked(truth, View.FACE_ON)[place]
    assert not marked({**truth, "trail_heel_outward": 3.0}, View.FACE_ON)[place]
    assert not marked({"trail_heel_height": 6.0}, View.FACE_ON).any()
