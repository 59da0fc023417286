"""The demonstration: its clips, what is found in them and what it prints and draws."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from xml.etree import ElementTree

import pytest

from service.analysis.faults import CAUTIONS
from service.analysis.types import Intent, Status
from service.demo import CLIPS, LESSON, clip_body, clip_file, run
from service.settings import Settings
from service.use_cases.analyse import Analyser
from training.examples import demo_lesson, demo_requests, example_requests, write_clips

ANALYSER = Analyser.of(Settings())
PUT_IN = {
    "down_the_line": {"arms_lift_at_top", "shaft_steep_at_top", "trail_heel_kick"},
    "face_on": {"arms_lift_at_top", "trail_heel_kick", "elbows_separate"},
}
FOLLOWS = {"down_the_line": {"trail_knee_drive"}, "face_on": {"lead_wrist_cup"}}
"""A heel that comes up takes the knee along; a folding lead arm lets the clubhead pass it."""


@pytest.fixture(scope="module")
def generated() -> dict[str, dict[str, object]]:
    return {**demo_requests(), LESSON: demo_lesson()}


def _numbers(value: object, path: str = "") -> Iterator[tuple[str, object]]:
    """Every leaf of JSON with its path."""
    if isinstance(value, dict | list):
        children = value.items() if isinstance(value, dict) else enumerate(value)
        for name, child in children:
            yield from _numbers(child, f"{path}/{name}")
    else:
        yield path, value


@pytest.mark.parametrize("name", [*CLIPS, LESSON])
def test_the_packaged_clips_are_what_the_command_makes(
    name: str, generated: dict[str, dict[str, object]]
) -> None:
    packaged = dict(_numbers(json.loads(clip_body(name))))
    made = dict(_numbers(generated[name]))
    assert packaged.keys() == made.keys()
    for path, value in made.items():
        # Another processor may round a last digit the other way.
        close = isinstance(value, float)
        assert packaged[path] == (pytest.approx(value, abs=0.11) if close else value), path


def test_writing_the_clips_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    first = [path.read_bytes() for path in write_clips(tmp_path)]
    assert first == [path.read_bytes() for path in write_clips(tmp_path)]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(
        map(clip_file, [*CLIPS, LESSON])
    )


@pytest.mark.parametrize("name", CLIPS)
def test_the_clips_are_small_and_marked_as_invented(name: str) -> None:
    packed = (resources.files("service.demo") / clip_file(name)).read_bytes()
    assert len(packed) < 120_000
    assert "(invented)" in json.loads(clip_body(name))["client_reference"]


def test_everything_packaged_is_small_and_the_lesson_is_marked_as_invented() -> None:
    folder = resources.files("service.demo")
    sizes = [len((folder / clip_file(name)).read_bytes()) for name in (*CLIPS, LESSON)]
    assert sum(sizes) <= 400_000
    lesson = json.loads(clip_body(LESSON))
    assert "(invented)" in lesson["player"]
    references = [s["request"]["client_reference"] for v in lesson["visits"] for s in v["swings"]]
    assert all("invented" in reference for reference in references)


@pytest.mark.parametrize("name", CLIPS)
def test_the_faults_put_into_the_swing_are_found_and_no_others(name: str) -> None:
    findings = ANALYSER.analyse_body(clip_body(name)).analysis.findings
    present = {f.fault for f in findings if f.status is Status.PRESENT}
    assert PUT_IN[name] <= present <= PUT_IN[name] | FOLLOWS[name]


def test_the_demonstration_prints_each_clip_its_picture_and_the_cautions(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "new" / "folder"
    assert run(out, ANALYSER) == 0
    printed = capsys.readouterr().out
    assert printed.count("Ines Calder (invented)") == len(CLIPS)
    assert "Arms lifting at the top" in printed
    for caution in CAUTIONS:
        assert caution in printed
    assert str(out / "recap.html") in printed
    for name in CLIPS:
        picture = out / f"flagged_{name}.svg"
        assert str(picture) in printed
        assert ElementTree.parse(picture).getroot().tag.endswith("svg")


@pytest.mark.parametrize("name", ["face-on", "down-the-line-with-club", "rehearsal"])
def test_every_example_request_holds_a_swing_with_a_fault_to_find(name: str) -> None:
    swing = ANALYSER.analyse_body(json.dumps(example_requests()[name]).encode())
    assert swing.analysis.swing_found
    assert any(f.status is Status.PRESENT for f in swing.analysis.findings)
    assert (swing.recording.intent is Intent.REHEARSAL) == (name == "rehearsal")
