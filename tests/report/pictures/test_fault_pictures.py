"""Pictures of faults: they show the measures by which the fault was judged."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import ANATOMICAL, Point, swap_sides
from service.analysis.types import Handedness, Judged, View
from service.demo import clip_body
from service.examples import EXAMPLES
from service.lessons.telling.wording import IN_ENGLISH, Wording
from service.report.clip import Clip, Still
from service.report.drawing.marks import Growth, Mark, Poses, Turn, mark_of
from service.report.drawing.measures import ShownMeasure, value_in_words
from service.report.drawing.svg import ANGLE, LEAD, MARK, TRAIL
from service.report.pictures.fault_picture import draw_fault
from service.report.pictures.fault_shots import FaultNotShown
from tests.records.kept import RULES

SVG = "{http://www.w3.org/2000/svg}"
SEEN = [(name, view) for name, d in CATALOGUE.items() for view in d.criteria]
OF_TIME = {"hurried_transition"}
"""Drawn as bars, which say themselves what they are."""
WITHOUT_CLUB = {"trail_heel_kick", "trail_knee_drive", "hips_past_lead_foot", "hurried_transition"}
"""Their pictures show the legs or a foot alone, or times."""


@pytest.fixture(scope="module")
def clips() -> dict[View, Clip]:
    return {view: _analysed(view) for view in View}


def _position(fault: str, view: View) -> float:
    definition = CATALOGUE[fault]
    return definition.shows_at or definition.criteria[view][0].measure.end


def _draw(swings: dict[str, Clip], fault: str, view: View) -> Element:
    return ElementTree.fromstring(draw_fault(swings, fault, _position(fault, view)))


def _said(root: Element) -> str:
    return _plain(" ".join(text.text or "" for text in root.iter(f"{SVG}text")))


def _plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def _marks(root: Element) -> list[Element]:
    return [p for p in root.iter(f"{SVG}path") if p.get("stroke") == ANGLE]


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_a_picture_shows_the_values_of_the_finding_and_no_other(
    clips: dict[View, Clip], fault: str, view: View
) -> None:
    clip = clips[view]
    said = _said(_draw({"Now": clip}, fault, view))
    names = [c.measure.name for c in CATALOGUE[fault].criteria[view]]
    for measure in clip.analysis.measures:
        if measure.name in names:
            assert f"{measure.title}: {_plain(value_in_words(measure, IN_ENGLISH))}" in said
        else:
            assert f"{measure.title}: " not in said


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_what_is_measured_is_drawn_unless_it_is_a_time(
    clips: dict[View, Clip], fault: str, view: View
) -> None:
    marks = _marks(_draw({"Now": clips[view]}, fault, view))
    assert bool(marks) is (fault != "hurried_transition")


def test_before_and_after_tell_the_table_s_measure_and_how_it_changed(
    clips: dict[View, Clip],
) -> None:
    before = clips[View.FACE_ON]
    better = tuple(
        replace(m, value=38.2) if m.name == "lead_arm_elevation_gained" else m
        for m in before.analysis.measures
    )
    after = replace(before, analysis=replace(before.analysis, measures=better))
    said = _said(_draw({"Before": before, "After": after}, "arms_lift_at_top", View.FACE_ON))
    (was,) = (m for m in before.analysis.measures if m.name == "lead_arm_elevation_gained")
    assert (
        f"Rise of the lead arm from P3 to P4: {_plain(value_in_words(was, IN_ENGLISH))} → 38°"
        in said
    )
    assert "Lead arm from level" not in said


def test_a_picture_of_the_heel_shows_the_heel(clips: dict[View, Clip]) -> None:
    root = _draw({"Now": clips[View.FACE_ON]}, "trail_heel_kick", View.FACE_ON)
    (panel,) = _panels(root)
    assert len(_marks(panel)) == 4  # how high and how far out, each against address
    assert not {"Shoulder", "elbow", "Club"} & set(_said(root).replace(":", "").split())


@pytest.mark.parametrize("view", list(View))
def test_how_the_heel_went_fills_its_part_of_the_picture(view: View) -> None:
    clip = RULES.analyse_body(EXAMPLES[f"trail_heel_kick-{view.value}"].request())
    root = _draw({"Before": clip, "After": clip}, "trail_heel_kick", view)
    panels = root.findall(".//{*}g/{*}svg")
    assert len(panels) == 2
    for panel in panels:
        ways = [p.get("d") or "" for p in _marks(panel) if p.get("stroke-width") == "3.5"]
        ends = np.array([re.findall(r"-?[\d.]+", way) for way in ways], float).reshape(-1, 2)
        high, wide = np.ptp(ends[:, 1]), np.ptp(ends[:, 0])
        assert np.hypot(high, wide) > 0.15 * float(panel.get("width") or 0.0)


def test_the_arrow_is_as_long_as_the_travel_it_stands_for(clips: dict[View, Clip]) -> None:
    clip = clips[View.FACE_ON]
    heel = ANATOMICAL.index("right_heel")

    def arrow(lifted: float) -> float:
        points = clip.recording.points.copy()
        late = clip.analysis.coordinate > 4.0
        points[late, heel] -= [0.0, lifted]
        moved = replace(clip, recording=replace(clip.recording, points=points))
        root = _draw({"Now": moved}, "handle_rise", View.FACE_ON)
        assert _marks(root)  # the scene stays that of the whole body
        root = _draw({"Now": moved}, "trail_heel_kick", View.FACE_ON)
        up = next(p for p in _marks(root) if p.get("stroke-width") == "3.5")
        x0, y0, x1, y1 = map(float, (up.get("d") or "").replace("M", "").replace("L", "").split())
        assert x0 == pytest.approx(x1, abs=0.11)
        return y0 - y1

    small, large = arrow(0.0), arrow(40.0)
    assert large > small > 0.0


def test_a_point_that_is_missing_takes_its_mark_along(clips: dict[View, Clip]) -> None:
    clip = clips[View.FACE_ON]
    points = clip.recording.points.copy()
    points[:, ANATOMICAL.index("right_heel")] = np.nan
    blind = replace(clip, recording=replace(clip.recording, points=points))
    root = _draw({"Now": blind}, "trail_heel_kick", View.FACE_ON)
    assert _marks(root) == []
    assert "nan" not in ElementTree.tostring(root, encoding="unicode").lower()


@pytest.mark.parametrize("fault", [name for name, view in SEEN if view is View.FACE_ON])
def test_a_left_hander_gets_the_mirror_image(clips: dict[View, Clip], fault: str) -> None:
    clip = clips[View.FACE_ON]
    points = swap_sides(clip.recording.points) * [-1.0, 1.0]
    analysis = replace(clip.analysis, handedness=Judged(Handedness.LEFT, 1.0, given=True))
    mirrored = Clip(None, replace(clip.recording, points=points), analysis)
    one, other = (_draw({"Now": c}, fault, View.FACE_ON) for c in (clip, mirrored))
    assert _said(one) == _said(other)
    assert len(_marks(one)) == len(_marks(other))


@pytest.mark.parametrize(
    ("fault", "why"),
    [("shaft_steep_at_top", "can only be seen down the line"), ("flying", "no fault named")],
)
def test_what_cannot_be_seen_from_here_is_refused(
    clips: dict[View, Clip], fault: str, why: str
) -> None:
    with pytest.raises(FaultNotShown, match=why):
        draw_fault({"Now": clips[View.FACE_ON]}, fault, 4.0)


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


@cache
def _analysed(view: View) -> Clip:
    return RULES.analyse_body(clip_body(view.value))


def _present(fault: str, view: View) -> Clip:
    """A clip that is said to show a fault strongly."""
    clip = _analysed(view)
    marked = {c.measure.name: c.marked for c in CATALOGUE[fault].criteria[view]}
    if "tempo_ratio" in marked:
        marked |= {"backswing_time": 0.25 * marked["tempo_ratio"], "downswing_time": 0.25}
    measures = tuple(replace(m, value=marked.get(m.name, m.value)) for m in clip.analysis.measures)
    return replace(clip, analysis=replace(clip.analysis, measures=measures))


def _panels(root: Element) -> list[Element]:
    return [g for g in root.findall(f"{SVG}g") if g.find(f"{SVG}svg") is not None]


def test_each_swing_is_named_above_the_left_edge_of_its_figure(clips: dict[View, Clip]) -> None:
    clip = clips[View.FACE_ON]
    root = _draw({"Before": clip, "After": clip}, "trail_heel_kick", View.FACE_ON)
    named = []
    for panel in _panels(root):
        heading, figure = panel.find(f"{SVG}text"), panel.find(f"{SVG}svg")
        assert heading is not None
        assert figure is not None
        assert float(heading.get("x", "0")) == float(figure.get("x", "0")) == 0.0
        assert 0.0 < float(heading.get("y", "0")) < float(figure.get("y", "0"))
        named.append(heading.text)
    assert named == ["Before", "After"]


def _arrows(parent: Element) -> list[np.ndarray]:
    """The ways of the arrows, each of shape (n, 2)."""
    drawn = [
        p.get("d", "").removeprefix("M")
        for p in parent.iter(f"{SVG}path")
        if p.get("stroke") == MARK and p.get("stroke-width") == "3"
    ]
    return [
        np.array([[float(c) for c in xy.split()] for xy in d.replace("L", ",").split(",")])
        for d in drawn
    ]


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_an_arrow_says_which_way_it_should_go_where_it_is_not_right(fault: str, view: View) -> None:
    root = _draw({"Now": _present(fault, view)}, fault, view)
    (figure,) = (panel.find(f"{SVG}svg") for panel in _panels(root))
    assert figure is not None
    arrows = _arrows(figure)
    assert arrows
    if _marks(figure):
        assert "Which way it should go" in _said(root)


@pytest.mark.parametrize(("fault", "view"), [each for each in SEEN if each[0] not in OF_TIME])
def test_lines_that_a_picture_draws_are_told_below_it_and_no_others(fault: str, view: View) -> None:
    root = _draw({"Now": _present(fault, view)}, fault, view)
    (figure,) = (panel.find(f"{SVG}svg") for panel in _panels(root))
    assert figure is not None
    said = _said(root)
    assert ("What is measured" in said) == bool(_marks(figure))
    for colour, side in ((LEAD, "Lead side"), (TRAIL, "Trail side")):
        joints = [c for c in figure.iter(f"{SVG}circle") if c.get("stroke") == colour]
        assert (side in said) == any(_is_inside(figure, joint) for joint in joints)


def _is_inside(figure: Element, joint: Element) -> bool:
    ends = (("cx", "width"), ("cy", "height"))
    return all(0 <= float(joint.get(a, -1)) <= float(figure.get(b, 0)) for a, b in ends)


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_what_is_right_already_gets_no_arrow(
    clips: dict[View, Clip], fault: str, view: View
) -> None:
    clip = clips[view]
    right = {c.measure.name: c.threshold for c in CATALOGUE[fault].criteria[view]}
    if "tempo_ratio" in right:
        right |= {"backswing_time": 0.25 * right["tempo_ratio"], "downswing_time": 0.25}
    measures = tuple(replace(m, value=right.get(m.name, m.value)) for m in clip.analysis.measures)
    good = replace(clip, analysis=replace(clip.analysis, measures=measures))
    (panel,) = _panels(_draw({"Now": good}, fault, view))
    figure = panel.find(f"{SVG}svg")
    assert figure is not None
    assert _arrows(figure) == []


def test_an_arrow_ends_where_the_threshold_is() -> None:
    criterion = CATALOGUE["trail_heel_kick"].criteria[View.FACE_ON][0]
    clip = _present("trail_heel_kick", View.FACE_ON)
    (measured,) = (m for m in clip.analysis.measures if m.name == criterion.measure.name)
    heel = np.array([100.0, 50.0])
    mark = Mark((), (), growth=Growth(heel, np.array([0.0, -1.0]), per_unit=10.0))
    arrow = ShownMeasure(criterion, measured, mark).arrow
    assert arrow is not None
    down = arrow[-1] - arrow[0]
    assert down[0] == pytest.approx(0.0)
    assert down[1] == pytest.approx(10.0 * (criterion.marked - criterion.threshold))


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_an_arrow_of_a_turn_leads_to_more_of_it_where_there_is_too_little(
    way: float,
) -> None:
    (criterion,) = (
        c
        for c in CATALOGUE["chest_stall"].criteria[View.FACE_ON]
        if c.measure.name == "chest_turn_through"
    )
    measured = replace(
        _present("chest_stall", View.FACE_ON).analysis.measures[0],
        name=criterion.measure.name,
        value=criterion.marked,
    )
    mark = Mark((), (), turn=Turn(np.array([50.0, 50.0]), half_width=20.0, way=way))
    arrow = ShownMeasure(criterion, measured, mark).arrow
    assert arrow is not None
    assert criterion.marked < criterion.threshold
    assert np.sign((arrow[-1] - arrow[0])[0]) == way


def _way_back(forward: float) -> np.ndarray:
    """The arrow of an arm that swung past the vertical."""
    pose = np.zeros((len(Point), 2))
    pose[Point.LEAD_SHOULDER], pose[Point.LEAD_WRIST] = (0.0, 0.0), (5.0 * forward, -100.0)
    poses = Poses(pose, pose, pose, stature=300.0, forward=forward, view=View.FACE_ON)
    mark = mark_of("lead_arm_swing", poses)
    assert mark is not None
    criterion = CATALOGUE["long_backswing"].criteria[View.FACE_ON][0]
    clip = _present("long_backswing", View.FACE_ON)
    (measured,) = (m for m in clip.analysis.measures if m.name == "lead_arm_swing")
    arrow = ShownMeasure(criterion, replace(measured, value=183.0), mark).arrow
    assert arrow is not None
    return arrow


@pytest.mark.parametrize("forward", [1.0, -1.0])
def test_an_arm_past_the_vertical_is_shown_the_way_back(forward: float) -> None:
    arrow = _way_back(forward)
    assert forward * (arrow[-1] - arrow[0])[0] < 0.0  # away from the target
    assert arrow[-1][1] > arrow[0][1]  # and down


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_no_number_covers_a_joint_a_hand_or_the_club(fault: str, view: View) -> None:
    root = _draw({"Before": _present(fault, view), "After": _present(fault, view)}, fault, view)
    for panel in _panels(root):
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
        for label in (r for r in figure.iter(f"{SVG}rect") if r.get("rx") == "4"):
            x, y, w, h = (float(label.get(n, 0)) for n in ("x", "y", "width", "height"))
            assert x >= 0.0
            assert x + w <= width
            assert y >= 0.0
            assert y + h <= height
            assert not [j for j in joints if x < j[0] < x + w and y < j[1] < y + h]


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_no_club_and_no_head_is_cut_off(fault: str, view: View) -> None:
    root = _draw({"Before": _present(fault, view), "After": _present(fault, view)}, fault, view)
    for panel in _panels(root):
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


def test_the_target_is_marked_on_its_side_for_right_and_left(clips: dict[View, Clip]) -> None:
    clip = clips[View.FACE_ON]
    points = swap_sides(clip.recording.points) * [-1.0, 1.0]
    analysis = replace(clip.analysis, handedness=Judged(Handedness.LEFT, 1.0, given=True))
    mirrored = Clip(None, replace(clip.recording, points=points), analysis)
    ways = []
    for each in (clip, mirrored):
        (panel,) = _panels(_draw({"Now": each}, "upper_body_drift", View.FACE_ON))
        assert "Target" in _said(panel)
        inside = _arrows(panel.find(f"{SVG}svg") or panel)
        (target,) = [a for a in _arrows(panel) if not any(np.array_equal(a, b) for b in inside)]
        ways.append(np.sign(target[-1, 0] - target[0, 0]))
    lead, trail = (
        np.nanmedian(clip.recording.points[:, ANATOMICAL.index(f"{side}_ankle"), 0])
        for side in ("left", "right")
    )
    assert ways == [np.sign(lead - trail), -np.sign(lead - trail)]
    said = _said(_draw({"Now": clips[View.DOWN_THE_LINE]}, "handle_rise", View.DOWN_THE_LINE))
    assert "The target lies straight away from you" in said


def test_lengths_are_told_in_centimetres_or_in_hand_widths(clips: dict[View, Clip]) -> None:
    clip = clips[View.FACE_ON]
    (heel,) = (m for m in clip.analysis.measures if m.name == "trail_heel_height")
    assert heel.value is not None
    for wording, told in (
        (Wording(height_cm=180.0), f"{1.8 * heel.value:.0f} cm"),
        (Wording(), f"{heel.value / 5.0:.1f} hand-widths"),
    ):
        drawn = draw_fault({"Now": clip}, "trail_heel_kick", 6.5, wording)
        said = _said(ElementTree.fromstring(drawn))
        assert f"Height of the trail heel: {told}" in said


def test_a_still_of_the_film_lies_under_the_drawing_point_on_point(
    clips: dict[View, Clip],
) -> None:
    clip = clips[View.FACE_ON]
    frame = next(round(p.frame) for p in clip.analysis.positions if p.number == 4 and p.frame)
    still = Still("data:image/png;base64,iVBORw0KGgo=", 1000.0, 800.0)
    root = _draw({"Now": replace(clip, stills={frame: still})}, "long_backswing", View.FACE_ON)
    (image,) = root.iter(f"{SVG}image")
    figure = _panels(root)[0].find(f"{SVG}svg")
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
    other = _draw({"Now": replace(clip, stills={frame + 9: still})}, "long_backswing", View.FACE_ON)
    assert list(other.iter(f"{SVG}image")) == []


@pytest.mark.parametrize(
    "uri", ["https://elsewhere.invalid/a.png", "data:image/svg+xml;base64,AAAA", "data:text/html,x"]
)
def test_a_still_that_would_be_fetched_or_could_hold_a_script_is_refused(uri: str) -> None:
    with pytest.raises(ValueError, match="embedded"):
        Still(uri, 10.0, 10.0)


def test_the_tempo_is_drawn_as_long_as_it_takes(clips: dict[View, Clip]) -> None:
    clip = clips[View.FACE_ON]
    taken = {m.name: m.value for m in clip.analysis.measures}
    root = _draw({"Now": clip}, "hurried_transition", View.FACE_ON)
    figure = _panels(root)[0].find(f"{SVG}svg")
    assert figure is not None
    back, down = (float(r.get("width", 0)) for r in list(figure.iter(f"{SVG}rect"))[1:])
    assert taken["backswing_time"]
    assert taken["downswing_time"]
    assert back / down == pytest.approx(taken["backswing_time"] / taken["downswing_time"], rel=0.01)
    assert f"Going back: {taken['backswing_time']:.2f} s" in _said(root)
