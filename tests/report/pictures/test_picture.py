"""The picture of the flagged frames, read back as XML."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import ANATOMICAL, swap_sides
from service.analysis.types import Handedness, Judged, Reason, Status, SwingAnalysis, View
from service.report.clip import Clip
from service.report.drawing.svg import LEAD, MARK, MUTED
from service.report.pictures.picture import MOST_PANELS, draw_flagged
from tests.report.pictures.drawn import SVG, analysed, panels_of, text_of, texts_of


@pytest.fixture(scope="module")
def swing() -> Clip:
    return analysed(View.FACE_ON)


@pytest.fixture(scope="module")
def flagged(swing: Clip) -> Element:
    return _draw(swing)


def _draw(swing: Clip) -> Element:
    return ElementTree.fromstring(draw_flagged(swing))


def _with(swing: Clip, **changes: object) -> Clip:
    return replace(swing, analysis=replace(swing.analysis, **changes))


def _rings(root: Element) -> list[Element]:
    return [
        circle
        for panel in panels_of(root)
        for circle in panel.iter(f"{SVG}circle")
        if circle.get("stroke") == MARK
    ]


def _head_radii(root: Element) -> list[str | None]:
    circles = (c for panel in panels_of(root) for c in panel.iter(f"{SVG}circle"))
    return [circle.get("r") for circle in circles if circle.get("stroke") == MUTED]


def _present(swing: Clip) -> list[str]:
    return [f.fault for f in swing.analysis.findings if f.status is Status.PRESENT]


def test_every_present_fault_gets_a_panel_that_says_how_strongly_and_where_it_shows(
    swing: Clip, flagged: Element
) -> None:
    present = [f for f in swing.analysis.findings if f.status is Status.PRESENT]
    assert len(panels_of(flagged)) == len(present) > 1
    said = text_of(flagged)
    for finding in present:
        assert finding.shows_most is not None
        moment, evidence = finding.shows_most, finding.evidence[0]
        assert finding.title in said
        assert (
            f"{str(finding.grade).capitalize()}; most at P{moment.position:.1f}, "
            f"frame {moment.frame}, {moment.time:.2f} s." in said
        )
        assert (
            f"{evidence.title}: {evidence.value:.3g} {evidence.unit} "
            f"(fault {evidence.direction} {evidence.threshold:g})." in said
        )


def test_the_gravest_fault_comes_first(swing: Clip, flagged: Element) -> None:
    grades = ["marked", "moderate", "mild"]
    told = re.findall(r"(Marked|Moderate|Mild);", text_of(flagged))
    ranks = [grades.index(grade.lower()) for grade in told]
    assert len(ranks) == len(_present(swing))
    assert ranks == sorted(ranks)
    assert len(set(ranks)) > 1


def test_the_points_that_a_finding_rests_on_are_ringed(swing: Clip, flagged: Element) -> None:
    assert swing.analysis.view is not None
    view, present = swing.analysis.view.value, _present(swing)
    needed = [len(d.needs(view)) for d in CATALOGUE.values() if d.name in present]
    assert len(_rings(flagged)) == sum(needed) > 0


def test_a_missing_point_is_left_out_and_nothing_else(swing: Clip, flagged: Element) -> None:
    points = swing.recording.points.copy()
    points[:, ANATOMICAL.index("right_heel")] = np.nan
    picture = _draw(replace(swing, recording=replace(swing.recording, points=points)))
    assert len(_rings(picture)) == len(_rings(flagged)) - 1
    assert "nan" not in ElementTree.tostring(picture, encoding="unicode").lower()
    assert texts_of(picture) == texts_of(flagged)


def test_a_point_far_off_does_not_shrink_the_figures(swing: Clip, flagged: Element) -> None:
    points = swing.recording.points.copy()
    points[:, ANATOMICAL.index("clubhead")] = 90_000.0
    outlier = replace(swing, recording=replace(swing.recording, points=points))
    points = points.copy()
    points[:, ANATOMICAL.index("clubhead")] = np.nan
    missing = replace(swing, recording=replace(swing.recording, points=points))
    assert _head_radii(_draw(outlier)) == _head_radii(_draw(missing))


def test_frames_without_any_point_still_get_theirpanels_of(swing: Clip) -> None:
    points = swing.recording.points.copy()
    address = swing.analysis.positions[0].frame
    assert address is not None
    points[round(address)] = np.nan
    for finding in swing.analysis.findings:
        if finding.shows_most is not None:
            points[finding.shows_most.frame] = np.nan
    picture = _draw(replace(swing, recording=replace(swing.recording, points=points)))
    assert len(panels_of(picture)) == len(_present(swing))
    assert _rings(picture) == []


def test_a_swing_without_a_fault_shows_address_top_impact_and_finish(
    swing: Clip,
) -> None:
    absent = tuple(
        replace(f, status=Status.ABSENT) if f.status is Status.PRESENT else f
        for f in swing.analysis.findings
    )
    picture = _draw(_with(swing, findings=absent))
    told = [t for t in texts_of(picture) if re.match(r"P\d+, ", t)]
    assert told == ["P1, address", "P4, top", "P7, impact", "P10, finish"]
    assert _rings(picture) == []
    not_judged = sum(f.status is Status.NOT_ASSESSABLE for f in absent)
    assert not_judged > 0
    assert (
        f"no fault found; {len(CATALOGUE) - not_judged} of {len(CATALOGUE)} could be judged"
        in text_of(picture)
    )


def test_the_legend_names_the_club_only_when_it_is_seen(swing: Clip, flagged: Element) -> None:
    points = swing.recording.points.copy()
    points[:, ANATOMICAL.index("clubhead")] = np.nan
    without = _draw(replace(swing, recording=replace(swing.recording, points=points)))
    assert "Club" in texts_of(flagged)
    assert "Club" not in texts_of(without)


def test_there_are_never_more_panels_than_can_be_read(swing: Clip) -> None:
    many = _with(swing, findings=swing.analysis.findings * 3)
    assert len(_present(many)) > MOST_PANELS
    assert len(panels_of(_draw(many))) == MOST_PANELS


def test_a_left_hander_is_drawn_as_the_mirror_image(swing: Clip, flagged: Element) -> None:
    points = swap_sides(swing.recording.points) * [-1.0, 1.0]
    mirrored = _with(
        replace(swing, recording=replace(swing.recording, points=points)),
        handedness=Judged(Handedness.LEFT, 1.0, given=True),
    )
    for ours, theirs in zip(panels_of(_draw(mirrored)), panels_of(flagged), strict=True):
        width = float(theirs.find(f"{SVG}svg").get("width"))
        expected = _lead_limbs(theirs) * [-1.0, 1.0] + [width, 0.0]
        assert _lead_limbs(ours) == pytest.approx(expected, abs=0.11)


def _lead_limbs(panel: Element) -> np.ndarray:
    (path,) = (p for p in panel.iter(f"{SVG}path") if p.get("stroke") == LEAD)
    return np.array(re.findall(r"-?[\d.]+", path.get("d", "")), dtype=float).reshape(-1, 2)


def test_lead_and_trail_side_differ_by_more_than_colour(flagged: Element) -> None:
    for panel in panels_of(flagged):
        wide = [p for p in panel.iter(f"{SVG}path") if p.get("stroke-width") == "4.5"]
        assert [p.get("stroke-dasharray") is None for p in wide] == [False, True]


def test_names_of_positions_do_not_run_into_each_other(flagged: Element) -> None:
    names = [t for t in flagged.iter(f"{SVG}text") if re.fullmatch(r"P\d+", t.text or "")]
    assert [t.text for t in names] == [f"P{n}" for n in range(1, 11)]
    places = [(float(t.get("x", 0)), t.get("y")) for t in names]
    for i, (x, y) in enumerate(places):
        assert all(abs(x - other) >= 20 for other, lane in places[:i] if lane == y)


def test_the_picture_stands_alone_and_describes_itself(swing: Clip, flagged: Element) -> None:
    text = draw_flagged(swing)
    assert not re.search(r"href|url\(|<script|<style|<image", text)
    assert flagged.get("width") == "1200"
    assert flagged.get("role") == "img"
    assert [child.tag for child in flagged[:2]] == [f"{SVG}title", f"{SVG}desc"]
    assert "faults in this swing" in (flagged[0].text or "")


def test_a_clip_without_a_swing_gets_the_reason_whatever_is_in_it(swing: Clip) -> None:
    reason = Reason("none", 'Hands < hips & no "swing" > 0.')
    nothing = SwingAnalysis(False, reason, None, None, swing.analysis.quality)
    picture = ElementTree.fromstring(draw_flagged(replace(swing, analysis=nothing)))
    assert texts_of(picture) == ["No golf swing found", reason.text]


def test_the_picture_is_the_same_every_time(swing: Clip) -> None:
    first, second = (draw_flagged(swing) for _ in range(2))
    assert first == second
