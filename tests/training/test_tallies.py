"""What figures count."""

import numpy as np
import pytest

from service.analysis.types import Status, View
from training.evaluation.sources.rows import Row, Verdict
from training.evaluation.sources.tallies import tally_verdicts

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


def verdict(status: Status, margin: float) -> tuple[Row, Verdict]:
    return ROW, Verdict("handle_rise", status, margin, 0.5, 0.9, against=False)


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
