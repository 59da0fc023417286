"""The published contract: openapi.json and worked examples, written by the service itself."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final

from service.api.docs.examples import ANALYZE_PATH
from service.api.problems.details import to_problem
from service.api.schemas.analysis import to_answer
from service.app import create_app
from service.intake.errors import InvalidRequest, MalformedJson
from service.settings import Settings
from service.use_cases.analyse import Analyser

CONTRACT: Final[str] = "openapi.json"
EXAMPLES: Final[str] = "examples"
REQUEST: Final[str] = "-request.json"
ANSWER: Final[str] = "-answer.json"


def contract_text() -> str:
    """The OpenAPI contract as JSON text."""
    return as_text(create_app(Settings()).openapi())


def write_contract(folder: Path, analyser: Analyser) -> list[Path]:
    """Write the contract, and beside every example request the answer to it.

    Each ``examples/NAME-request.json`` in ``folder`` is really analysed, and
    ``examples/NAME-answer.json`` is what came out: an analysis or a problem.

    Returns
    -------
    list of the files written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = [folder / CONTRACT]
    written[0].write_text(contract_text(), encoding="utf-8")
    for request in sorted((folder / EXAMPLES).glob(f"*{REQUEST}")):
        answer = request.with_name(request.name.removesuffix(REQUEST) + ANSWER)
        answer.write_text(as_text(answer_to(request.read_bytes(), analyser)), encoding="utf-8")
        written.append(answer)
    return written


def answer_to(body: bytes, analyser: Analyser) -> object:
    """What the service answers to a request, as JSON."""
    try:
        clip = analyser.analyse_body(body)
    except (InvalidRequest, MalformedJson) as error:
        return json.loads(to_problem(error, ANALYZE_PATH).body())
    return to_answer(clip.analysis, clip.reference).model_dump(mode="json")


def as_text(value: object) -> str:
    """JSON text with one member a line."""
    return json.dumps(value, indent=1, ensure_ascii=False) + "\n"
