"""Archives of simulated swings for the measurements."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterator
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.parquet as pq

from service.analysis.pose.layouts import LAYOUTS
from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import View
from service.archive.results import finished_results
from service.archive.schemas import RESULTS
from service.archive.table import clips_table
from training.simulator import Camera, EstimatorNoise, film, random_swing

FRAMES = 240
LAYOUT = "coco_17"
GOLFERS = 24
ROW_GROUP = 512
A_TABLE = 8 * ROW_GROUP


@cache
def swings() -> tuple[tuple[np.ndarray, float], ...]:
    """Keypoints, shape (240, 17, 3), and frame rates of swings of some golfers, both views."""
    rng = np.random.default_rng(12)
    kept = [ANATOMICAL.index(joint) for joint in LAYOUTS[LAYOUT].joints if joint]
    made = []
    for number in range(GOLFERS):
        motion = random_swing(rng)
        times = np.linspace(0.0, motion.duration, FRAMES)
        view = list(View)[number % 2]
        clip = film(
            motion, Camera.standing(view), times=times, noise=EstimatorNoise(gaps=0.0), rng=rng
        )
        values = np.concatenate([clip.points, clip.confidence[..., None]], axis=-1)[:, kept]
        made.append((values.round(2), float((FRAMES - 1) / motion.duration)))
    return tuple(made)


def columns(count: int, first: int = 0) -> Iterator[dict[str, Any]]:
    """Rows of a table of swings, each moved a little so that no two are the same."""
    for number in range(first, first + count):
        values, fps = swings()[number % GOLFERS]
        moved = np.add(values, [number % 97, number % 89, 0.0])
        yield {
            "keypoints": moved.astype(np.float32).ravel(),
            "layout": LAYOUT,
            "fps": fps,
            "client_reference": str(number),
            "carried": [("coach", f"coach {number % 5}"), ("year", str(2015 + number % 10))],
        }


def requests(count: int) -> Iterator[dict[str, Any]]:
    """The same as requests."""
    for number in range(count):
        values, fps = swings()[number % GOLFERS]
        moved = np.add(values, [number % 97, number % 89, 0.0]).round(2)
        yield {
            "keypoints": moved.tolist(),
            "layout": LAYOUT,
            "fps": fps,
            "client_reference": str(number),
        }


def write_tables(folder: Path, count: int) -> None:
    """Write swings as some tables, by as many processes as there are cores."""
    firsts = range(0, count, A_TABLE)
    tables = [
        (folder / f"{first:07d}.parquet", min(A_TABLE, count - first), ROW_GROUP, first)
        for first in firsts
    ]
    with multiprocessing.get_context("spawn").Pool(min(len(tables), os.cpu_count() or 1)) as pool:
        pool.starmap(write_table, tables)


def write_table(path: Path, count: int, row_group: int = ROW_GROUP, first: int = 0) -> None:
    """Write swings as a table, a row group at a time."""
    path.parent.mkdir(parents=True, exist_ok=True)
    rows = columns(count, first)
    writer = None
    while some := list(islice(rows, row_group)):
        table = clips_table(some)
        writer = writer or pq.ParquetWriter(path, table.schema, compression="zstd")
        writer.write_table(table)
    if writer:
        writer.close()


def told(out: Path) -> list[str]:
    """All that a reader of results is told."""
    results = finished_results(out)
    parts = (part for table in RESULTS for part in results.parts(table))
    return sorted(repr(row) for part in parts for row in part.to_pylist())
