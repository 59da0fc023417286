"""Routes of batches: many swings analysed in the background."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Header, Request, Response
from fastapi.responses import StreamingResponse

from service.api.batches.media import Form, wanted_form
from service.api.batches.sent import BatchBody
from service.api.batches.stream import Followers, stream
from service.api.http.bodies.body import NDJSON
from service.api.http.dependencies import CurrentSettings, Records
from service.api.http.retries import Also, MayBeRetry, accepted, first_answer
from service.api.problems.parameters import wrong_parameter
from service.api.schemas.many.batches import (
    BatchAnswer,
    BatchesPageOf,
    BatchOptions,
    BatchPageAnswer,
    BatchQuery,
    CallbackSecret,
    CreatedBatchAnswer,
    ResultsOf,
    read_folder,
    to_batch_answer,
    to_batch_page,
    to_created_batch,
)
from service.api.schemas.many.lines import BatchLineAnswer
from service.api.schemas.records.requests import RecordId
from service.intake.errors import complaining
from service.records import Database
from service.records.batches import batches
from service.records.batches.entities import Batch, Callback, NewBatch
from service.records.keeping.retries import FirstAnswer
from service.settings import Settings
from service.use_cases.batches.create import create_batch, drop_batch
from service.use_cases.batches.sources.folders import Archive, OutsideArchive
from service.use_cases.batches.webhook import is_never_called, new_secret

BATCHES_PATH = "/v1/batches"
RESULTS_PATH = "/v1/batches/{batch_id}/results"
router = APIRouter(prefix=BATCHES_PATH, tags=["batches"])


@router.post(
    "",
    status_code=202,
    summary="Analyse many swings in the background",
    response_model=CreatedBatchAnswer,
)
def send_batch(
    body: BatchBody,
    options: BatchOptions,
    records: Records,
    settings: CurrentSettings,
    retries: MayBeRetry,
    secret: CallbackSecret = None,
) -> Response:
    """Take in many swings, one a line or in a folder of the archive, and answer with an id.

    The lines may be gzipped, with `Content-Encoding: gzip`. Once this is answered they are done
    whatever breaks down meanwhile, each once.
    """
    _refuse_kept_nowhere(options)
    folder, assumed = None, {}
    if body.file is None:
        sent = read_folder(body.text)
        folder, assumed = _checked_folder(sent.folder, records, settings), sent.assume.told()
    callback = None
    if options.callback_url is not None:
        _refuse_never_called(options.callback_url, settings)
        callback = Callback(options.callback_url, secret or new_secret())
    wanted = NewBatch(
        folder, options.lesson_id, options.role, options.recorded_at, callback, assumed
    )

    def keep(also: Also[Batch]) -> Batch:
        return create_batch(records, wanted, body.lines(), settings.max_body_bytes, also)

    return accepted(retries.once(body.digest(), keep, _first_answer))


def _refuse_kept_nowhere(options: BatchQuery) -> None:
    """What is said of kept swings would go unheard where none is kept."""
    said = sorted(options.model_fields_set & {"role", "recorded_at"})
    if said and options.lesson_id is None:
        raise wrong_parameter(
            "lesson_id",
            f"is missing, and without it no swing is kept that {' and '.join(said)} could be of",
            f"Send the id of the lesson, or leave {' and '.join(said)} out.",
        )


def _refuse_never_called(url: str, settings: Settings) -> None:
    if is_never_called(url, settings.webhook_private):
        fix = "Send an address of the public internet; whoever runs it may set "
        wrong = "is no address of the public internet"
        raise wrong_parameter("callback_url", wrong, f"{fix}SWING_WEBHOOK_PRIVATE.")


def _checked_folder(folder: str, records: Database, settings: Settings) -> str:
    with complaining() as complaints:
        if settings.archive_root is None:
            complaints.add(
                "/folder",
                "can't be read, as this service has no archive",
                "Send the swings as lines; whoever runs it may set SWING_ARCHIVE_ROOT.",
            )
            return folder
        fix = "Send the path of a folder below your academy's archive, without links or `..`."
        try:
            Archive(settings.archive_root, records.academy_id).check(folder)
        except OutsideArchive as error:
            complaints.add("/folder", str(error), fix)
        except OSError:
            complaints.add("/folder", "is no folder that can be read", fix)
    return folder


def _first_answer(batch: Batch) -> FirstAnswer:
    return first_answer("batch", batch.id, f"{BATCHES_PATH}/{batch.id}", 1, to_created_batch(batch))


@router.get("", summary="Batches")
def list_batches(query: BatchesPageOf, records: Records) -> BatchPageAnswer:
    """List the batches, in the order in which they were sent."""
    with records.reading() as session:
        page = batches.fetch_page(session, query.window("batches"), query.wanted())
    return to_batch_page(page, query, "batches")


@router.get("/{batch_id:uuid}", summary="One batch")
def get_batch(batch_id: RecordId, records: Records) -> BatchAnswer:
    """Tell how far a batch is: state, counts, rate and time left."""
    with records.reading() as session:
        return to_batch_answer(batches.get(session, batch_id))


@router.post("/{batch_id:uuid}/cancel", summary="Stop a batch")
def cancel_batch(batch_id: RecordId, records: Records) -> BatchAnswer:
    """Do no more of a batch; what is done stays. A batch that is over stays as it is."""
    with records.writing() as session:
        batch = batches.cancel(session, batch_id)
    records.forget_deleted()
    return to_batch_answer(batch)


@router.delete("/{batch_id:uuid}", status_code=204, summary="Delete a batch")
def delete_batch(batch_id: RecordId, records: Records) -> None:
    """Stop a batch and delete what was sent and found; swings that were kept stay."""
    with records.reading() as session:
        batches.get(session, batch_id)
    drop_batch(records, batch_id)


async def _followers(request: Request) -> Followers:
    followers = request.app.state.followers
    assert isinstance(followers, Followers)
    return followers


@router.get(
    "/{batch_id:uuid}/results",
    summary="What was found in a batch",
    response_class=StreamingResponse,
    responses={
        200: {
            "description": "A line for each line that was sent, in their order, as soon as those "
            "before it are done.",
            "content": {
                NDJSON: {"schema": {"$ref": f"#/components/schemas/{BatchLineAnswer.__name__}"}},
                Form.CSV: {"schema": {"type": "string"}},
                Form.PARQUET: {"schema": {"type": "string", "format": "binary"}},
            },
        }
    },
)
def get_results(
    batch_id: RecordId,
    query: ResultsOf,
    records: Records,
    followers: Annotated[Followers, Depends(_followers)],
    accept: Annotated[
        str | None, Header(include_in_schema=False)  # the forms of the answer tell it
    ] = None,
) -> StreamingResponse:
    """Stream what became of each line, in the order of the lines, while the batch runs.

    An answer that broke off can be taken up again with `after_line`. In CSV and Parquet each line
    is a row, with columns for the findings by fault.
    """
    form = wanted_form(accept)
    with records.reading() as session:
        batches.get(session, batch_id)
    followers.enter()
    lines = stream(records, batch_id, form, query.after_line, query.follow, followers)
    return StreamingResponse(lines, media_type=form.value)
