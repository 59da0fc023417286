"""Clips in one file a frame."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from service.intake.many.reading import ReadSwing, Refused
from tests.archive.files.listed import listed
from tests.intake.test_formats import CASES, plain


def write_frames(folder: Path, frames: list[Any], name: str = "clip_") -> list[Path]:
    """A clip in one file a frame, as OpenPose writes it."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / f"{name}{number:012}_keypoints.json" for number in range(len(frames))]
    for path, frame in zip(paths, frames, strict=True):
        path.write_text(json.dumps(frame))
    return paths


def _openpose() -> list[Any]:
    joints, write, _ = CASES["openpose_json"]
    frames = write(plain(joints))
    assert isinstance(frames, list)
    return frames


def test_a_clip_in_one_file_a_frame_is_read_as_the_list_of_its_frames(tmp_path: Path) -> None:
    frames = _openpose()
    (tmp_path / "whole").mkdir()
    (tmp_path / "whole" / "clip.json").write_text(json.dumps(frames))
    folder = tmp_path / "frames"
    write_frames(folder, frames)
    write_frames(folder, frames[:20], name="other_")
    write_frames(folder, frames, name="")
    nameless, clip, other = listed(folder)
    (whole,) = listed(tmp_path / "whole")
    assert isinstance(clip, ReadSwing), clip
    assert isinstance(whole, ReadSwing)
    assert isinstance(nameless, ReadSwing)
    assert isinstance(other, ReadSwing)
    assert clip.origin.path == "clip_000000000000_keypoints.json"
    np.testing.assert_array_equal(clip.recording.points, whole.recording.points)
    np.testing.assert_array_equal(nameless.recording.points, whole.recording.points)
    np.testing.assert_array_equal(other.recording.points, whole.recording.points[:20])


def test_a_frame_that_has_no_file_holds_nobody_and_the_others_keep_their_times(
    tmp_path: Path,
) -> None:
    paths = write_frames(tmp_path, _openpose())
    paths[5].unlink()
    (clip,) = listed(tmp_path)
    assert isinstance(clip, ReadSwing), clip
    assert np.isnan(clip.recording.points[5]).all()
    assert len(clip.recording.times) == len(paths)


def test_a_clip_with_a_broken_frame_is_told_once_with_that_frame(tmp_path: Path) -> None:
    paths = write_frames(tmp_path, _openpose())
    paths[5].write_text('{"people": [')
    (refused,) = listed(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.code == "malformed-json"
    assert paths[5].name in refused.failure.message


def test_frames_numbered_far_apart_take_no_memory(tmp_path: Path) -> None:
    write_frames(tmp_path, _openpose()[:2])
    (tmp_path / "clip_999999999999_keypoints.json").write_text("{}")
    (refused,) = listed(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.code == "body-too-large"
