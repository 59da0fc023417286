"""Are the answers byte for byte what they were?

``python -m tests.reference.same_answers record FILE`` writes the answer to every example
request, demonstration clip and reference clip; ``... compare FILE`` analyses all of them again
and names each answer that differs, with the first place where it does. For changes that must not
change an answer.
"""

from __future__ import annotations

import gzip
import json
import sys
from collections.abc import Iterator
from pathlib import Path

from service.contract import answer_to
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.reference.clips import FOLDER, GOLF, OTHER, read, request

_ROOT = Path(__file__).parents[2]


def requests() -> Iterator[tuple[str, bytes]]:
    """Every request by a name of its own."""
    for file in sorted((_ROOT / "openapi/examples").glob("*-request.json")):
        yield f"example {file.name}", file.read_bytes()
    for file in sorted((_ROOT / "service/demo").glob("*.json.gz")):
        content = json.loads(gzip.decompress(file.read_bytes()))
        for number, found in enumerate(_requests_within(content)):
            yield f"demo {file.name} {number}", json.dumps(found).encode()
    for name in (*GOLF, *OTHER):
        if (FOLDER / f"{name}.ndjson").is_file():
            for clip in read(name):
                yield f"{name} {clip['id']}", json.dumps(request(clip)).encode()


def _requests_within(content: object) -> Iterator[dict[str, object]]:
    if isinstance(content, dict) and "keypoints" in content:
        yield content
        return
    inside = content.values() if isinstance(content, dict) else content
    for each in inside if isinstance(inside, list) or isinstance(content, dict) else ():
        yield from _requests_within(each)


def first_difference(old: object, new: object, where: str = "") -> str | None:
    """The first place where two JSON values differ and both values, ``None`` if equal."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key in old.keys() | new.keys():
            found = first_difference(old.get(key), new.get(key), f"{where}/{key}")
            if found:
                return found
        return None
    if isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        found = (
            first_difference(o, n, f"{where}/{k}")
            for k, (o, n) in enumerate(zip(old, new, strict=True))
        )
        return next(filter(None, found), None)
    return None if old == new else f"{where}: {str(old)[:80]} became {str(new)[:80]}"


def main(command: str, file: str) -> int:
    """Record, or compare and tell how many differ."""
    analyser = Analyser.of(Settings())
    answers = {name: json.dumps(answer_to(body, analyser)) for name, body in requests()}
    if command == "record":
        Path(file).write_text(json.dumps(answers), encoding="utf-8")
        print(f"{len(answers)} answers recorded")
        return 0
    before = json.loads(Path(file).read_text(encoding="utf-8"))
    differing = [
        name for name in before.keys() | answers.keys() if before.get(name) != answers.get(name)
    ]
    for name in sorted(differing):
        old, new = (json.loads(each.get(name, "null")) for each in (before, answers))
        print(f"{name}: {first_difference(old, new) or 'the order of members'}")
    print(f"{len(before) - len(differing)} of {len(before)} answers are the same")
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
