"""Example requests of each fault in each view: ``python -m training.fault_examples``.

Swings with the fault are filmed, stronger and by other chances of the film, until the model that
is served finds that fault and no other; that request is written into :mod:`service.examples`.
"""

from __future__ import annotations

import gzip
import json
import sys
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Final

import service.examples
from service.analysis.types import Club, Status, View
from service.examples import BAD_POINTS, CLEAN, NO_SWING, Example, wanted
from service.settings import Settings
from service.use_cases.analyse import Analyser
from training.examples import Request, filmed, made_up_swing
from training.simulator.amounts import FaultAmounts
from training.simulator.golfer import Golfer

_AMOUNTS: Final = (1.2, 1.5, 1.0, 1.8, 2.2)
"""Amounts of a fault (:class:`FaultAmounts`) in the order in which they are tried."""
_GOLFERS: Final = (
    Golfer(stature=1.78, club=Club.MID_IRON),
    Golfer(stature=1.70, club=Club.SHORT_IRON),
    Golfer(stature=1.84, club=Club.DRIVER),
)
_SEEDS: Final = range(3)
_STANDING_FRAMES: Final[int] = 24


def write(folder: Path, analyser: Analyser) -> list[str]:
    """Write every example; returns the names of those for which no request was found."""
    missing = []
    for example in wanted():
        file = folder / example.file
        request = _found(example, analyser)
        if request is None:
            missing.append(example.name)
            file.unlink(missing_ok=True)
            continue
        text = json.dumps(request, separators=(",", ":"))
        file.write_bytes(gzip.compress(text.encode(), mtime=0))
    return missing


def _found(example: Example, analyser: Analyser) -> Request | None:
    if example.shows in (NO_SWING, BAD_POINTS):
        clean = next(_requests(Example(CLEAN, View.FACE_ON)))
        return _standing(clean) if example.shows == NO_SWING else _with_bad_points(clean)
    return next((r for r in _requests(example) if _shows(r, example, analyser)), None)


def _requests(example: Example) -> Iterator[Request]:
    """Requests that may show it, the plainest first."""
    assert example.view is not None  # only swings are filmed
    reference = f"invented example: {example.name}"
    amounts = (0.0,) if example.shows == CLEAN else _AMOUNTS
    for golfer, amount, seed in product(_GOLFERS, amounts, _SEEDS):
        faults = FaultAmounts() if not amount else FaultAmounts(**{example.shows: amount})
        swing = made_up_swing(golfer, faults)
        yield filmed(swing, example.view, "halpe_26", 60, seed, reference)


def _shows(request: Request, example: Example, analyser: Analyser) -> bool:
    analysis = analyser.analyse_body(json.dumps(request).encode()).analysis
    present = tuple(f.fault for f in analysis.findings if f.status is Status.PRESENT)
    return analysis.swing_found and present == example.present


def _standing(request: Request) -> Request:
    """The first frames only, in which the player stands at address."""
    keypoints, club = request["keypoints"], request["club_points"]
    assert isinstance(keypoints, list)
    assert isinstance(club, dict)
    return request | {
        "client_reference": "invented example: a player who only stands there",
        "keypoints": keypoints[:1] * _STANDING_FRAMES,
        "club_points": {name: track[:1] * _STANDING_FRAMES for name, track in club.items()},
    }


def _with_bad_points(request: Request) -> Request:
    """Points that are none: a text, a confidence above 1, a point of one number."""
    standing = _standing(request)
    frames = standing["keypoints"]
    assert isinstance(frames, list)
    keypoints = [list(frame) for frame in frames]
    keypoints[3][0], keypoints[4][1], keypoints[5][2] = ["640", 210], [612, 480, 1.7], [650]
    return standing | {
        "client_reference": "invented example: bad points",
        "keypoints": keypoints,
    }


if __name__ == "__main__":
    for each in write(Path(service.examples.__file__).parent, Analyser.of(Settings())):
        print(f"no request shows {each} alone, so there is no such example", file=sys.stderr)
