from __future__ import annotations

from dataclasses import replace

from service.analysis.faults import CATALOGUE
from service.analysis.types import (
    Finding,
    FootageQuality,
    Grade,
    Handedness,
    Judged,
    Level,
    Moment,
    Position,
    Reason,
    Remark,
    Source,
    Status,
    StoppedAt,
    SwingAnalysis,
    SwingSpan,
    View,
)
from service.languages import language
from service.report.table import WIDTH, seen_absent, swing_table
from tests.lessons.made_up import present

LONG = Reason("points_missing", "Points that it needs are hidden behind the bag. " * 5)
FINDINGS = (
    Finding(
        "bent_arm",
        "Bent lead arm",
        Status.PRESENT,
        confidence=0.91,
        severity=38.25,
        severity_unit="degrees",
        grade=Grade.MODERATE,
        shows_most=Moment(66, 1.1, 4.25),
    ),
    Finding("head_lift", "Head lifts", Status.ABSENT, confidence=0.8),
    Finding("wide", "Stance too wide", Status.NOT_ASSESSABLE, reason=LONG),
)


def _swing(findings: tuple[Finding, ...] = FINDINGS) -> SwingAnalysis:
    remark = Remark("blur", Level.WARNING, "The hands are blurred. " * 6, "Film in more light.")
    return SwingAnalysis(
        swing_found=True,
        reason=None,
        view=Judged(View.DOWN_THE_LINE, 0.9, given=False),
        handedness=Judged(Handedness.LEFT, 1.0, given=True),
        quality=FootageQuality(59.94, {}, (remark,)),
        swings=(SwingSpan(12, 96, 0.2, 1.6, analysed=True),),
        positions=(
            Position(1, Source.OBSERVED, 0.2, 12.0, 0.004, 0.97),
            Position(10, Source.NOT_FOUND, reason=LONG),
        ),
        findings=findings,
    )


def _line(text: str, start: str) -> list[str]:
    (line,) = [line for line in text.splitlines() if line.startswith(start)]
    return line.split()


def test_a_present_fault_shows_confidence_grade_severity_and_where() -> None:
    text = swing_table(_swing())
    cells = ["Bent", "lead", "arm", "present", "0.91", "moderate", "38.2", "degrees"]
    assert _line(text, "Bent lead arm") == cells
    assert "Shows most at P4.2, frame 66, 1.10 s" in text


def test_no_position_is_told_as_if_nothing_could_be_otherwise() -> None:
    swing = _swing()
    sure = replace(swing, positions=(replace(swing.positions[0], confidence=1.0),))
    assert _line(swing_table(sure), "P1 ")[5] == "0.99"


def test_a_fault_that_can_not_be_judged_shows_why() -> None:
    text = swing_table(_swing())
    unjudged = text.split("Not assessable")[1]
    assert unjudged.index("Stance too wide: Points that it needs are hidden") > 0


def test_what_would_help_is_said_below_what_could_not_be_judged() -> None:
    vague = Reason("too_uncertain", "Gap: 4 ± 3 degrees is too uncertain to judge.")
    club = Reason("points_not_seen", "Not seen well enough for this: clubhead.")
    body = Reason("points_not_seen", "Not seen well enough for this: trail heel.")
    findings = tuple(
        Finding(f"fault_{n}", f"Fault {n}", Status.NOT_ASSESSABLE, reason=reason)
        for n, reason in enumerate((vague, club, body))
    )
    told = [line.strip() for line in swing_table(_swing(findings)).splitlines()]
    after = {n: told[told.index(next(t for t in told if f"ault {n}" in t)) + 1] for n in range(3)}
    assert after[0] == "Gap: 4 ± 3 degrees"
    assert "from a tripod" in told[told.index(after[0]) + 1]
    assert "Mark the club" in after[1]
    assert after[2] == "→ Keep the whole body and both feet in the picture."


def test_the_table_is_told_in_german_too() -> None:
    heel = Finding("trail_heel_kick", "Trail heel kicking up and out", Status.PRESENT)
    text = swing_table(_swing((heel,)), language("de"))
    assert "Ansicht: von hinten (erschlossen, Sicherheit 0,90)" in text
    assert "vorhanden" in _line(text, "Ausschlagen der hinteren Ferse")
    assert "Versuche das:" in text


def test_what_is_there_comes_first_with_why_and_what_to_try_and_cautions_after_it() -> None:
    heel = Finding("trail_heel_kick", "Trail heel kicking up and out", Status.PRESENT)
    text = swing_table(_swing((*reversed(FINDINGS), heel)))
    places = [
        text.index(part)
        for part in ("Bent lead arm", "Trail heel", "Try this", "Head lifts", "Stance", "Warm up")
    ]
    assert places == sorted(places)
    assert "Warm up" not in swing_table(_swing())


def test_only_what_was_seen_to_be_absent_counts_as_absent() -> None:
    assert seen_absent(FINDINGS) == {"head_lift"}


def test_of_many_faults_it_says_which_to_work_on_first() -> None:
    two, chain = ("upper_body_drift", "chest_stall"), ("arms_lift_at_top", "shaft_steep_at_top")
    assert "Work on first" not in swing_table(_swing(tuple(map(present, two))))
    told = swing_table(_swing(tuple(map(present, (*chain, "trail_heel_kick")))))
    assert "\nWork on first: arms lifting at the top.\n" in told


def test_positions_show_their_time_and_frame_or_a_dash() -> None:
    text = swing_table(_swing())
    assert _line(text, "P1 ") == [
        *("P1", "observed", "0.200", "0.004", "12.0", "0.97", "address"),
    ]
    assert _line(text, "P10 ")[:7] == ["P10", "not", "found", "-", "-", "-", "0.00"]


def test_view_handedness_and_remarks_are_told() -> None:
    text = swing_table(_swing())
    assert "View: down the line (inferred, confidence 0.90)" in text
    assert "Handedness: left (given)" in text
    assert "Film in more light." in text


def test_no_line_is_longer_than_the_terminal() -> None:
    findings = tuple(
        Finding(
            fault.name,
            fault.title,
            Status.PRESENT,
            confidence=0.5,
            severity=-123.4,
            severity_unit=next(iter(fault.criteria.values()))[0].measure.unit,
            grade=Grade.MODERATE,
        )
        for fault in CATALOGUE.values()
    )
    text = swing_table(_swing(FINDINGS + findings))
    assert max(map(len, text.splitlines())) <= WIDTH


def test_where_a_backswing_stopped_is_told_to_who_asked_for_it() -> None:
    def told(stopped: StoppedAt | None, code: str = "en") -> str:
        return swing_table(replace(_swing(), stopped_at=stopped), language(code))

    longer = StoppedAt(3.5, 4.04, 0.13)
    assert "asked to stop at P3.5, stopped at P4.0 ± 0.1: longer than asked\n" in told(longer)
    assert "verlangt bis P3,5, gemacht bis P4,0 ± 0,1: länger als verlangt\n" in told(longer, "de")
    assert "asked to stop at P3.5. Points that it needs are" in told(StoppedAt(3.5, reason=LONG))
    assert "Backswing" not in told(None)
