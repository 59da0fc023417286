"""A chart of one measure over lessons: its threshold, what came back, and what stands in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from xml.etree import ElementTree

import pytest

from service.analysis.types import (
    Status,
    View,
)
from service.languages import CODES, language
from service.lessons import (
    Estimate,
    FaultPoint,
    FaultProgress,
    MeasurePoint,
    MeasureProgress,
    PooledFinding,
    Trend,
    follow_up,
)
from service.lessons import Lesson as LessonAnalyses
from service.lessons.words.wording import Wording
from service.report.drawing.svg import MARK, TINT, text_width
from service.report.progress import draw_progress, in_words
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    measured,
    present,
    swing,
    unseen,
)

SVG = "{http://www.w3.org/2000/svg}"


def test_the_chart_shows_threshold_band_and_what_came_back() -> None:
    definition = DEFINITIONS["handle_rise"]
    view, (criterion, *_) = next(iter(definition.criteria.items()))
    days = [datetime(2025, month, 1, tzinfo=UTC) for month in (1, 2, 3)]
    statuses = [Status.PRESENT, Status.ABSENT, Status.PRESENT]
    values = [criterion.marked, criterion.threshold - 5.0, criterion.moderate]
    fault = FaultProgress(
        definition.name,
        definition.title,
        tuple(
            FaultPoint(d, PooledFinding(s, 0.9, 1, 1), None, {view: s})
            for d, s in zip(days, statuses, strict=True)
        ),
        Trend.RELAPSE,
        days[2],
    )
    measure = MeasureProgress(
        criterion.measure.name,
        criterion.measure.title,
        criterion.measure.unit,
        view,
        tuple(MeasurePoint(d, Estimate(v, 0.5, 2)) for d, v in zip(days, values, strict=True)),
    )
    root = ElementTree.fromstring(draw_progress(fault, measure))
    said = [t.text for t in root.iter(f"{SVG}text")]
    assert said.count("back") == 1
    assert any((t or "").startswith("Fault above 0.8 hand-widths") for t in said)
    (polygon,) = root.iter(f"{SVG}polygon")
    corners = [tuple(map(float, c.split(","))) for c in (polygon.get("points") or "").split()]
    assert len(corners) == 2 * len(days)
    heights = [low[1] - high[1] for high, low in zip(corners, reversed(corners), strict=True)]
    assert heights[0] == pytest.approx(heights[2], abs=0.2)
    assert heights[0] > 0
    gone = replace(fault, points=fault.points[:2], trend=Trend.GONE, since=days[1])
    earlier = replace(measure, points=measure.points[:2])
    said = [t.text for t in ElementTree.fromstring(draw_progress(gone, earlier)).iter(f"{SVG}text")]
    assert "back" not in said


def _charted(name: str, *statuses: Status) -> tuple[FaultProgress, MeasureProgress]:
    """A fault over lessons a month apart with its first measure, face on."""
    criterion = DEFINITIONS[name].criteria[View.FACE_ON][0]
    found = {Status.PRESENT: present(name), Status.ABSENT: absent(name)}
    taken = [
        LessonAnalyses(
            datetime(2025, month, 1, tzinfo=UTC),
            (
                swing(
                    findings=[found.get(status, unseen(name))],
                    measures=[measured(criterion.measure.name, criterion.marked)],
                ),
            ),
        )
        for month, status in enumerate(statuses, start=1)
    ]
    told = follow_up(taken)
    (fault,) = (f for f in told.faults if f.fault == name)
    (measure,) = (m for m in told.measures if m.name == criterion.measure.name)
    return fault, measure


@pytest.mark.parametrize(
    ("statuses", "told"),
    [
        ([Status.PRESENT, Status.NOT_ASSESSABLE], "found before, but the last lesson can't"),
        ([Status.PRESENT, Status.ABSENT, Status.NOT_ASSESSABLE], "gone before, but the last"),
        ([Status.ABSENT, Status.PRESENT], "new in the last lesson"),
        ([Status.PRESENT], "found in the last lesson"),
    ],
)
def test_a_trend_says_of_the_last_lesson_only_what_it_showed(
    statuses: list[Status], told: str
) -> None:
    fault, _ = _charted("long_backswing", *statuses)
    assert in_words(fault).startswith(told)


def test_a_value_is_marked_by_what_was_seen_from_its_view() -> None:
    name, days = "arms_lift_at_top", [datetime(2025, m, 1, tzinfo=UTC) for m in (1, 2)]
    taken = [measured(DEFINITIONS[name].criteria[View.FACE_ON][0].measure.name, 42.0)]
    behind = swing(findings=[present(name)], view=View.DOWN_THE_LINE)
    front = swing(findings=[absent(name)], measures=taken)
    told = follow_up([LessonAnalyses(days[0], (behind, front)), LessonAnalyses(days[1], (front,))])
    (fault,) = (f for f in told.faults if f.fault == name)
    (measure,) = (m for m in told.measures if m.name == taken[0].name)
    assert in_words(fault) == "unclear before, not found in the last lesson"
    root = ElementTree.fromstring(draw_progress(fault, measure))
    assert (root.findtext(f"{SVG}desc") or "").count("no fault") == 2
    discs = [c for c in root.iter(f"{SVG}circle") if c.get("r") == "6"]
    assert len(discs) == 2 + 1, "one a lesson and that of the legend"


def test_a_side_is_tinted_only_where_the_drawn_measure_alone_decides() -> None:
    for name, alone in (("long_backswing", True), ("elbows_separate", False)):
        root = ElementTree.fromstring(draw_progress(*_charted(name, Status.ABSENT, Status.PRESENT)))
        tinted = [r for r in root.iter(f"{SVG}rect") if r.get("fill") == TINT]
        assert bool(tinted) is alone
        said = " ".join(t.text or "" for t in root.iter(f"{SVG}text"))
        assert ("tinted side" in said) is alone
        assert ("One of two signs" in said) is not alone


@pytest.mark.parametrize(
    "name",
    [
        name
        for name, definition in DEFINITIONS.items()
        if len(definition.criteria.get(View.FACE_ON, ())) == 1
    ],
)
def test_the_tinted_side_is_the_one_on_which_the_fault_is(name: str) -> None:
    root = ElementTree.fromstring(draw_progress(*_charted(name, Status.PRESENT, Status.PRESENT)))
    (tint,) = (r for r in root.iter(f"{SVG}rect") if r.get("fill") == TINT)
    top, height = (float(tint.get(side) or "") for side in ("y", "height"))
    squares = [r for r in root.iter(f"{SVG}rect") if r.get("fill") == MARK]
    heights = [float(square.get("y") or "") + 6.0 for square in squares[:2]]
    assert len(heights) == 2
    assert all(top <= y <= top + height for y in heights)


@pytest.mark.parametrize("code", CODES)
def test_charts_have_no_point_and_no_text_outside_the_plane_for_any_fault(code: str) -> None:
    wording = Wording(language(code))
    for definition in DEFINITIONS.values():
        for view, criteria in definition.criteria.items():
            measure = criteria[0].measure
            days = [datetime(2025, 1, day, tzinfo=UTC) for day in range(1, 9)]
            fault = FaultProgress(
                definition.name,
                definition.title,
                tuple(
                    FaultPoint(
                        d, PooledFinding(Status.PRESENT, 0.9, 1, 1), None, {view: Status.PRESENT}
                    )
                    for d in days
                ),
                Trend.PERSISTING,
                days[0],
            )
            points = tuple(
                MeasurePoint(d, Estimate(criteria[0].marked * n, 3.0, 1))
                for n, d in enumerate(days)
            )
            drawn = MeasureProgress(measure.name, measure.title, measure.unit, view, points)
            root = ElementTree.fromstring(draw_progress(fault, drawn, wording))
            texts = [t for t in root.iter(f"{SVG}text") if t.get("text-anchor") is None]
            assert texts
            for text in texts:
                size, bold = float(text.get("font-size", 0)), text.get("font-weight") == "bold"
                width = text_width(text.text or "", size, bold=bold)
                assert float(text.get("x", 0)) + width <= 420.0
            for ground in root.iter(f"{SVG}rect"):
                assert float(ground.get("x", 0)) + float(ground.get("width", 0)) <= 420.0
            numbers = [t for t in root.iter(f"{SVG}text") if t.get("text-anchor") == "end"]
            scale = sorted(float(number.get("y", 0)) - 4.5 for number in numbers)
            step = scale[1] - scale[0]
            assert 54 <= scale[0] <= 54 + step, "it reaches from one end of the plane"
            assert 236 - step <= scale[-1] <= 236, "to the other"
            squares = [r for r in root.iter(f"{SVG}rect") if r.get("width") == "12"]
            heights = [float(r.get("y", 0)) for r in squares if r.get("height") == "12"][:8]
            assert len(heights) == 8
            assert 54 <= min(heights) <= max(heights) <= 236
