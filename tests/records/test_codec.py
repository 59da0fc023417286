from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest

from service.analysis.types import (
    Club,
    FootageQuality,
    Handedness,
    Intent,
    Judged,
    Measurement,
    Reason,
    SwingAnalysis,
    View,
)
from service.records.codec import decode, encode
from tests.records.kept import analysed, still_body, swing_body

ARRAYS = ("coordinate", "times")


def _decoded(text: bytes | str) -> SwingAnalysis:
    return decode(text, Intent.REHEARSAL, Club.WEDGE)  # neither is that of an encoded analysis


def _assert_equal(got: SwingAnalysis, wanted: SwingAnalysis) -> None:
    for field in dataclasses.fields(SwingAnalysis):
        if field.name in ARRAYS:
            np.testing.assert_array_equal(getattr(got, field.name), getattr(wanted, field.name))
        else:
            assert getattr(got, field.name) == getattr(wanted, field.name), field.name


@pytest.mark.parametrize("view", View)
def test_an_analysis_comes_back_equal_in_every_number(view: View) -> None:
    analysis = analysed(swing_body(3, view)).analysis
    assert analysis.swing_found
    assert np.isnan(analysis.coordinate).any()
    assert len(analysis.times) == len(analysis.coordinate)
    _assert_equal(_decoded(encode(analysis)), analysis)


def test_an_analysis_without_a_swing_comes_back_too() -> None:
    analysis = analysed(still_body()).analysis
    assert not analysis.swing_found
    _assert_equal(_decoded(encode(analysis)), analysis)


def test_members_come_back_as_the_types_that_they_were() -> None:
    analysis = _decoded(encode(analysed(swing_body()).analysis))
    assert analysis.view is not None
    assert isinstance(analysis.view.value, View)
    assert isinstance(analysis.findings, tuple)
    assert isinstance(analysis.positions[0].source, type(analysis.positions[0].source))
    assert analysis.coordinate.dtype == np.float64


def test_numbers_that_json_lacks_come_back() -> None:
    analysis = SwingAnalysis(
        swing_found=False,
        reason=Reason("none", "No swing."),
        view=Judged(View.FACE_ON, float("nan"), given=False),
        handedness=Judged(Handedness.LEFT, float("inf"), given=True),
        quality=FootageQuality(float("-inf"), {}),
    )
    got = _decoded(encode(analysis))
    assert got.view is not None
    assert got.handedness is not None
    assert np.isnan(got.view.confidence)
    assert (got.handedness.confidence, got.quality.frame_rate) == (np.inf, -np.inf)


def test_the_text_is_json_by_the_letter() -> None:
    json.loads(encode(analysed(swing_body()).analysis), parse_constant=pytest.fail)


def test_an_older_analysis_is_read_with_the_defaults_of_what_it_lacks() -> None:
    raw = json.loads(encode(analysed(swing_body()).analysis))
    for name in ("measures", "intent", "club", "times"):
        del raw[name]
    for finding in raw["findings"]:
        del finding["evidence"]
    analysis = _decoded(json.dumps(raw))
    assert (analysis.measures, analysis.intent, analysis.club) == (
        (),
        Intent.REHEARSAL,
        Club.WEDGE,
    )
    assert analysis.times.size == 0
    assert {finding.evidence for finding in analysis.findings} == {()}


def test_an_analysis_that_told_neither_intent_nor_club_has_those_of_the_swing() -> None:
    raw = json.loads(encode(analysed(swing_body()).analysis))
    for name in ("intent", "club", "times"):
        del raw[name]
    analysis = _decoded(json.dumps(raw))
    assert (analysis.intent, analysis.club) == (Intent.REHEARSAL, Club.WEDGE)
    assert analysis.times.shape == (0,)


def test_what_a_later_version_no_longer_knows_is_passed_over() -> None:
    raw = json.loads(encode(analysed(swing_body()).analysis))
    raw["weather"] = "rain"
    raw["measures"][0]["colour"] = "red"
    assert _decoded(json.dumps(raw)).measures == analysed(swing_body()).analysis.measures


@pytest.mark.parametrize("text", ["", "[", "[]", "{}", '{"coordinate": ["x"]}'])
def test_what_is_no_analysis_is_refused(text: str) -> None:
    with pytest.raises((ValueError, TypeError, KeyError)):
        _decoded(text)


def test_a_value_without_a_form_in_json_is_a_mistake_that_shows() -> None:
    measure = Measurement("m", "M", "deg", "P4", object(), None)
    analysis = dataclasses.replace(analysed(still_body()).analysis, measures=(measure,))
    with pytest.raises((TypeError, ValueError)):
        encode(analysis)
