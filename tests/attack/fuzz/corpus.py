"""Real-shaped requests of every format, from which fuzzing starts; kept in ``seeds``.

``python -m tests.attack.fuzz.corpus`` writes them anew from a simulated swing. They are kept so
that a case that once failed stays the same case whatever becomes of the simulator.
"""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any, Final

from service.demo import clip_body
from tests.intake.test_formats import CASES, HEIGHT, WIDTH, arrays, plain, yolo_summary

FOLDER: Final = Path(__file__).parent / "seeds"


def bodies() -> dict[str, bytes]:
    """The kept requests by name."""
    return {
        file.name.removesuffix(".json.gz"): gzip.decompress(file.read_bytes())
        for file in sorted(FOLDER.glob("*.json.gz"))
    }


def main() -> None:
    """Write them anew."""
    made: dict[str, Any] = {}
    for name, (joints, write, normalised) in CASES.items():
        frames = _rounded(write(plain(joints)))
        size = {"image_size": {"width": WIDTH, "height": HEIGHT}} if normalised else {}
        made[name] = {"format": name, "fps": 30.0, **size, "keypoints": frames}
    joints = CASES["yolo_pose"][0]
    frames = plain(joints)
    made["yolo_summary"] = {"fps": 30.0, "keypoints": _rounded(yolo_summary(frames))}
    made["two_people"] = {"fps": 30.0, "keypoints": _rounded(arrays(frames, frames))}
    times = [round(k / 30.0, 4) for k in range(len(frames))]
    made["plain_timed"] = {
        "layout": list(joints),
        "timestamps": times,
        "keypoints": _rounded(frames),
        "intent": "rehearsal",
        "handedness": "left",
    }
    for view in ("face_on", "down_the_line"):
        made[f"club_{view}"] = json.loads(clip_body(view))
    FOLDER.mkdir(exist_ok=True)
    for name, request in made.items():
        packed = gzip.compress(json.dumps(request, separators=(",", ":")).encode(), 9, mtime=0)
        (FOLDER / f"{name}.json.gz").write_bytes(packed)
        print(name, len(packed))


def _rounded(value: Any) -> Any:
    match value:
        case float():
            return round(value, 3)
        case list():
            return [_rounded(each) for each in value]
        case dict():
            return {name: _rounded(each) for name, each in value.items()}
        case _:
            return value


if __name__ == "__main__":
    main()
