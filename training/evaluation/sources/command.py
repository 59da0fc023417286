"""The command: which sources, how many clips, and the tables."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Final

from service.analysis.analyse import analyse
from service.analysis.judging.classifier import Classifier
from service.analysis.types import View
from training.data import sources as makes
from training.evaluation.sources import tables
from training.evaluation.sources.rows import Analyse, Row, Source, rows_of
from training.evaluation.sources.tallies import tally

SOURCES: Final[Mapping[str, Source]] = {
    name: partial(makes.clips_of, name, "test") for name in makes.SOURCES
}
"""The project's own makes, golfers that nothing was learned from."""


def run(
    arguments: Sequence[str] | None,
    sources: Mapping[str, Source],
    program: str,
    say: Callable[[str], None] = print,
) -> int:
    """Judge clips of the sources asked for and print what came of it."""
    parser = argparse.ArgumentParser(prog=program, description=__doc__)
    parser.add_argument("--clips", type=int, default=200, help="clips of each source")
    parser.add_argument("--source", action="append", choices=sorted(sources), help="may repeat")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--verdicts-only", action="store_true", help="leave the measures out")
    parser.add_argument(
        "--models", type=Path, help="judge with the trained estimators of this folder"
    )
    asked = parser.parse_args(arguments)
    if asked.clips < 1:
        parser.error("--clips must be at least 1")
    judge = _judge(asked.models)
    judged = {
        name: list(rows_of(sources[name], asked.clips, asked.seed, judge))
        for name in asked.source or sources
    }
    say(report(judged, measures=not asked.verdicts_only))
    return 0


def _judge(models: Path | None) -> Analyse:
    classifier = None if models is None else Classifier.load(models)
    return lambda recording: analyse(recording, classifier)


def report(judged: Mapping[str, Sequence[Row]], *, measures: bool = True) -> str:
    """Markdown of all figures, by source and view."""
    groups = {}
    for name, rows in judged.items():
        groups[f"{name}, both views"] = tally(rows)
        for view in View:
            seen = [r for r in rows if r.view is view]
            if seen:
                groups[f"{name}, {view.value.replace('_', ' ')}"] = tally(seen)
    parts = [tables.verdict_table(groups), tables.NOTES]
    for name, told in groups.items():
        both = name.endswith("both views")
        parts.append(f"## {name}: {told.clips} clips, {told.found:.1%} found as they are")
        parts.append(tables.position_table(told))
        if both:
            parts.append(tables.fault_table(told))
        elif measures:
            parts.append(tables.measure_table(told.measures, name))
    return "\n\n".join(parts)


def main(arguments: Sequence[str] | None = None) -> int:
    """Judge the project's own sources."""
    return run(arguments, SOURCES, "python -m training.evaluation.sources")
