"""Which form of the results is wanted, by the Accept header (RFC 9110, section 12.5.1)."""

from __future__ import annotations

from enum import StrEnum
from importlib.util import find_spec

from service.api.problems.details import ProblemError
from service.api.problems.kinds import NOT_ACCEPTABLE


class Form(StrEnum):
    """Media types of results, the one that is given without a wish first."""

    NDJSON = "application/x-ndjson"
    CSV = "text/csv"
    PARQUET = "application/vnd.apache.parquet"


def wanted_form(accept: str | None) -> Form:
    """The form that is wanted most, of those there are.

    Raises
    ------
    ProblemError
        When none is wanted, or it is Parquet and the library for it is not there.

    >>> wanted_form("text/csv;q=0.5, */*;q=0.1"), wanted_form(None)
    (<Form.CSV: 'text/csv'>, <Form.NDJSON: 'application/x-ndjson'>)
    """
    wishes = [_wish(part) for part in (accept or "*/*").split(",") if part.strip()]
    best = max(Form, key=lambda form: _weight(form, wishes))  # the first of those that tie
    if _weight(best, wishes) == 0:
        raise ProblemError(NOT_ACCEPTABLE, NOT_ACCEPTABLE.meaning)
    if best is Form.PARQUET and find_spec("pyarrow") is None:
        raise ProblemError(
            NOT_ACCEPTABLE,
            "This service has no library for Parquet. Whoever runs it can install the extra "
            "`archive`; NDJSON and CSV are there meanwhile.",
        )
    return best


def _wish(part: str) -> tuple[str, float]:
    media_type, *parameters = (piece.strip().lower() for piece in part.split(";"))
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if name.strip() == "q":
            try:
                return media_type, min(max(float(value), 0.0), 1.0)
            except ValueError:
                return media_type, 0.0
    return media_type, 1.0


def _weight(form: Form, wishes: list[tuple[str, float]]) -> float:
    """By the wish that speaks of it most closely."""
    kind = form.partition("/")[0]
    for name in (form.value, f"{kind}/*", "*/*"):
        said = [weight for media_type, weight in wishes if media_type == name]
        if said:
            return max(said)
    return 0.0
