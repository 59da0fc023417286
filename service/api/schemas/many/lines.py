"""What became of the lines of a batch, one a line of JSON."""

from __future__ import annotations

import logging
from typing import Any, Final

from pydantic import BaseModel, Field

from service.api.problems.details import Problem, to_problem
from service.api.problems.kinds import INTERNAL_ERROR
from service.api.schemas.analysis import SwingAnswer, to_answer
from service.use_cases.batches.chunk import Done

_LOGGED: Final[str] = (
    "The fault is the service's. Report the batch and the line, under which it was logged."
)
"""A worker answers no request, so that there is no id of one to report."""

_log = logging.getLogger(__name__)


class BatchLineAnswer(BaseModel):
    """What became of one line: an analysis, or a problem."""

    line: int = Field(description="Counts lines from 1, empty ones too; files, where they are one.")
    path: str | None = Field(default=None, description="The file; only of the archive.")
    path_line: int | None = Field(default=None, description="The line in a file of several.")
    carried: dict[str, str] | None = Field(
        default=None,
        description="What else the file says of the swing, by name: members of its line, columns "
        "of its row, folders such as `coach=Ada`; only of the archive.",
    )
    client_reference: str | None
    status: int = Field(description="What the line alone would have been answered with.")
    swing_id: str | None = Field(
        default=None,
        json_schema_extra={"format": "uuid"},
        description="As which the swing is kept, where it is.",
    )
    analysis: SwingAnswer | None = None
    problem: Problem | None = None


def to_line(batch_id: str, done: Done) -> bytes:
    """What became of one line as a line of JSON; ``line`` stands first."""
    place = done.place
    said: dict[str, object] = {"line": place.line, "client_reference": done.reference}
    if place.path is not None:
        said["path"] = place.path.encode("utf-8", "replace").decode()
    if place.path_line is not None:
        said["path_line"] = place.path_line
    if done.carried:
        said["carried"] = done.carried
    if done.swing_id is not None:
        said["swing_id"] = done.swing_id
    if done.clip is not None:
        said["status"] = 200 if done.swing_id is None else 201
        said["analysis"] = to_answer(done.clip.analysis, done.clip.reference)
    else:
        assert done.error is not None  # a line that was not analysed says why
        problem = _problem(batch_id, done, done.error)
        said |= {"status": problem.status, "problem": problem}
    return _text(BatchLineAnswer.model_validate(said)).encode()


def _text(line: BatchLineAnswer) -> str:
    """A line of JSON without the members that don't apply, and with all of the analysis."""
    left_out: dict[str, Any] = dict.fromkeys(
        BatchLineAnswer.model_fields.keys() - line.model_fields_set, True
    )
    if line.problem is not None:
        left_out["problem"] = {name for name, value in line.problem if value is None}
    return line.model_dump_json(exclude=left_out) + "\n"


def _problem(batch_id: str, done: Done, error: Exception) -> Problem:
    problem = to_problem(error, f"/v1/batches/{batch_id}")
    if problem.status >= 500:
        _log.error("line %d of batch %s failed", done.place.line, batch_id, exc_info=error)
    if problem.status == INTERNAL_ERROR.status:
        return problem.model_copy(update={"detail": _LOGGED})
    return problem
