"""Made-up swings as requests: the clips of the demonstration and examples for the contract.

``python -m training.examples`` writes the demonstration's clips and the contract's example
requests anew. Players and their academy are invented.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Final

import numpy as np

import service.demo
from service.analysis.pose.layouts import LAYOUTS
from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import Club, FloatArray, Handedness, Intent, SwingRecording, View
from service.records import Role
from training.simulator.amounts import FaultAmounts
from training.simulator.body.segments import Sex
from training.simulator.filming.camera import Camera
from training.simulator.filming.estimating.estimator import EstimatorNoise
from training.simulator.filming.film import film
from training.simulator.golfer import Golfer
from training.simulator.swing.motion import SwingMotion, swing_motion

PLAYER: Final[str] = "Ines Calder (invented), Marlow Quay Golf Academy (invented)"
EXAMPLES: Final[Path] = Path(__file__).parents[1] / "openapi" / "examples"
Request = dict[str, object]

_INES: Final = Golfer(stature=1.69, sex=Sex.FEMALE, club=Club.MID_IRON)
# Sharp footage of one player alone: the demonstration is about the swing, not the footage.
_SHARP: Final = EstimatorNoise(level=0.12, swaps=0.0, gaps=0.0)
_CLUB_ENDS: Final = ("grip_end", "clubhead")
_STANDING: Final[float] = 0.4
"""Seconds of standing still kept before and after the swing."""


def demo_requests() -> dict[str, Request]:
    """The same swing from both views, by the names of :data:`service.demo.CLIPS`."""
    faults = FaultAmounts(
        arms_lift_at_top=1.2, shaft_steep_at_top=1.3, trail_heel_kick=1.2, elbows_separate=0.9
    )
    swing = made_up_swing(_INES, faults)
    reference = f"invented demo: {PLAYER}"
    return {view.value: filmed(swing, view, "halpe_26", 120, 1, reference) for view in View}


def demo_lesson() -> Request:
    """Two visits of the same player, as :func:`service.demo.lesson_page` reads them.

    The first shows the faults. In the second they are there before, none in the slow
    rehearsal, and after it at full speed the arms still finish with the turn while the
    trail heel is back to what it was.
    """
    first = FaultAmounts(arms_lift_at_top=1.3, shaft_steep_at_top=1.3, trail_heel_kick=1.2)
    before = FaultAmounts(arms_lift_at_top=1.2, shaft_steep_at_top=1.2, trail_heel_kick=1.2)
    after = FaultAmounts(shaft_steep_at_top=0.3, trail_heel_kick=1.2)
    seeds = count(20)
    visits: list[Request] = [
        {
            "date": "2025-05-06",
            "title": "First look",
            "coach_note": None,
            "swings": _of_the_player(Role.OTHER, first, seeds),
        },
        {
            "date": "2025-05-20",
            "title": "Finishing the backswing with the turn",
            "coach_note": "You found it in the slow rehearsal and took it to full speed.\n"
            "Ten slow ones before every bucket. Next comes the trail heel.",
            "swings": [
                *_of_the_player(Role.BEFORE, before, seeds),
                *_of_the_player(Role.REHEARSAL, FaultAmounts(), seeds, Intent.REHEARSAL),
                *_of_the_player(Role.AFTER, after, seeds),
                *_of_the_player(Role.AFTER, after, seeds),
            ],
        },
    ]
    return {"player": PLAYER, "visits": visits}


def example_requests() -> dict[str, Request]:
    """Example requests for the contract, by name: what different callers send.

    Face-on without a club from a phone, down the line with feet and club, and the
    rehearsal of a left-hander.
    """
    sound = Golfer(stature=1.82, club=Club.DRIVER)
    left_handed = Golfer(stature=1.74, club=Club.WEDGE, handedness=Handedness.LEFT)
    drifting = made_up_swing(sound, FaultAmounts(upper_body_drift=1.2))
    steep = made_up_swing(sound, FaultAmounts(shaft_steep_at_top=1.3, trail_heel_kick=1.2))
    rehearsal = made_up_swing(left_handed, FaultAmounts(trail_shoulder_drop=1.2), Intent.REHEARSAL)
    return {
        "face-on": filmed(drifting, View.FACE_ON, "coco_17", 60, 11, "invented example: driver"),
        "down-the-line-with-club": filmed(
            steep, View.DOWN_THE_LINE, "halpe_26", 60, 12, "invented example: feet and club"
        ),
        "rehearsal": filmed(
            rehearsal, View.FACE_ON, "coco_17", 30, 13, "invented example: slow rehearsal"
        ),
    }


def write_clips(folder: Path) -> list[Path]:
    """Write the clips and the lesson of the demonstration; returns their paths."""
    written = []
    files: dict[str, Request] = {**demo_requests(), service.demo.LESSON: demo_lesson()}
    for name, content in files.items():
        path = folder / service.demo.clip_file(name)
        text = json.dumps(content, separators=(",", ":"))
        # Without a time in it the same clip gives the same bytes.
        path.write_bytes(gzip.compress(text.encode(), mtime=0))
        written.append(path)
    return written


def _of_the_player(
    role: Role, faults: FaultAmounts, seeds: Iterator[int], intent: Intent = Intent.FULL_SPEED
) -> list[Request]:
    """A swing of the demonstration's player from both views, in a role."""
    swing = made_up_swing(_INES, faults, intent)
    reference = f"invented demo: {role.value}"
    return [
        {
            "role": role.value,
            "request": filmed(swing, view, "halpe_26", 60, next(seeds), reference),
        }
        for view in View
    ]


def made_up_swing(
    golfer: Golfer, faults: FaultAmounts, intent: Intent = Intent.FULL_SPEED
) -> SwingMotion:
    """A swing with the player standing still before and after it."""
    return swing_motion(golfer, faults, intent=intent, lead_in=_STANDING, tail=_STANDING)


def filmed(
    swing: SwingMotion, view: View, layout: str, fps: int, seed: int, reference: str
) -> Request:
    """Film a swing and put it as a caller would; the club goes with layouts that have feet."""
    rng = np.random.default_rng(seed)
    recording = film(swing, Camera.standing(view), fps=fps, noise=_SHARP, rng=rng)
    joints = LAYOUTS[layout].joints
    request: Request = {
        "client_reference": reference,
        "layout": layout,
        "fps": fps,
        "view": view.value,
        "intent": swing.intent.value,
        "club": swing.club.value,
        "keypoints": [
            list(frame) for frame in zip(*(_track(recording, j) for j in joints), strict=True)
        ],
    }
    if "left_heel" in joints:
        request["club_points"] = {name: _track(recording, name) for name in _CLUB_ENDS}
    return request


def _track(recording: SwingRecording, joint: str | None) -> list[list[float] | None]:
    """One point over time as JSON: ``[x, y, confidence]`` or null."""
    if joint is None:
        return [None] * len(recording.times)
    index = ANATOMICAL.index(joint)
    return [
        _sent(point, sure)
        for point, sure in zip(
            recording.points[:, index], recording.confidence[:, index], strict=True
        )
    ]


def _sent(point: FloatArray, confidence: float) -> list[float] | None:
    if np.isnan(point).any():
        return None
    return [round(float(point[0]), 1), round(float(point[1]), 1), round(float(confidence), 2)]


def write_examples(folder: Path) -> list[Path]:
    """Write the example requests as ``NAME-request.json``, one frame a line."""
    written = []
    for name, request in example_requests().items():
        path = folder / f"{name}-request.json"
        path.write_text(json.dumps(request).replace("]], [[", "]],\n[[") + "\n", encoding="utf-8")
        written.append(path)
    return written


if __name__ == "__main__":
    for path in (*write_clips(Path(service.demo.__file__).parent), *write_examples(EXAMPLES)):
        print(f"{path} ({path.stat().st_size} bytes)")
