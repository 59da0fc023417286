"""What schemathesis has to be told of this service: bodies it can't make, refusals that are right.

Named in ``SCHEMATHESIS_HOOKS``, and read by its command line.
"""

from __future__ import annotations

import gzip
import json
import os
import re
from typing import Any, Final
from zlib import crc32

import schemathesis
from schemathesis.core.failures import Failure
from schemathesis.core.transport import Response
from schemathesis.generation.case import Case
from schemathesis.transport.requests import REQUESTS_TRANSPORT

from service.examples import EXAMPLES
from tests.contract.seeds import CLIPS as CLIP_NAMES
from tests.contract.seeds import ENVIRONMENT

NDJSON: Final = "application/x-ndjson"
IDS: Final[dict[str, list[str]]] = json.loads(os.environ.get(ENVIRONMENT, "{}"))
CLIPS: Final = tuple(json.loads(EXAMPLES[name].request()) for name in CLIP_NAMES)
NOBODY: Final = "01890000-0000-7000-8000-000000000000"
TAKES_A_CLIP: Final = re.compile(r"/swings(/analyze|/batch)?$")

FRAMEWORK_WORDS: Final = re.compile(
    r"pydantic|starlette|fastapi|sqlalchemy|psycopg|sqlite|uvicorn|traceback|errno|[a-z]Error\b"
    r"|NoneType|input should|valid (string|dictionary|list|integer|number)|instance of|type=|ctx"
    r"|value.error|regex|\bpattern\b|\bdict\b|\bstr\b|\bint\b|\bNaN\b|0x[0-9a-f]{4}",
    re.IGNORECASE,
)
"""Words that only those who wrote the service would know."""

# Rules that no schema can state, by the problem that a breach is answered with.
BEYOND_THE_SCHEMA: Final = {
    "/problems/idempotency-key-reused",
    "/problems/stale-version",
    "/problems/not-comparable",
    "/problems/precondition-required",  # the first PUT needs no If-Match, any other does
}
# No cursor can be guessed, days may be reversed, an address may have no host or a password, a role
# needs a lesson, and an ETag its quotes.
BEYOND_A_PATTERN: Final = {"cursor", "last_day", "callback_url", "lesson_id", "If-Match"}
# The same of a body that is refused: the end of the path, the pointer and what is said of it.
BEYOND_THE_BODYS_SCHEMA: Final = (
    re.compile(r"/batches /folder (is|can't|leads|goes) .*"),  # only the archive knows its folders
    re.compile(r" /\S+ should have at least 1 character"),  # spaces about a text are dropped
    re.compile(r"/recap/edits  names \w+ in more than one key"),
    re.compile(r"/recap/edits  shows \d+ keys, more than .*"),  # those hidden are not counted
    re.compile(r"/recap/edits /keys/\d+/fault is a fault that this recap does not find.*"),
    re.compile(r"/recap/edits /keys/\d+/drawing/\d+ has two points in the same place"),
    re.compile(r"/comparisons /\w+/\d+ names a swing again"),
    re.compile(r" /(birth_year|consent/given_on) lies in the future"),
)


@REQUESTS_TRANSPORT.serializer(NDJSON)
def write_lines(ctx: Any, value: Any) -> dict[str, Any]:
    """A batch of the same line twice, or of what is no line, packed where a header says so."""
    if isinstance(value, str) and value.startswith("{"):
        return {"data": _packed(ctx, value.encode())}  # lines that the documentation shows
    line = value if isinstance(value, bytes) else json.dumps(value).encode()
    return {"data": _packed(ctx, line + b"\n" + line)}


@REQUESTS_TRANSPORT.serializer("application/json")
def write_json(ctx: Any, value: Any) -> dict[str, Any]:
    """JSON, packed where a header says so."""
    if isinstance(value, bytes):
        return {"data": value}
    return {"data": _packed(ctx, json.dumps(value).encode())}


def _packed(ctx: Any, text: bytes) -> bytes:
    headers = {name.lower(): each for name, each in (ctx.case.headers or {}).items()}
    return gzip.compress(text) if headers.get("content-encoding") == "gzip" else text


@schemathesis.deserializer(NDJSON)
def read_lines(ctx: Any, response: Response) -> Any:
    """The last line of the answer; each must be JSON. A batch may have no more lines."""
    lines = [json.loads(line) for line in response.content.splitlines()]
    if not lines:
        raise NotImplementedError  # as for a form that has no schema to keep
    return lines[-1]


@schemathesis.hook
def map_case(context: Any, case: Case) -> Case:
    """Where a request should be fine, real clips, ids and versions in place of every other drawn.

    Drawn points hold no swing, no id can be guessed, and a key that was used has its answer. What
    was there before is not deleted.
    """
    ids = case.path_parameters or {}
    for name in IDS.keys() & ids.keys():
        if case.method == "DELETE" and ids[name] in IDS[name]:
            ids[name] = NOBODY
    if case.meta is not None and not case.meta.generation.mode.is_positive:
        return case
    _leave_out_a_secret_that_breaks_its_pattern(case)
    pick, every_other = divmod(crc32(repr((case.body, ids, case.headers)).encode()), 2)
    if not every_other:
        return case
    if case.method == "POST" and TAKES_A_CLIP.search(case.path):
        case.body = CLIPS[pick % len(CLIPS)]
    if case.path == "/v1/comparisons":
        case.body = {"before": [IDS["swing_id"][0]], "after": [IDS["swing_id"][1]]}
    case.headers = {k: v for k, v in (case.headers or {}).items() if k != "Idempotency-Key"}
    if case.method == "PATCH":
        case.headers["If-Match"] = "*"
    for name in IDS.keys() & ids.keys():
        if case.method != "DELETE":
            ids[name] = IDS[name][pick % len(IDS[name])]
    return case


def _leave_out_a_secret_that_breaks_its_pattern(case: Case) -> None:
    """What draws texts gives up on a pattern as long as this one and sends one that breaks it."""
    secret = (case.headers or {}).get("Callback-Secret")
    if secret is not None and not re.fullmatch(r"whsec_[A-Za-z0-9+/]{32,86}={0,2}", secret):
        del case.headers["Callback-Secret"]


@schemathesis.hook
def filter_failure(context: Any, failure: Failure, case: Case, response: Response) -> bool:
    """Whether a failure is one: what the schema allows may break rules that it can't state."""
    match type(failure).__name__:
        case "RejectedPositiveData":
            return not _breaks_a_rule(json.loads(response.content), case)
        case "AcceptedNegativeData" if case.path.endswith("/batch"):
            return "parameter" in failure.message or not _every_line_is_refused(response)
        case "AcceptedNegativeData" if case.path == "/v1/batches" and case.media_type == NDJSON:
            return "parameter" in failure.message  # lines are looked at later, and told one by one
        case "MissingHeaderNotRejected":
            return response.status_code != 428  # RFC 6585, of which the check does not know
        case _:
            return True


def _every_line_is_refused(response: Response) -> bool:
    """A batch is answered with 200, and each of its lines with a status of its own."""
    return all(json.loads(line)["status"] == 422 for line in response.content.splitlines())


def _breaks_a_rule(problem: dict[str, Any], case: Case) -> bool:
    match problem["type"]:
        case "/problems/invalid-parameter":
            return {each["parameter"] for each in problem["parameters"]} <= BEYOND_A_PATTERN
        case "/problems/method-not-allowed":  # a word of the welcome was taken for an id
            return problem["instance"] == "/v1/swings/analyze"
        case "/problems/invalid-request":  # what belongs together in a clip
            return TAKES_A_CLIP.search(case.path) is not None or all(
                _is_beyond(f"{case.path} {each['pointer']} {each['problem']}")
                for each in problem["errors"]
            )
        case kind:
            return kind in BEYOND_THE_SCHEMA


def _is_beyond(told: str) -> bool:
    return any(rule.search(told) for rule in BEYOND_THE_BODYS_SCHEMA)


@schemathesis.check
def refusals_are_in_plain_words(ctx: Any, response: Response, case: Case) -> None:
    """No answer but a success tells of the libraries within, and a 422 says what to mend."""
    if response.status_code < 400:
        return
    problem = json.loads(response.content)
    told = [problem["title"], problem["detail"]]
    for each in problem.get("errors", ()):
        told += [each["problem"], each["fix"]]
    for each in problem.get("parameters", ()):
        told += [each["problem"], each["fix"]]
    for sentence in told:
        assert sentence.strip(), "an empty sentence"
        found = FRAMEWORK_WORDS.search(sentence)
        assert found is None, f"{found and found[0]!r} in {sentence!r}"
