"""Pictures of faults: they show the measures by which the fault was judged."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import ANATOMICAL, swap_sides
from service.analysis.types import Handedness, Judged, View
from service.lessons.words.wording import IN_ENGLISH, Wording
from service.report.clip import Clip, Still
from service.report.drawing.measured.measures import value_in_words
from service.report.drawing.svg import LEAD, TRAIL
from service.report.pictures.fault_picture import draw_fault
from service.report.pictures.fault_shots import FaultNotShown
from tests.records.kept import RULES, body_of
from tests.report.pictures.drawn import (
    OF_TIME,
    SEEN,
    SVG,
    analysed,
    arrows_of,
    draw,
    marks_of,
    panels_of,
    plain,
    showing,
    text_of,
)
from tests.swings import clip as simulated
from training.simulator import FaultAmounts

WITHOUT_CLUB = {"trail_heel_kick", "trail_knee_drive", "hips_past_lead_foot", "hurried_transition"}
"""Their pictures show the legs or a foot alone, or times."""


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_a_picture_shows_the_values_of_the_finding_and_no_other(fault: str, view: View) -> None:
    clip = analysed(view)
    said = text_of(draw({"Now": clip}, fault, view))
    names = {c.measure.name for c in CATALOGUE[fault].criteria[view]}
    assert names <= {measure.name for measure in clip.analysis.measures}
    for measure in clip.analysis.measures:
        if measure.name in names:
            assert f"{measure.title}: {plain(value_in_words(measure, IN_ENGLISH))}" in said
        else:
            assert f"{measure.title}: " not in said


def test_a_value_that_could_be_nearly_any_is_not_told() -> None:
    sure = showing("long_backswing", View.FACE_ON)
    vague = tuple(
        replace(m, uncertainty=60.0) if m.name == "lead_arm_swing" else m
        for m in sure.analysis.measures
    )
    unsure = replace(sure, analysis=replace(sure.analysis, measures=vague))
    drawn = draw({"Before": unsure, "After": sure}, "long_backswing", View.FACE_ON)
    before, after = panels_of(drawn)
    assert "measured too vaguely → 174°" in text_of(drawn)
    assert ("°" in text_of(before), "°" in text_of(after)) == (False, True)
    assert (len(arrows_of(before)), len(arrows_of(after))) == (1, 2)  # one is to the target


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_what_is_measured_is_drawn_unless_it_is_a_time(fault: str, view: View) -> None:
    marks = marks_of(draw({"Now": analysed(view)}, fault, view))
    assert bool(marks) is (fault != "hurried_transition")


def test_before_and_after_tell_the_table_s_measure_and_how_it_changed() -> None:
    before = analysed(View.FACE_ON)
    better = tuple(
        replace(m, value=38.2) if m.name == "lead_arm_elevation_gained" else m
        for m in before.analysis.measures
    )
    after = replace(before, analysis=replace(before.analysis, measures=better))
    said = text_of(draw({"Before": before, "After": after}, "arms_lift_at_top", View.FACE_ON))
    (was,) = (m for m in before.analysis.measures if m.name == "lead_arm_elevation_gained")
    assert (
        f"Rise of the lead arm from P3 to P4: {plain(value_in_words(was, IN_ENGLISH))} → 38°"
        in said
    )
    assert "Lead arm from level" not in said


def test_a_picture_of_the_heel_shows_the_heel() -> None:
    root = draw({"Now": analysed(View.FACE_ON)}, "trail_heel_kick", View.FACE_ON)
    (panel,) = panels_of(root)
    assert len(marks_of(panel)) == 4  # how high and how far out, each against address
    assert not {"Shoulder", "elbow", "Club"} & set(text_of(root).replace(":", "").split())


@pytest.mark.parametrize("view", list(View))
def test_how_the_heel_went_fills_its_part_of_the_picture(view: View) -> None:
    _, recording = simulated(view, amounts=FaultAmounts(trail_heel_kick=1.5))
    kicked = RULES.analyse_body(body_of(recording, view=view))
    root = draw({"Before": kicked, "After": kicked}, "trail_heel_kick", view)
    panels = root.findall(".//{*}g/{*}svg")
    assert len(panels) == 2
    for panel in panels:
        ways = [p.get("d") or "" for p in marks_of(panel) if p.get("stroke-width") == "3.5"]
        ends = np.array([re.findall(r"-?[\d.]+", way) for way in ways], float).reshape(-1, 2)
        high, wide = np.ptp(ends[:, 1]), np.ptp(ends[:, 0])
        assert np.hypot(high, wide) > 0.15 * float(panel.get("width") or 0.0)


def test_a_point_that_is_missing_takes_its_mark_along() -> None:
    clip = analysed(View.FACE_ON)
    points = clip.recording.points.copy()
    points[:, ANATOMICAL.index("right_heel")] = np.nan
    blind = replace(clip, recording=replace(clip.recording, points=points))
    root = draw({"Now": blind}, "trail_heel_kick", View.FACE_ON)
    assert marks_of(root) == []
    assert "nan" not in ElementTree.tostring(root, encoding="unicode").lower()


@pytest.mark.parametrize("fault", [name for name, view in SEEN if view is View.FACE_ON])
def test_a_left_hander_gets_the_mirror_image(fault: str) -> None:
    clip = analysed(View.FACE_ON)
    points = swap_sides(clip.recording.points) * [-1.0, 1.0]
    analysis = replace(clip.analysis, handedness=Judged(Handedness.LEFT, 1.0, given=True))
    mirrored = Clip(None, replace(clip.recording, points=points), analysis)
    one, other = (draw({"Now": c}, fault, View.FACE_ON) for c in (clip, mirrored))
    assert text_of(one) == text_of(other)
    assert len(marks_of(one)) == len(marks_of(other))


@pytest.mark.parametrize(
    ("fault", "why"),
    [("shaft_steep_at_top", "can only be seen down the line"), ("flying", "no fault named")],
)
def test_what_cannot_be_seen_from_here_is_refused(fault: str, why: str) -> None:
    with pytest.raises(FaultNotShown, match=why):
        draw_fault({"Now": analysed(View.FACE_ON)}, fault, 4.0)


@pytest.mark.parametrize(
    ("position", "told"),
    [
        (1.0, "address (P1)"),
        (6.88, "just before impact (P6.9)"),
        (8.3, "just after shaft level after impact (P8.3)"),
        (10.0, "the finish (P10)"),
    ],
)
def test_positions_have_plain_names(position: float, told: str) -> None:
    assert IN_ENGLISH.place(position) == told


def test_each_swing_is_named_above_the_left_edge_of_its_figure() -> None:
    clip = analysed(View.FACE_ON)
    root = draw({"Before": clip, "After": clip}, "trail_heel_kick", View.FACE_ON)
    named = []
    for panel in panels_of(root):
        heading, figure = panel.find(f"{SVG}text"), panel.find(f"{SVG}svg")
        assert heading is not None
        assert figure is not None
        assert float(heading.get("x", "0")) == float(figure.get("x", "0")) == 0.0
        assert 0.0 < float(heading.get("y", "0")) < float(figure.get("y", "0"))
        named.append(heading.text)
    assert named == ["Before", "After"]


@pytest.mark.parametrize(("fault", "view"), [each for each in SEEN if each[0] not in OF_TIME])
def test_lines_that_a_picture_draws_are_told_below_it_and_no_others(fault: str, view: View) -> None:
    root = draw({"Now": showing(fault, view)}, fault, view)
    (figure,) = (panel.find(f"{SVG}svg") for panel in panels_of(root))
    assert figure is not None
    said = text_of(root)
    assert ("What is measured" in said) == bool(marks_of(figure))
    for colour, side in ((LEAD, "Lead side"), (TRAIL, "Trail side")):
        joints = [c for c in figure.iter(f"{SVG}circle") if c.get("stroke") == colour]
        assert (side in said) == any(_is_inside(figure, joint) for joint in joints)


def _is_inside(figure: Element, joint: Element) -> bool:
    ends = (("cx", "width"), ("cy", "height"))
    return all(0 <= float(joint.get(a, -1)) <= float(figure.get(b, 0)) for a, b in ends)


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_no_number_covers_a_joint_a_hand_or_the_club(fault: str, view: View) -> None:
    root = draw({"Before": showing(fault, view), "After": showing(fault, view)}, fault, view)
    angles = any(c.measure.unit == "degrees" for c in CATALOGUE[fault].criteria[view])
    for panel in panels_of(root):
        figure = panel.find(f"{SVG}svg")
        assert figure is not None
        width, height = (float(figure.get(side, 0)) for side in ("width", "height"))
        joints = [
            (float(c.get("cx", 0)), float(c.get("cy", 0))) for c in figure.iter(f"{SVG}circle")
        ]
        heads = [r for r in figure.iter(f"{SVG}rect") if r.get("width") == "9"]
        assert bool(joints) is (fault != "hurried_transition")
        assert len(heads) == (fault not in WITHOUT_CLUB)
        joints += [(float(r.get("x", 0)) + 4.5, float(r.get("y", 0)) + 4.5) for r in heads]
        labels = [r for r in figure.iter(f"{SVG}rect") if r.get("rx") == "4"]
        assert bool(labels) is (angles and fault != "chest_stall"), "a turn is no angle to draw"
        for label in labels:
            x, y, w, h = (float(label.get(n, 0)) for n in ("x", "y", "width", "height"))
            assert x >= 0.0
            assert x + w <= width
            assert y >= 0.0
            assert y + h <= height
            assert not [j for j in joints if x < j[0] < x + w and y < j[1] < y + h]


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_no_club_and_no_head_is_cut_off(fault: str, view: View) -> None:
    root = draw({"Before": showing(fault, view), "After": showing(fault, view)}, fault, view)
    for panel in panels_of(root):
        figure = panel.find(f"{SVG}svg")
        assert figure is not None
        width, height = (float(figure.get(side, 0)) for side in ("width", "height"))
        clubs = [r for r in figure.iter(f"{SVG}rect") if r.get("width") == "9"]
        heads = [c for c in figure.iter(f"{SVG}circle") if c.get("stroke-width") == "4"]
        assert len(clubs) == len(heads) == (fault not in WITHOUT_CLUB)
        for club in clubs:
            assert 0.0 <= float(club.get("x", 0)) <= width - 9.0
            assert 0.0 <= float(club.get("y", 0)) <= height - 9.0
        for head in heads:
            x, y, r = (float(head.get(n, 0)) for n in ("cx", "cy", "r"))
            assert r - 0.5 <= x <= width - r + 0.5
            assert r - 0.5 <= y <= height - r + 0.5


def test_the_target_is_marked_on_its_side_for_right_and_left() -> None:
    clip = analysed(View.FACE_ON)
    points = swap_sides(clip.recording.points) * [-1.0, 1.0]
    analysis = replace(clip.analysis, handedness=Judged(Handedness.LEFT, 1.0, given=True))
    mirrored = Clip(None, replace(clip.recording, points=points), analysis)
    ways = []
    for each in (clip, mirrored):
        (panel,) = panels_of(draw({"Now": each}, "upper_body_drift", View.FACE_ON))
        assert "Target" in text_of(panel)
        inside = arrows_of(panel.find(f"{SVG}svg") or panel)
        (target,) = [a for a in arrows_of(panel) if not any(np.array_equal(a, b) for b in inside)]
        ways.append(np.sign(target[-1, 0] - target[0, 0]))
    lead, trail = (
        np.nanmedian(clip.recording.points[:, ANATOMICAL.index(f"{side}_ankle"), 0])
        for side in ("left", "right")
    )
    assert ways == [np.sign(lead - trail), -np.sign(lead - trail)]
    said = text_of(draw({"Now": analysed(View.DOWN_THE_LINE)}, "handle_rise", View.DOWN_THE_LINE))
    assert "The target lies straight away from you" in said


def test_lengths_are_told_in_centimetres_or_in_hand_widths() -> None:
    clip = analysed(View.FACE_ON)
    (heel,) = (m for m in clip.analysis.measures if m.name == "trail_heel_height")
    assert heel.value is not None
    for wording, told in (
        (Wording(height_cm=180.0), f"{1.8 * heel.value:.0f} cm"),
        (Wording(), f"{heel.value / 5.0:.1f} hand-widths"),
    ):
        drawn = draw_fault({"Now": clip}, "trail_heel_kick", 6.5, wording)
        said = text_of(ElementTree.fromstring(drawn))
        assert f"Height of the trail heel: {told}" in said


def test_an_aim_of_nothing_is_told_without_decimals() -> None:
    clip = analysed(View.DOWN_THE_LINE)
    said = text_of(draw({"Now": clip}, "shaft_steep_at_top", View.DOWN_THE_LINE))
    assert "(aim: 0 or less)" in said.replace("\n", " ")


def test_beside_each_value_stands_what_it_should_come_to() -> None:
    drawn = draw({"Now": analysed(View.FACE_ON)}, "arms_lift_at_top", View.FACE_ON)
    said = text_of(drawn).replace("\n", " ")
    for criterion in CATALOGUE["arms_lift_at_top"].criteria[View.FACE_ON]:
        bound = "at most" if criterion.below is None else "at least"
        title = criterion.measure.title
        assert re.search(rf"{title}: \S+ \(aim: {bound} {criterion.threshold:.0f}°\)", said), title


def test_a_still_of_the_film_lies_under_the_drawing_point_on_point() -> None:
    clip = analysed(View.FACE_ON)
    frame = next(round(p.frame) for p in clip.analysis.positions if p.number == 4 and p.frame)
    still = Still("data:image/png;base64,iVBORw0KGgo=", 1000.0, 800.0)
    root = draw({"Now": replace(clip, stills={frame: still})}, "long_backswing", View.FACE_ON)
    (image,) = root.iter(f"{SVG}image")
    figure = panels_of(root)[0].find(f"{SVG}svg")
    assert figure is not None
    assert list(figure).index(image) == 1  # over the ground, under everything else
    assert image.get("href") == still.uri
    x, y, width, height = (float(image.get(n, 0)) for n in ("x", "y", "width", "height"))
    knee = clip.recording.points[frame, ANATOMICAL.index("left_hip")]
    placed = np.array([x, y]) + knee * [width / 1000.0, height / 800.0]
    joints = [
        (float(c.get("cx", 0)), float(c.get("cy", 0)))
        for c in figure.iter(f"{SVG}circle")
        if c.get("r") == "3.5"
    ]
    assert min(float(np.hypot(*(placed - j))) for j in joints) < 0.3
    other = draw({"Now": replace(clip, stills={frame + 9: still})}, "long_backswing", View.FACE_ON)
    assert list(other.iter(f"{SVG}image")) == []


@pytest.mark.parametrize(
    "uri", ["https://elsewhere.invalid/a.png", "data:image/svg+xml;base64,AAAA", "data:text/html,x"]
)
def test_a_still_that_would_be_fetched_or_could_hold_a_script_is_refused(uri: str) -> None:
    with pytest.raises(ValueError, match="embedded"):
        Still(uri, 10.0, 10.0)


def test_the_tempo_is_drawn_as_long_as_it_takes() -> None:
    clip = analysed(View.FACE_ON)
    taken = {m.name: m.value for m in clip.analysis.measures}
    root = draw({"Now": clip}, "hurried_transition", View.FACE_ON)
    figure = panels_of(root)[0].find(f"{SVG}svg")
    assert figure is not None
    back, down = (float(r.get("width", 0)) for r in list(figure.iter(f"{SVG}rect"))[1:])
    assert taken["backswing_time"]
    assert taken["downswing_time"]
    assert back / down == pytest.approx(taken["backswing_time"] / taken["downswing_time"], rel=0.01)
    assert f"Going back: {taken['backswing_time']:.2f} s" in text_of(root)
