"""No verdict goes against the figures printed beside it, whoever swings and whatever judges."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.analysis.analyse import analyse
from service.analysis.faults import CATALOGUE
from service.analysis.judging.calibration import LogisticCalibration
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.estimates import Estimate, with_estimates
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.measures.definition import MeasuredValue
from service.analysis.types import Finding, Status, View
from tests.analysis.judging.one import finding_of
from tests.reference import clips, real_swings
from tests.taking_turns import made_once
from training.data.sources import SOURCES, clips_of
from training.evaluation.card import MODELS
from training.evaluation.sources.rows import against_evidence


@cache
def served() -> Classifier:
    return Classifier.load(MODELS)


def beyond(finding: Finding) -> list[float]:
    """How far each value lies on the side of the fault, in its own uncertainty."""
    return [e.excess / e.uncertainty for e in finding.evidence]


def check(finding: Finding) -> None:
    """Present: every value at or beyond its threshold. Absent: one short of it."""
    assert not against_evidence(finding)
    if finding.status is Status.PRESENT:
        assert min(beyond(finding)) > 0.0
    if finding.status is Status.ABSENT:
        assert min(beyond(finding)) < 0.0


@pytest.mark.parametrize("source", SOURCES)
def test_on_every_make_of_golfer_by_rules_alone_and_by_what_is_learned(source):
    some = [clip for number in range(7) for clip in clips_of(source, "test", 77, number)]
    for classifier in (None, served()):
        told = [f for clip in some for f in analyse(clip.recording, classifier).findings]
        assert {f.status for f in told} >= {Status.PRESENT, Status.ABSENT}
        for finding in told:
            check(finding)


@pytest.mark.reference
@pytest.mark.skipif(not clips.available(), reason="set SWING_REFERENCE_DIR to the annotated clips")
def test_no_verdict_on_a_real_swing_goes_against_its_evidence():
    golf = made_once("real swings", real_swings.swings)
    told = [finding for swing in golf for finding in swing.analysis.findings]
    assert {f.status for f in told} >= {Status.PRESENT, Status.ABSENT}
    for finding in told:
        check(finding)


@cache
def _swing(view: View) -> MeasuredSwing:
    clip = next(c for c in clips_of("keyed", "test", 5, 0) if c.view is view)
    swing = measure_swing(clip.recording)
    assert isinstance(swing, MeasuredSwing)
    return swing


@settings(max_examples=200)
@given(
    st.sampled_from(list(CATALOGUE.values())),
    st.sampled_from(list(View)),
    st.lists(st.floats(-4.0, 4.0), min_size=2, max_size=2),
    st.floats(0.01, 5.0),
    st.floats(0.3, 3.0),
)
def test_whatever_was_estimated_and_however_it_is_calibrated(
    definition, view, excesses, spread, slope
):
    """Excesses and spread in half-widths of the grey zone."""
    swing = _swing(view)
    estimates = {}
    for criterion, excess in zip(definition.criteria.get(view, ()), excesses, strict=False):
        found = swing.values[criterion.measure.name]
        if isinstance(found, MeasuredValue):
            side = 1.0 if criterion.excess(criterion.threshold + 1.0) > 0.0 else -1.0
            wanted = criterion.threshold + side * excess * criterion.grey
            estimates[criterion.measure.name] = Estimate(
                wanted - found.value, spread * criterion.grey
            )
    check(finding_of(definition, with_estimates(swing, estimates), LogisticCalibration(slope)))
