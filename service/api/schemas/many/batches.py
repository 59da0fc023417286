"""Batches as they are asked for and answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import Annotated, Final, Literal

from fastapi import Header, Query
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from service.api.http.cursors import PageQuery
from service.api.schemas.records.requests import RecordedAt, Uuid
from service.intake.errors import InvalidRequest
from service.intake.many.assumed import Assumed
from service.intake.many.files import films_among
from service.intake.parsing.json_reader import read_model
from service.intake.request import NO_NUL
from service.records import BatchState, Page, Role
from service.records.batches.entities import Batch, CallbackState
from service.use_cases.batches.webhook import SECRET_PREFIX, key_of

MAX_PATH: Final[int] = 1000
_MAX_URL: Final[int] = 2000
_KEY_BYTES: Final = range(24, 65)
_OF_HTTP: Final[str] = "^[Hh][Tt][Tt][Pp][Ss]?://."
_64: Final[str] = "[A-Za-z0-9+/]"
_SECRET: Final[str] = (
    f"^{SECRET_PREFIX}({_64}{{4}}){{8}}(({_64}{{4}}){{0,12}}({_64}{{4}}|{_64}{{2}}==|{_64}{{3}}=)?"
    f"|({_64}{{4}}){{13}}{_64}{{2}}==)$"
)
"""Base64 of so many bytes as :data:`_KEY_BYTES` holds."""

_ASSUME_FIX: Final[str] = "Send an object with fields of a request that hold for all, as fps."


def _callback_url(text: str) -> str:
    import httpx

    try:
        url = httpx.URL(text)
        fine = url.scheme in ("http", "https") and bool(url.host) and not url.userinfo
    except httpx.InvalidURL:
        fine = False
    if not fine:
        words = "should be an address that begins with https:// or http://, without a password"
        raise PydanticCustomError("callback_url", words)
    return text


def _secret(text: str) -> str:
    try:
        fine = len(key_of(text)) in _KEY_BYTES
    except ValueError:
        fine = False
    if not fine:
        words = f"should be {SECRET_PREFIX} and 24 to 64 bytes in base64"
        raise PydanticCustomError("callback_secret", words)
    return text


class FolderBatch(BaseModel):
    """Swings that lie in the archive of the academy."""

    model_config = ConfigDict(extra="forbid")

    folder: Annotated[str, Field(max_length=MAX_PATH, pattern=NO_NUL)] = Field(
        description="Path of a folder below the academy's archive, with slashes; empty is all of "
        "it. Read are files that end with .json (one swing each, or what a pose library wrote), "
        ".ndjson or .jsonl (one a line), these with .gz, and .parquet (one a row). A clip in one "
        "file a frame, as OpenPose names them, is one swing. Links are not followed, names that "
        "begin with a dot or _ left out."
    )
    assume: Assumed = Field(
        default_factory=Assumed,
        description="Fields of the request for swings that lack them, as the frame rate of what a "
        "pose library wrote.",
    )


class BatchQuery(BaseModel):
    """What is to be done with the swings."""

    model_config = ConfigDict(extra="forbid")

    lesson_id: Uuid | None = Field(
        default=None,
        description="The lesson, and with it the player, in which the swings are kept. Without it "
        "none is.",
    )
    role: Role = Field(
        default=Role.OTHER,
        description="Of the swings that are kept; goes with `lesson_id`. A `rehearsal` is read as "
        "one unless its line says otherwise by `intent`.",
    )
    recorded_at: RecordedAt | None = Field(
        default=None,
        description="When the swings that are kept were made; now when not sent. Goes with "
        "`lesson_id`.",
    )
    callback_url: (
        Annotated[
            str,
            Field(max_length=_MAX_URL, json_schema_extra={"pattern": _OF_HTTP}),
            AfterValidator(_callback_url),
        ]
        | None
    ) = Field(
        default=None,
        description="Where to send a signed POST when the batch is done or has failed, tried some "
        "times.",
    )


BatchOptions = Annotated[BatchQuery, Query()]
CallbackSecret = Annotated[
    Annotated[str, AfterValidator(_secret)] | None,
    Header(
        alias="Callback-Secret",
        description="Signs the callback: `whsec_` and 24 to 64 bytes in base64. Made where not "
        "sent.",
    ),
    WithJsonSchema({"type": "string", "pattern": _SECRET}),  # a header is never null
]


class BatchesQuery(PageQuery):
    """Which batches are wanted."""

    state: Literal["listing", "waiting", "running", "done", "cancelled", "failed"] | None = Field(
        default=None, description="Only those in this state."
    )

    def wanted(self) -> BatchState | None:
        """The state that is wanted."""
        return None if self.state is None else BatchState(self.state)


BatchesPageOf = Annotated[BatchesQuery, Query()]


class ResultsQuery(BaseModel):
    """Which results are wanted."""

    model_config = ConfigDict(extra="forbid")

    after_line: int = Field(
        default=0, ge=0, lt=2**31, description="Only of lines after this one, to go on from."
    )
    follow: bool = Field(
        default=True,
        description="Wait for what is still to come; otherwise end with what is there in the "
        "order of the lines.",
    )


ResultsOf = Annotated[ResultsQuery, Query()]


class CallbackTryAnswer(BaseModel):
    """What became of one try to tell somebody."""

    at: datetime
    status: int | None = Field(description="Of the answer; null where none came.")
    problem: str | None = Field(description="Why it failed; null where it did not.")


class CallbackAnswer(BaseModel):
    """Whom the service tells that a batch is over, and whether it did."""

    url: str
    state: CallbackState | None = Field(description="Null where nobody is to be told any more.")
    tries: int
    last_try: CallbackTryAnswer | None = Field(description="Null before the first has ended.")
    next_try: datetime | None = Field(
        description="When it is tried again, or at the earliest; null where it is not, and before "
        "the batch is over."
    )


class PassedOverAnswer(BaseModel):
    """Files of a folder that are not read."""

    files: int = Field(description="How many, all together.")
    films: int = Field(
        description="How many of them are films, of which `python -m service analyse FOLDER` makes "
        "swings."
    )
    ends: dict[str, int] = Field(
        description="How many by how their names end (`.mov`), or in words what they are."
    )


class BatchAnswer(BaseModel):
    """A batch as it stands."""

    id: str = Field(json_schema_extra={"format": "uuid"})
    state: Literal["listing", "waiting", "running", "done", "cancelled", "failed"]
    created: datetime
    started: datetime | None
    finished: datetime | None
    total: int = Field(
        description="Lines that are not empty; while a folder is listed, as far as it is."
    )
    done: int = Field(description="Lines that were analysed, whether or not a swing was found.")
    failed: int = Field(description="Lines that were refused.")
    per_second: float | None = Field(description="Lines a second so far.")
    seconds_left: float | None = Field(
        description="At that rate; null while nothing can be said, or once it is over."
    )
    problem: str | None = Field(description="What went wrong with the batch as a whole.")
    folder: str | None
    passed_over: PassedOverAnswer | None = Field(
        description="What is not read of the folder; null until all of it is listed, and of lines."
    )
    lesson_id: str | None = Field(json_schema_extra={"format": "uuid"})
    callback: CallbackAnswer | None


class CreatedBatchAnswer(BatchAnswer):
    """A batch just taken in."""

    callback_secret: str | None = Field(
        description="Signs the callback as Standard Webhooks has it: `webhook-signature` is `v1,` "
        "and HMAC-SHA256 of `webhook-id.webhook-timestamp.body` in base64, under the bytes after "
        "`whsec_`. Told here only."
    )


class BatchPageAnswer(BaseModel):
    """Some of the batches."""

    items: list[BatchAnswer]
    next_cursor: str | None = Field(description="Null at the end.")


_IN_ADDRESS: Final = {
    f"/{name}": f"Send it in the address of the request: /v1/batches?{name}=..."
    for name in BatchQuery.model_fields
}
"""What to do with options of a batch that stand in its body, by their pointers."""


def read_folder(body: bytes) -> FolderBatch:
    """What was sent of a folder.

    Raises
    ------
    MalformedJson, InvalidRequest
    """
    fix = (
        "Send {folder} with the path of a folder below the archive; swings go as lines, one a "
        "line, with Content-Type: application/x-ndjson."
    )
    try:
        return read_model(body, FolderBatch, {"folder": fix, "assume": _ASSUME_FIX}, fix)
    except InvalidRequest as error:
        told = (replace(e, fix=_IN_ADDRESS.get(e.pointer, e.fix)) for e in error.errors)
        raise InvalidRequest(tuple(told), error.omitted) from None


def to_batch_answer(batch: Batch) -> BatchAnswer:
    """A batch as it is answered."""
    return BatchAnswer.model_validate(_members(batch))


def to_created_batch(batch: Batch) -> CreatedBatchAnswer:
    """A batch just taken in as it is answered."""
    secret = batch.callback.secret if batch.callback else None
    return CreatedBatchAnswer.model_validate({**_members(batch), "callback_secret": secret})


def to_batch_page(page: Page[Batch], query: BatchesQuery, list_name: str) -> BatchPageAnswer:
    """Some of the batches as they are answered."""
    items = [to_batch_answer(batch) for batch in page.items]
    return BatchPageAnswer(items=items, next_cursor=query.next_cursor(list_name, page))


def _members(batch: Batch) -> dict[str, object]:
    rate, left = _pace(batch)
    names = ("id", "state", "created", "started", "finished", "total", "done", "failed")
    last = None
    if told := batch.callback_last:
        last = CallbackTryAnswer(at=told.at, status=told.status, problem=told.problem)
    callback = batch.callback and CallbackAnswer(
        url=batch.callback.url,
        state=batch.callback_state,
        tries=batch.callback_tries,
        last_try=last,
        next_try=batch.callback_next,
    )
    return {
        **{name: getattr(batch, name) for name in names},
        "per_second": rate,
        "seconds_left": left,
        "problem": batch.problem,
        "folder": batch.folder,
        "passed_over": _passed_over(batch.passed_over),
        "lesson_id": batch.lesson_id,
        "callback": callback,
    }


def _passed_over(counts: Mapping[str, int] | None) -> PassedOverAnswer | None:
    if counts is None:
        return None
    files = sum(counts.values())
    return PassedOverAnswer(files=files, films=films_among(counts), ends=dict(counts))


def _pace(batch: Batch) -> tuple[float | None, float | None]:
    """Lines a second so far, and seconds that are left at that."""
    worked = batch.done + batch.failed
    if batch.started is None or not worked:
        return None, None
    seconds = ((batch.finished or datetime.now(UTC)) - batch.started).total_seconds()
    if seconds <= 0:
        return None, None
    rate = worked / seconds
    running = batch.state is BatchState.RUNNING
    return round(rate, 2), round((batch.total - worked) / rate, 1) if running else None
