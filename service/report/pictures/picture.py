"""The flagged frames of a clip as one picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from xml.etree.ElementTree import Element

from service.analysis.faults import CATALOGUE, Criterion
from service.analysis.types import (
    Evidence,
    Finding,
    Grade,
    Position,
    Status,
    SwingAnalysis,
    View,
)
from service.report.clip import Clip
from service.report.drawing.figure import Scene, scene_of
from service.report.drawing.legend import draw_legend, samples_of
from service.report.drawing.panel import FIGURE_HEIGHT, Panel, draw_panel, panel_height
from service.report.drawing.svg import add, as_text, picture, shift, wrap, write
from service.report.drawing.timeline import draw_timeline, timeline_height
from service.report.pictures.poses import sided_poses, stature_of

MOST_PANELS: Final[int] = 6
_LANDMARKS: Final = {1: "address", 4: "top", 7: "impact", 10: "finish"}
_NBSP = "\N{NO-BREAK SPACE}"
_WIDTH = 1200.0
_MARGIN = 20.0
_HEADER = 104.0
_GRADES: Final = tuple(Grade)


def draw_flagged(clip: Clip) -> str:
    """Draw the frames in which the faults of a swing show most.

    One panel a present finding, the gravest first and no more than :data:`MOST_PANELS`;
    address, top, impact and finish when there is none. Poses are drawn as they were sent,
    facing the way they were filmed, and missing points are left out. Below is a time line
    of the positions. A clip without a swing gets a picture that says so.

    Returns
    -------
    str
        A self-contained SVG picture, 1200 wide.
    """
    analysis = clip.analysis
    if not analysis.swing_found or analysis.view is None:
        return as_text(_no_swing(analysis))
    view = analysis.view.value
    findings = _gravest_first(analysis.findings, view)[:MOST_PANELS]
    panels = [_of_finding(f, i + 1, view, analysis) for i, f in enumerate(findings)]
    panels = panels or _of_landmarks(analysis.positions)
    return as_text(_page(panels, findings, clip))


def _gravest_first(findings: Sequence[Finding], view: View) -> list[Finding]:
    """Present findings by grade, and within a grade by how near they are to marked."""

    def gravity(finding: Finding) -> tuple[int, float]:
        criterion = _criteria(finding, view)[0]
        beyond = (finding.severity or 0.0) - criterion.threshold
        grade = -1 if finding.grade is None else _GRADES.index(finding.grade)
        return grade, beyond / (criterion.marked - criterion.threshold)

    present = [f for f in findings if f.status is Status.PRESENT]
    return sorted(present, key=gravity, reverse=True)


def _criteria(finding: Finding, view: View) -> tuple[Criterion, ...]:
    return CATALOGUE[finding.fault].criteria[view]


def _of_finding(finding: Finding, number: int, view: View, analysis: SwingAnalysis) -> Panel:
    moment = finding.shows_most
    assert moment is not None  # a present finding shows somewhere
    needs = CATALOGUE[finding.fault].needs(view)
    against_address = any(1.0 in c.measure.against for c in _criteria(finding, view))
    grade = (finding.grade or finding.status).capitalize()
    return Panel(
        frame=moment.frame,
        title=finding.title,
        caption=(
            f"{grade}; most at P{moment.position:.1f}, frame{_NBSP}{moment.frame}, "
            f"{moment.time:.2f}{_NBSP}s.",
            *(_measured(evidence) for evidence in finding.evidence),
            *((f"Ringed: {', '.join(p.label for p in needs)}.",) if needs else ()),
        ),
        number=number,
        ringed=needs,
        address=_frame_of(analysis.positions, 1) if against_address else None,
    )


def _measured(evidence: Evidence) -> str:
    return (
        f"{evidence.title}: {evidence.value:.3g} {evidence.unit} "
        f"(fault{_NBSP}{evidence.direction}{_NBSP}{evidence.threshold:g})."
    )


def _of_landmarks(positions: Sequence[Position]) -> list[Panel]:
    frames = [(number, _frame_of(positions, number)) for number in _LANDMARKS]
    return [
        Panel(frame, f"P{number}, {_LANDMARKS[number]}", (f"Frame {frame}.",))
        for number, frame in frames
        if frame is not None
    ]


def _frame_of(positions: Sequence[Position], number: int) -> int | None:
    frame = next((p.frame for p in positions if p.number == number), None)
    return None if frame is None else round(frame)


def _no_swing(analysis: SwingAnalysis) -> Element:
    reason = analysis.reason.text if analysis.reason else ""
    told = wrap(reason, _WIDTH - 2 * _MARGIN, 14)
    root = picture(_WIDTH, 70.0 + 20.0 * len(told), "No golf swing found", reason)
    write(root, _MARGIN, 40, "No golf swing found", font_size=20, font_weight="bold")
    for row, line in enumerate(told):
        write(root, _MARGIN, 66 + 20 * row, line, font_size=14)
    return root


def _page(panels: Sequence[Panel], findings: Sequence[Finding], clip: Clip) -> Element:
    columns = 4 if len(panels) == 4 else 3
    width = (_WIDTH - _MARGIN * (columns + 1)) / columns
    rows = [panels[i : i + columns] for i in range(0, len(panels), columns)]
    heights = [max(panel_height(panel, width) for panel in row) for row in rows]
    strip_top = _HEADER + sum(heights) + _MARGIN * len(rows)
    title = _title(findings, clip.analysis)
    root = picture(
        _WIDTH,
        strip_top + timeline_height(findings) + _MARGIN,
        title,
        " ".join(f"{panel.title}: {panel.caption[0]}" for panel in panels),
    )
    scene = _scene(panels, clip, width)
    _draw_header(root, title, panels, scene)
    top = _HEADER
    for row, height in zip(rows, heights, strict=True):
        for column, panel in enumerate(row):
            x = _MARGIN + column * (width + _MARGIN)
            draw_panel(add(root, "g", transform=shift(x, top)), panel, scene, width)
        top += height + _MARGIN
    strip = add(root, "g", transform=shift(_MARGIN, strip_top))
    draw_timeline(strip, clip.analysis.positions, findings, _WIDTH - 2 * _MARGIN)
    return root


def _scene(panels: Sequence[Panel], clip: Clip, width: float) -> Scene:
    frames = [f for p in panels for f in p.frames]
    return scene_of(sided_poses(clip), frames, width, FIGURE_HEIGHT, stature_of(clip))


def _title(findings: Sequence[Finding], analysis: SwingAnalysis) -> str:
    assert analysis.view is not None
    view = analysis.view.value.replace("_", " ").capitalize()
    match len(findings):
        case 0:
            judged = sum(f.status is not Status.NOT_ASSESSABLE for f in analysis.findings)
            return f"{view}: no fault found; {judged} of {len(analysis.findings)} could be judged"
        case 1:
            return f"{view}: 1 fault in this swing, where it shows most"
        case count:
            return f"{view}: {count} faults in this swing, each where it shows most"


def _draw_header(root: Element, title: str, panels: Sequence[Panel], scene: Scene) -> None:
    write(root, _MARGIN, 40, title, font_size=20, font_weight="bold")
    legend = add(root, "g", transform=shift(_MARGIN, 74))
    samples = samples_of(
        club=scene.has_club,
        ringed=any(panel.ringed for panel in panels),
        shadow=any(panel.address is not None for panel in panels),
    )
    draw_legend(legend, samples, _WIDTH - 2 * _MARGIN)
