"""How far from the camera every joint usually is, position by position.

``python -m training.data.typical_depth`` writes ``service/analysis/events/typical_depth.json``,
which :mod:`service.analysis.events.perspective` reads: means over players of two makes, and how
far players differ from them.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final

import numpy as np

from service.analysis.events import perspective
from service.analysis.types import FloatArray, Intent, View
from training.data.draws import random_amounts
from training.simulator import random_golfer, random_swing
from training.simulator.keyed import random_keyed_swing

TABLE: Final[Path] = Path(perspective.__file__).parent / "typical_depth.json"
_PLAYERS: Final[int] = 80
"""Of each make, over whom is averaged."""
_DIGITS: Final[int] = 3
# Face-on the camera looks along -z, down the line along x.
_LOOKS_ALONG: Final[dict[View, tuple[int, float]]] = {
    View.FACE_ON: (2, -1.0),
    View.DOWN_THE_LINE: (0, 1.0),
}


def typical_depths(players: int = _PLAYERS) -> dict[str, dict[str, FloatArray]]:
    """By view, ``depth`` of shape (N_POINTS, 10) at P1 to P10 and ``spread`` of shape (N_POINTS,)
    from player to player, in statures beyond the middle of the feet."""
    bodies = np.array([body for n in range(players) for body in _bodies(n)])
    told = {}
    for view, (axis, sign) in _LOOKS_ALONG.items():
        depth = sign * bodies[..., axis]
        told[view.value] = {
            "depth": depth.mean(axis=0).T,
            "spread": np.sqrt(depth.var(axis=0).mean(axis=0)),
        }
    return told


def _bodies(number: int) -> list[FloatArray]:
    """Joints at P1 to P10 in statures, of one player of each make who reaches all of them."""
    rng = np.random.default_rng([0, 23, number])
    found = []
    _, amounts = random_amounts(rng, Intent.FULL_SPEED)
    for motion in (
        random_swing(rng, random_golfer(rng), amounts),
        random_keyed_swing(rng, amounts=amounts),
    ):
        times = motion.position_times
        if np.isfinite(times).all():
            found.append(motion.canonical_joints(times) / motion.golfer.stature)
    return found


def main() -> None:
    """Write the table."""
    told = {
        view: {name: np.round(values, _DIGITS).tolist() for name, values in parts.items()}
        for view, parts in typical_depths().items()
    }
    TABLE.write_text(json.dumps(told) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
