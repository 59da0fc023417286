"""Many swings in one request, one a line, and an answer for every line."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from typing import IO

from pydantic import BaseModel, Field

from service.api.http.problems import BODY_TOO_LARGE, Problem, ProblemError, to_problem
from service.api.schemas.records import KeptSwingAnswer
from service.records import KeptSwing

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


class Batch:
    """The swings of a request, to be analysed and kept one after the other.

    Parameters
    ----------
    file
        The lines.
    longest
        Most bytes a line may have.
    keep
        Analyses a line and keeps it.
    instance
        Path of the request, for the problems.
    """

    def __init__(
        self,
        file: IO[bytes],
        longest: int,
        keep: Callable[[bytes], KeptSwing],
        instance: str,
    ) -> None:
        self._file = file
        self._longest = longest
        self._keep_line = keep
        self._instance = instance

    def answers(self) -> Iterator[str]:
        """Lines of JSON, one for every line that is not empty, each once its swing is kept."""
        for number, line in enumerate(_lines(self._file, self._longest), start=1):
            if line is None or line.strip():
                yield self._answer(number, line).text()

    def _answer(self, number: int, line: bytes | None) -> LineAnswer:
        try:
            swing = self._keep(line)
        except Exception as error:  # whatever it is, the lines that follow are not to blame
            problem = to_problem(error, self._instance)
            if problem.status >= 500:
                _log.exception("line %d of a batch failed", number)
            return LineAnswer(line=number, status=problem.status, problem=problem)
        kept = KeptSwingAnswer.model_validate(swing.meta)
        return LineAnswer(line=number, status=201, swing=kept)

    def _keep(self, line: bytes | None) -> KeptSwing:
        if line is None:
            raise ProblemError(BODY_TOO_LARGE, f"The line is longer than {self._longest} bytes.")
        return self._keep_line(line)


def _lines(file: IO[bytes], longest: int) -> Iterator[bytes | None]:
    """The lines of a file; ``None`` in place of one that is too long."""
    while line := file.readline(longest + 1):
        if len(line) <= longest or line.endswith(b"\n"):
            yield line
            continue
        while rest := file.readline(longest):
            if rest.endswith(b"\n"):
                break
        yield None
