"""Pictures of single positions, read back as XML."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import pytest

from service.analysis.pose.points import ANATOMICAL, Point, swap_sides
from service.analysis.types import (
    Handedness,
    Judged,
    Position,
    Reason,
    Source,
    SwingAnalysis,
    View,
)
from service.languages import language
from service.lessons.words.wording import Wording
from service.report.clip import Clip
from service.report.drawing.svg import ANGLE, LEAD, TRAIL
from service.report.pictures.fault_picture import draw_fault
from service.report.pictures.frames import draw_frame
from service.report.pictures.poses import PositionNotShown, frame_of
from service.report.pictures.strip import draw_strip
from tests.report.pictures.drawn import SVG, analysed, texts_of


@pytest.fixture(scope="module")
def face_on() -> Clip:
    return analysed(View.FACE_ON)


@pytest.fixture(scope="module")
def down_the_line() -> Clip:
    return analysed(View.DOWN_THE_LINE)


def _frame(swing: Clip, position: float) -> Element:
    return ElementTree.fromstring(draw_frame(swing, position))


def _angle(root: Element, title: str) -> float:
    (told,) = (t for t in texts_of(root) if t.startswith(f"{title}: "))
    return float(told.removeprefix(f"{title}: ").rstrip("°").replace("−", "-"))


def _arcs(root: Element) -> list[Element]:
    return [
        p for p in root.iter(f"{SVG}path") if p.get("stroke") == ANGLE and "A" in p.get("d", "")
    ]


def _without(swing: Clip, *names: str) -> Clip:
    points = swing.recording.points.copy()
    points[:, [ANATOMICAL.index(name) for name in names]] = np.nan
    return replace(swing, recording=replace(swing.recording, points=points))


def _limbs(figure: Element, stroke: str) -> np.ndarray:
    (path,) = (
        p
        for p in figure.iter(f"{SVG}path")
        if p.get("stroke") == stroke and p.get("stroke-width") == "4.5"
    )
    return np.array(re.findall(r"-?[\d.]+", path.get("d", "")), dtype=float).reshape(-1, 2)


def _figures(root: Element) -> list[Element]:
    return list(root.iter(f"{SVG}svg"))[1:]


def test_an_angle_is_drawn_as_large_as_the_number_beside_it(down_the_line: Clip) -> None:
    root = _frame(down_the_line, 7)
    arcs = [re.findall(r"-?[\d.]+", arc.get("d", "")) for arc in _arcs(root)]
    written = [t for t in texts_of(root) if re.fullmatch(r"−?\d+°", t)]
    assert len(arcs) == len(written) >= 2
    for arc, text in zip(arcs, written, strict=True):
        x0, y0, radius, *_, x1, y1 = map(float, arc)
        chord = np.hypot(x1 - x0, y1 - y0)
        drawn = 2 * np.degrees(np.arcsin(min(1.0, chord / (2 * radius))))
        assert drawn == pytest.approx(float(text[:-1].replace("−", "-")), abs=1.5)


@pytest.mark.parametrize(
    ("title", "measure", "position"),
    [
        ("Trunk from the vertical", "trunk_lean_p1", 1),
        ("Trunk from the vertical", "trunk_lean_p7", 7),
        ("Bend of the trail elbow", "trail_elbow_flexion_p4", 4),
    ],
)
def test_angles_agree_with_what_the_measures_say(
    down_the_line: Clip, title: str, measure: str, position: int
) -> None:
    (measured,) = (m for m in down_the_line.analysis.measures if m.name == measure)
    assert measured.value is not None
    assert measured.uncertainty is not None
    drawn = _angle(_frame(down_the_line, position), title)
    assert drawn == pytest.approx(measured.value, abs=max(3.0, 3.0 * measured.uncertainty))


def test_what_rests_on_a_missing_joint_is_left_out(down_the_line: Clip) -> None:
    whole = _frame(down_the_line, 4)
    part = _frame(_without(down_the_line, "right_elbow"), 4)
    assert len(_arcs(part)) == len(_arcs(whole)) - 1
    assert not any("trail elbow" in told for told in texts_of(part))
    assert "nan" not in ElementTree.tostring(part, encoding="unicode").lower()


def test_an_arm_that_points_at_the_camera_gets_no_angle(down_the_line: Clip) -> None:
    frame = frame_of(down_the_line.analysis, 5)
    points = down_the_line.recording.points[:, [Point.LEAD_SHOULDER, Point.LEAD_WRIST]]
    lengths = np.hypot(*(points[:, 1] - points[:, 0]).T)
    assert lengths[frame] < 0.6 * np.nanquantile(lengths, 0.9)
    assert not any("Lead arm" in told for told in texts_of(_frame(down_the_line, 5)))


def test_a_position_between_two_shows_the_frame_nearest_to_it(face_on: Clip) -> None:
    coordinate = face_on.analysis.coordinate
    frame = frame_of(face_on.analysis, 3.5)
    assert abs(coordinate[frame] - 3.5) == np.nanmin(np.abs(coordinate - 3.5))
    assert frame_of(face_on.analysis, 3) < frame < frame_of(face_on.analysis, 4)
    assert f"{face_on.recording.times[frame]:.2f} s" in texts_of(_frame(face_on, 3.5))


@pytest.mark.parametrize("position", [0.5, 10.5, -3.0, float("nan"), float("inf")])
def test_a_position_beyond_the_swing_is_refused(face_on: Clip, position: float) -> None:
    with pytest.raises(PositionNotShown, match=r"it shows P1 to P10"):
        _frame(face_on, position)


def test_a_position_that_was_not_found_is_refused_with_the_reason(face_on: Clip) -> None:
    lost = Position(8, Source.NOT_FOUND, reason=Reason("clip_ends", "The clip ends before it."))
    positions = tuple(lost if p.number == 8 else p for p in face_on.analysis.positions)
    analysis = replace(face_on.analysis, positions=positions)
    with pytest.raises(PositionNotShown, match=r"P8 was not found\. The clip ends before it\."):
        draw_frame(replace(face_on, analysis=analysis), 8)


def test_a_clip_without_a_swing_is_refused_with_the_reason(face_on: Clip) -> None:
    reason = Reason("none", "Nobody swings in this clip.")
    nothing = SwingAnalysis(False, reason, None, None, face_on.analysis.quality)
    with pytest.raises(PositionNotShown, match="Nobody swings"):
        draw_frame(replace(face_on, analysis=nothing), 1)


def test_before_and_after_have_one_scale_whatever_the_camera_made_of_them(
    face_on: Clip,
) -> None:
    nearer = replace(face_on.recording, points=1.7 * face_on.recording.points + [300.0, -80.0])
    after = replace(face_on, recording=nearer)
    root = ElementTree.fromstring(
        draw_fault({"Before": face_on, "After": after}, "upper_body_drift", 4.0)
    )
    first, second = _figures(root)
    assert _limbs(first, LEAD) == pytest.approx(_limbs(second, LEAD), abs=0.11)
    assert [t for t in texts_of(root) if t in ("Before", "After")] == ["Before", "After"]


def test_feet_at_address_stand_in_the_same_place_though_the_body_has_moved(
    face_on: Clip,
) -> None:
    points = face_on.recording.points.copy()
    upper = [i for i, name in enumerate(ANATOMICAL) if not re.search("ankle|heel|toe|knee", name)]
    points[:, upper] += [40.0, 0.0]
    swayed = replace(face_on, recording=replace(face_on.recording, points=points))
    root = ElementTree.fromstring(
        draw_fault({"Before": face_on, "After": swayed}, "upper_body_drift", 4.0)
    )
    first, second = (_limbs(figure, LEAD) for figure in _figures(root))
    apart = second - first
    ankle_to_toe = apart[-6:]  # the last three bones
    assert np.abs(ankle_to_toe).max() < 3.0
    assert apart[:4, 0].min() > 5.0  # the arm


def test_a_left_hander_has_the_same_angles_as_the_mirror_image(face_on: Clip) -> None:
    points = swap_sides(face_on.recording.points) * [-1.0, 1.0]
    handed = Judged(Handedness.LEFT, 1.0, given=True)
    analysis = replace(face_on.analysis, handedness=handed)
    mirrored = Clip(None, replace(face_on.recording, points=points), analysis)
    assert texts_of(_frame(mirrored, 4)) == texts_of(_frame(face_on, 4))


def test_sides_differ_by_more_than_colour_and_the_picture_describes_itself(
    face_on: Clip,
) -> None:
    root = _frame(face_on, 7)
    (figure,) = _figures(root)
    dashes = {
        p.get("stroke"): p.get("stroke-dasharray")
        for p in figure.iter(f"{SVG}path")
        if p.get("stroke-width") == "4.5"
    }
    assert dashes[LEAD] is None
    assert dashes[TRAIL]
    assert root.get("role") == "img"
    assert [child.tag for child in root[:2]] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text == "P7, face on"
    assert "Lead arm to shaft" in (root[1].text or "")


def test_the_strip_shows_every_position_with_its_plain_name(face_on: Clip) -> None:
    said = texts_of(ElementTree.fromstring(draw_strip(face_on)))
    numbers = [t.removeprefix("≈ ") for t in said if "P" in t]
    assert numbers == [f"P{n}" for n in range(1, 11)]
    assert {"address", "top", "impact", "finish"} <= set(said)
    inferred = [p.name for p in face_on.analysis.positions if p.source is Source.INFERRED]
    assert [t for t in said if t.startswith("≈")] == [f"≈ {name}" for name in inferred]


def test_no_club_or_head_is_cut_off_in_the_strip(face_on: Clip, down_the_line: Clip) -> None:
    for clip in (face_on, down_the_line):
        root = ElementTree.fromstring(draw_strip(clip))
        panels = list(root.findall(f"{SVG}g"))
        assert len(panels) == 10
        for panel in panels:
            room = panel.find(f"{SVG}rect")
            assert room is not None
            width, height = (float(room.get(side, 0)) for side in ("width", "height"))
            drawn = panel.find(f"{SVG}g")
            assert drawn is not None
            circles = [(c.get("cx"), c.get("cy"), c.get("r")) for c in drawn.iter(f"{SVG}circle")]
            clubs = [(r.get("x"), r.get("y"), r.get("width")) for r in drawn.iter(f"{SVG}rect")]
            assert len(clubs) == 1
            assert circles
            for x, y, size in (*circles, *clubs):
                left, top, reach = (0.5 * float(each or 0) for each in (x, y, size))
                assert left - reach >= -1.0
                assert left + reach <= width + 1.0
                assert top - reach >= -1.0
                assert top + reach <= height + 1.0


def test_the_strip_says_which_position_was_not_found(face_on: Clip) -> None:
    lost = Position(10, Source.NOT_FOUND, reason=Reason("clip_ends", "The clip ends."))
    analysis = replace(face_on.analysis, positions=(*face_on.analysis.positions[:9], lost))
    root = ElementTree.fromstring(draw_strip(replace(face_on, analysis=analysis)))
    assert texts_of(root).count("not found") == 1


def test_a_frame_is_told_in_german(face_on: Clip) -> None:
    told = draw_frame(face_on, 4, Wording(language("de")))
    assert "P4, von vorn" in told
    assert "Vorderer Arm gegen die Waagerechte" in told
    assert "Lead" not in told
