"""What figures count."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm
from sklearn.metrics import roc_auc_score

from service.analysis.types import Status, View
from training.data.dataset import FAULT_NAMES
from training.data.truth import marked
from training.evaluation.sources.rows import Row, Value, Verdict
from training.evaluation.sources.tallies import tally, tally_verdicts

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
    status: Status,
    margin: float,
    *,
    marked: bool = False,
    shown: bool = True,
    clean: bool = False,
    confidence: float = 0.9,
    chance: float = 0.5,
) -> tuple[Row, Verdict]:
    told = Verdict("handle_rise", status, margin, chance, confidence, marked, shown, against=False)
    return replace(ROW, clean=clean), told


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


def test_a_decided_verdict_is_wrong_on_the_other_side_of_the_threshold_and_clear_beyond_the_zone():
    told = tally_verdicts(
        [
            verdict(Status.PRESENT, 2.0),
            verdict(Status.ABSENT, -0.5),
            verdict(Status.ABSENT, 0.5),
            verdict(Status.PRESENT, -1.5),
            verdict(Status.ABSENT, -3.0),
            verdict(Status.UNCERTAIN, -3.0),
            verdict(Status.NOT_ASSESSABLE, -3.0),
        ],
        clean=0,
    )
    assert (told.decided, told.wrong) == (5, pytest.approx(2 / 5))
    assert (told.decided_clear, told.wrong_clear) == (3, pytest.approx(1 / 3))
    assert told.assessable == pytest.approx(6 / 7)


def test_recall_counts_what_is_uncertain_as_not_found_and_leaves_out_what_is_not_judged():
    told = tally_verdicts(
        [
            verdict(Status.PRESENT, 2.0),
            verdict(Status.UNCERTAIN, 2.0),
            verdict(Status.NOT_ASSESSABLE, 2.0),
            verdict(Status.PRESENT, 0.5),
            verdict(Status.ABSENT, -2.0),
        ],
        clean=0,
    )
    assert (told.present, told.recall) == (3, pytest.approx(2 / 3))
    assert told.recall_clear == pytest.approx(0.5)


def test_a_false_alarm_is_a_fault_told_of_a_clean_swing_that_has_it_not():
    told = tally_verdicts(
        [
            verdict(Status.PRESENT, -2.0, clean=True),
            verdict(Status.ABSENT, -2.0, clean=True),
            verdict(Status.PRESENT, -2.0),
            verdict(Status.UNCERTAIN, -2.0, clean=True),
        ],
        clean=4,
    )
    assert told.alarms == pytest.approx(0.25)
    assert np.isnan(tally_verdicts([], clean=0).alarms)


def test_what_is_right_where_it_is_sure_is_of_the_decided_and_sure_alone():
    told = tally_verdicts(
        [
            verdict(Status.PRESENT, 2.0, confidence=0.95),
            verdict(Status.ABSENT, -2.0, confidence=0.97),
            verdict(Status.PRESENT, -2.0, confidence=0.99),
            verdict(Status.PRESENT, -2.0, confidence=0.94),
            verdict(Status.UNCERTAIN, -2.0, confidence=0.99),
        ],
        clean=0,
    )
    assert (told.sure, told.sure_right) == (3, pytest.approx(2 / 3))


def test_the_area_under_the_curve_is_that_of_the_library():
    rng = np.random.default_rng(3)
    margins, chances = rng.normal(size=40), rng.integers(0, 9, 40) / 9
    told = tally_verdicts(
        [verdict(Status.PRESENT, m, chance=c) for m, c in zip(margins, chances, strict=True)], 0
    )
    assert told.auroc == pytest.approx(roc_auc_score(margins > 0.0, chances))


def test_positions_are_near_within_33_ms_and_of_rehearsals_within_a_share_of_their_length():
    late = np.zeros(10)
    late[[0, 1, 2, 3]] = [0.032, -0.034, 0.06, np.nan]
    reached = np.ones(10)
    reached[9] = 0
    quick = replace(ROW, late=late, reached=reached)
    slow = replace(quick, rehearsal=True, length=4.0)
    told = tally([quick, slow, replace(quick, found=False)])
    assert told.clips == 3
    assert told.found == pytest.approx(2 / 3)
    assert set(told.placed) == {"club", "rehearsal"}
    np.testing.assert_array_equal(told.placed["club"], [1, 0, 0, 0, 1, 1, 1, 1, 1, np.nan])
    np.testing.assert_array_equal(told.placed["rehearsal"], [1, 1, 1, 0, 1, 1, 1, 1, 1, np.nan])
    np.testing.assert_allclose(told.late["club"][:4], [0.032, -0.034, 0.06, np.nan])


def test_a_measure_s_bias_spread_and_cover_are_those_of_its_errors():
    values = tuple(Value("turn", 40.0 + off, 2.0, 40.0, degrees=False) for off in (-1, 1, 2, 3, 9))
    (told,) = tally([replace(ROW, values=values)]).measures
    assert (told.measure, told.n, told.bias, told.stated) == ("turn", 5, 2.0, 2.0)
    assert told.coverage == pytest.approx(0.8)
    assert told.spread == pytest.approx(1.0 / norm.ppf(0.75))  # the median distance is 1
    assert np.isnan(told.grey)


def test_an_angle_is_off_by_the_short_way_round():
    assert Value("turn", 179.0, 1.0, -179.0, degrees=True).off == pytest.approx(-2.0)
    assert Value("gap", 179.0, 1.0, -179.0, degrees=False).off == pytest.approx(358.0)
