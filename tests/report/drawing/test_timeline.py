"""The strip on which a swing's positions and findings stand at their times."""

from __future__ import annotations

from xml.etree.ElementTree import Element

import pytest

from service.analysis.types import Finding, Moment, Position, Source, Status
from service.report.drawing.svg import LEAD, MARK
from service.report.drawing.timeline import draw_timeline

FOUND = {1: 1.0, 4: 2.0, 7: 3.0}
FINDING = Finding(
    "long_backswing",
    "Backswing running long",
    Status.PRESENT,
    shows_most=Moment(60, 2.0, 4.0),
    span=(Moment(45, 1.5, 3.0), Moment(75, 2.5, 5.0)),
)


@pytest.fixture
def strip() -> Element:
    root = Element("g")
    positions = [
        Position(n, Source.INFERRED if n == 4 else Source.OBSERVED, t, 30.0 * t, 0.01, 0.9)
        for n, t in FOUND.items()
    ]
    draw_timeline(root, positions, [FINDING], 900.0)
    return root


def _names(strip: Element) -> dict[str, float]:
    return {t.text or "": float(t.get("x") or "nan") for t in strip.iter("text")}


def test_positions_stand_at_their_times(strip: Element) -> None:
    first, top, impact = (_names(strip)[name] for name in ("P1", "P4", "P7"))
    assert first < top < impact <= 900.0
    assert top - first == pytest.approx(impact - top, abs=0.2)


def test_a_bar_runs_over_the_time_in_which_a_finding_shows(strip: Element) -> None:
    first, impact = (_names(strip)[name] for name in ("P1", "P7"))
    (bar,) = (r for r in strip.iter("rect") if r.get("fill") == MARK)
    second = (impact - first) / 2.0
    assert float(bar.get("x") or "") == pytest.approx(first + 0.5 * second, abs=0.2)
    assert float(bar.get("width") or "") == pytest.approx(second, abs=0.2)


def test_what_was_inferred_is_dashed_and_what_was_seen_is_not(strip: Element) -> None:
    dashed = [
        group.get("stroke-dasharray") for group in strip.iter() if group.get("stroke") == LEAD
    ]
    assert dashed == ["none", "3 3", "none"]
