"""``python -m tests.bench.archive.broken [FILES [WORKERS]]``: mixed formats, some of it broken.

Copies of the reference clips (of simulated swings where there are none) under other names, in
every format that the service reads, plain, packed, in lines and in tables; 1 % broken in ten ways.
Every broken one must be named with its reason, every other one tagged once. Exit status 1 where
not.
"""

from __future__ import annotations

import gzip
import json
import os
import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from io import BytesIO
from itertools import cycle
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pyarrow.parquet as pq
from tqdm import tqdm

from service.analysis.pose.points import ANATOMICAL
from service.archive.results import finished_results
from service.archive.table import clips_table
from service.intake.errors import InvalidRequest
from service.intake.recording import Limits, read_clip, to_recording
from service.intake.request import request_of
from service.settings import Settings
from service.use_cases.archive.tag import TagArchive, tag_archive
from tests.bench.archive.made import columns, requests
from tests.intake.test_formats import CASES, HEIGHT, WIDTH
from tests.reference import clips

FILES = 100_000
SHARE_BROKEN = 0.01
LINES = 20
A_FOLDER = 1_000
NEEDED = ("swing", "swing_found")

Request = dict[str, Any]


def bases() -> list[Request]:
    """The clips that are copied, as requests of plain points."""
    if all((clips.FOLDER / f"{name}.ndjson").is_file() for name in clips.GOLF):
        found = [clips.request(each) for name in clips.GOLF for each in clips.read(name)]
        return [each for each in found if len(each["keypoints"]) >= 12]
    print("the reference clips are not here; simulated swings in their place")
    return list(requests(24))


def in_formats(request: Request) -> Iterator[Request]:
    """A clip as plain points, and as each pose library would have written it."""
    yield request
    recording = to_recording(request_of(request), Limits(2, 5000))
    both = np.concatenate([recording.points, recording.confidence[..., None]], axis=-1)
    for name, (joints, write, normalised) in CASES.items():
        cells = [
            [both[k, ANATOMICAL.index(j)] if j else [np.nan] * 3 for j in joints]
            for k in range(len(both))
        ]
        plain = [[None if np.isnan(p[0]) else [float(v) for v in p] for p in f] for f in cells]
        size = {"image_size": {"width": WIDTH, "height": HEIGHT}} if normalised else {}
        kept = {"fps": request["fps"], "client_reference": request["client_reference"]}
        yield {"keypoints": write(plain), "format": name, **size, **kept}


def _frames(change: Callable[[list[float]], list[Any]]) -> Callable[[Request], bytes]:
    def broken(request: Request) -> bytes:
        frames = [[p and change(p) for p in frame] for frame in request["keypoints"]]
        return json.dumps({**request, "keypoints": frames}).encode()

    return broken


def _with(**changes: Any) -> Callable[[Request], bytes]:
    return lambda request: json.dumps({**request, **changes}).encode()


WAYS: dict[str, tuple[Callable[[Request], bytes], str, str]] = {
    "cut off": (lambda r: json.dumps(r).encode()[:-200], "malformed-json", ""),
    "empty": (lambda r: b"", "malformed-json", ""),
    "not UTF-8": (lambda r: b'{"client_reference": "\xff"}', "malformed-json", ""),
    "gzip that breaks off": (
        lambda r: gzip.compress(json.dumps(r).encode())[:-40],
        "malformed-gzip",
        "",
    ),
    "no frame rate": (_with(fps=None), "invalid-request", "/fps"),
    "an unknown view": (_with(view="from above"), "invalid-request", "/view"),
    "another layout": (_with(layout="coco_wholebody_133"), "invalid-request", "/keypoints/0"),
    "a text for a coordinate": (
        _frames(lambda p: ["?", *p[1:]]), "invalid-request", "/keypoints",
    ),
    "confidence in percent": (_frames(lambda p: [*p[:2], 88]), "invalid-request", "/keypoints"),
    "y upwards": (_frames(lambda p: [p[0], -p[1], *p[2:]]), "invalid-request", "/keypoints"),
}  # fmt: skip
"""How to break a clip of plain points, and the code and place that must be told of it."""


def write_archive(archive: Path, files: int) -> tuple[dict[str, str], int]:
    """Write the files; which of them are broken and how, and how many swings are good."""
    chosen = random.Random(7)
    whole = bases()
    plain = [request for request in whole if not isinstance(request["layout"], str)] or whole
    contents = Contents.of(whole)
    ways, broken = cycle(WAYS), {}
    sick = set(chosen.sample(range(files), round(files * SHARE_BROKEN)))
    good = 0
    with ThreadPoolExecutor() as writers:
        for number in tqdm(range(files), "writing", unit="file"):
            name = f"{number // A_FOLDER:04d}/{number:06d}"
            if not number % A_FOLDER:
                (archive / name).parent.mkdir(parents=True)
            if number in sick:
                way = next(ways)
                end = "json.gz" if "gzip" in way else "json"
                content = WAYS[way][0](chosen.choice(plain))
                broken[f"{name}.{end}"] = way
            else:
                end, content, swings = contents.of_file(number)
                good += swings
            writers.submit((archive / f"{name}.{end}").write_bytes, content)
    return broken, good


@dataclass(frozen=True)
class Contents:
    """What whole files hold: a clip as text or packed, many clips as lines or as a table."""

    texts: list[bytes]
    packed: list[bytes]
    lines: bytes
    table: bytes

    @classmethod
    def of(cls, clips: list[Request]) -> Contents:
        """Every clip in every format in which it is still a swing."""
        written = [json.dumps(each).encode() for request in clips for each in in_formats(request)]
        # Some clips lack joints that a format always gives, and make no sense in it.
        texts = [text for text in written if _readable(text)]
        print(f"{len(clips)} clips, {len(texts)} of {len(written)} ways of writing them taken")
        packed = [gzip.compress(text, 1) for text in texts[:: len(CASES) + 1]]
        table = BytesIO()
        pq.write_table(clips_table(list(columns(LINES))), table)
        return cls(texts, packed, b"\n".join(texts[:LINES]), table.getvalue())

    def of_file(self, number: int) -> tuple[str, bytes, int]:
        """How the name of a file ends, what it holds, and how many swings that is."""
        if number % 500 == 250:
            return "ndjson", self.lines, LINES
        if number % 500 == 499:
            return "parquet", self.table, LINES
        if number % 10 == 3:
            return "json.gz", self.packed[number % len(self.packed)], 1
        return "json", self.texts[number % len(self.texts)], 1


def _readable(text: bytes) -> bool:
    try:
        read_clip(text, Limits(12, 5000))
    except InvalidRequest:
        return False
    return True


def main(files: int, workers: int) -> int:
    """Write, tag, and hold every row against what was written."""
    with TemporaryDirectory() as folder:
        archive, out = Path(folder) / "archive", Path(folder) / "out"
        broken, good = write_archive(archive, files)
        size = sum(path.stat().st_size for path in archive.rglob("*.*"))
        began = time.perf_counter()
        bar = tqdm(desc="tagging", unit="swing", mininterval=5.0)
        tag_archive(
            TagArchive(archive, out, {}, workers=workers),
            Settings(database_url=""),
            lambda _left, more: bar.update(more) and None,
        )
        bar.close()
        took = time.perf_counter() - began
        results = finished_results(out)
        swings = [row for part in results.parts("swings", NEEDED) for row in part.to_pylist()]
        errors = {row["path"]: row for part in results.parts("errors") for row in part.to_pylist()}
    wrong = [path for path, way in broken.items() if not _told(errors.get(path), way)]
    keys = Counter(row["swing"] for row in swings)
    print(
        f"{files} files of {size / 1e9:.1f} GB, {good} good swings, {len(broken)} broken files: "
        f"{took:.0f} s by the clock with {workers} workers"
    )
    for way, count in Counter(broken.values()).items():
        example = errors.get(next(path for path, how in broken.items() if how == way))
        told = example and f"{example['code']} {example['pointer']} {example['message'][:70]}"
        print(f"  {count:>4} {way}: {told}")
    found = sum(row["swing_found"] for row in swings)
    print(f"broken ones named with their reason: {len(broken) - len(wrong)} of {len(broken)}")
    print(f"good ones refused: {len(errors.keys() - broken.keys())}")
    twice = sum(count > 1 for count in keys.values())
    print(f"swings tagged: {len(swings)} of {good}, twice: {twice}; a golf swing in {found}")
    right = not wrong and errors.keys() == broken.keys() and len(keys) == len(swings) == good
    print("all as it must be" if right else f"NOT as it must be: {wrong[:3]}")
    return 0 if right else 1


def _told(error: dict[str, Any] | None, way: str) -> bool:
    _, code, pointer = WAYS[way]
    return error is not None and error["code"] == code and error["pointer"].startswith(pointer)


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:3]]
    sys.exit(main(*given, *(FILES, os.cpu_count() or 1)[len(given) :]))
