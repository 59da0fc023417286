"""What a recap draws."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from xml.etree import ElementTree

from service.analysis.types import (
    Finding,
    Status,
    SwingAnalysis,
    View,
)
from service.lessons import Part, Verdict
from service.records import Role
from service.report.progress import draw_progress
from service.use_cases.recap import recap_of
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    clocked,
    judged_by,
    measured,
    present,
    swing,
    unseen,
)
from tests.report.visits import visit

SVG = "{http://www.w3.org/2000/svg}"


def test_what_neither_side_has_is_neither_drawn_nor_charted_as_changed() -> None:
    name = "arms_lift_at_top"

    def one_sign(rise: float, status: Status) -> SwingAnalysis:
        measures = [measured("lead_arm_elevation_gained", rise), measured("chest_turn_gained", 29)]
        return swing(findings=[replace(absent(name), status=status)], measures=measures)

    before, after = one_sign(20.0, Status.ABSENT), one_sign(80.0, Status.UNCERTAIN)
    recap = recap_of("Ada", [visit((Role.BEFORE, before), (Role.AFTER, after))])
    (comparison,) = recap.changes.comparisons
    (change,) = (f for f in comparison.faults if f.fault == name)
    assert change.verdict is Verdict.WORSE
    assert recap.changes.rows == recap.drawn.pictures == recap.drawn.charts == ()


def test_what_changed_is_pictured_in_swings_of_which_it_was_told() -> None:
    name = "upper_body_drift"
    measure = DEFINITIONS[name].criteria[View.FACE_ON][0].measure.name

    def filmed(finding: Finding, drift: float) -> SwingAnalysis:
        at = clocked([0.1 * n for n in range(1, 11)], 60.0)
        found = swing(findings=[finding], measures=[measured(measure, drift, 0.3)])
        return replace(found, positions=at.positions, coordinate=at.coordinate, times=at.times)

    found, gone = filmed(present(name), 9.0), filmed(absent(name), 1.0)
    vague = [filmed(unseen(name, "too_uncertain"), drift) for drift in (9.2, 1.2)]
    before = ((Role.BEFORE, found), (Role.BEFORE, vague[0]))
    swings = (*before, (Role.AFTER, gone), (Role.AFTER, vague[1]))
    (pictured,) = recap_of("Ada", [visit(*swings)]).drawn.pictures
    assert (pictured.before, pictured.after) == ("2025-05-20 0", "2025-05-20 2")


def test_a_lesson_charts_its_start_and_its_end_apart() -> None:
    long = DEFINITIONS["long_backswing"]
    bad, good = (judged_by(long, View.FACE_ON, value, 1.0) for value in (175.0, 140.0))
    recap = recap_of("Ada", [visit((Role.BEFORE, bad), (Role.AFTER, good))])
    (chart,) = recap.drawn.charts
    assert [(p.part, p.estimate.value) for p in chart.measure.points] == [
        (Part.START, 175.0),
        (Part.END, 140.0),
    ]
    said = [
        t.text
        for t in ElementTree.fromstring(draw_progress(chart.fault, chart.measure)).iter(
            f"{SVG}text"
        )
    ]
    assert said.count("start") == said.count("end") == 1


def test_a_lesson_measured_too_vaguely_is_left_out_of_the_chart() -> None:
    long = DEFINITIONS["long_backswing"]
    days = [date(2025, 4, day) for day in (1, 8, 15)]
    told = [judged_by(long, View.FACE_ON, *value) for value in ((175.0, 1.0), (140.0, 1.0))]
    vague = judged_by(long, View.FACE_ON, 150.0, 60.0)
    swings = [told[0], vague, told[1]]
    recap = recap_of(
        "Ada", [visit((Role.OTHER, s), day=d) for s, d in zip(swings, days, strict=True)]
    )
    (chart,) = recap.drawn.charts
    assert [p.estimate.value for p in chart.measure.points] == [175.0, 140.0]
