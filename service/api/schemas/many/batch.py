"""The answer to many swings in one request, a line for each."""

from __future__ import annotations

import logging
from collections.abc import Iterator

from pydantic import BaseModel, Field

from service.api.problems.details import Problem, to_problem
from service.api.schemas.records.records import KeptSwingAnswer
from service.use_cases.keep_many import KeptLine

_log = logging.getLogger(__name__)


class LineAnswer(BaseModel):
    """What became of one line: a swing that is kept, or a problem and nothing kept."""

    line: int = Field(description="Counts the lines of the request from 1, empty ones too.")
    status: int = Field(description="What the line alone would have been answered with.")
    swing: KeptSwingAnswer | None = None
    problem: Problem | None = None

    def text(self) -> str:
        """The answer as a line of JSON, without the member that doesn't apply."""
        return self.model_dump_json(exclude_unset=True) + "\n"


def to_lines(kept: Iterator[KeptLine[KeptSwingAnswer]], instance: str) -> Iterator[str]:
    """A line of JSON for each line that was kept or refused, once it is.

    Parameters
    ----------
    instance
        Path of the request, for the problems.
    """
    for line in kept:
        yield _to_line(line, instance).text()


def _to_line(line: KeptLine[KeptSwingAnswer], instance: str) -> LineAnswer:
    if line.swing is not None:
        return LineAnswer(line=line.number, status=201, swing=line.swing)
    assert line.error is not None  # a line that was not kept says why
    problem = to_problem(line.error, instance)
    if problem.status >= 500:
        _log.error("line %d of a batch failed", line.number, exc_info=line.error)
    return LineAnswer(line=line.number, status=problem.status, problem=problem)
