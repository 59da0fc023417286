"""Routes of players."""

from __future__ import annotations

from collections.abc import Iterator
from tempfile import SpooledTemporaryFile
from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import StreamingResponse

from service.api.http.conditional import ExpectedVersions, RequiredVersions, tag
from service.api.http.dependencies import Records, SmallBody
from service.api.http.retries import Also, MayBeRetry, created, first_answer
from service.api.schemas.records.records import LessonAnswer, PageAnswer, PlayerAnswer, to_page
from service.api.schemas.records.requests import (
    NewLessonBody,
    NewPlayerBody,
    PageOf,
    PlayerChangesBody,
    PlayersPageOf,
    RecordId,
    changes_of,
)
from service.records import Lesson, Player
from service.records.keeping import lessons, players
from service.records.keeping.retries import FirstAnswer
from service.use_cases.export import write_archive
from service.use_cases.keep import forget_player

router = APIRouter(prefix="/v1/players", tags=["players"])

_ZIP: Final[str] = "application/zip"
_IN_MEMORY: Final[int] = 4 * 1024 * 1024
_CHUNK: Final[int] = 64 * 1024


@router.post("", status_code=201, summary="Keep a new player", response_model=PlayerAnswer)
def create_player(
    new: NewPlayerBody, body: SmallBody, records: Records, retries: MayBeRetry
) -> Response:
    """Keep a new player; `Location` leads to it."""

    def keep(also: Also[Player]) -> Player:
        with records.writing() as session:
            player = players.add(
                session,
                new.name,
                new.handedness,
                new.note,
                new.birth_year,
                new.to_consent(),
                height_cm=new.height_cm,
                training_consent=new.training_consent,
            )
            also(session, player)
        return player

    return created(retries.once(body.text(), keep, _first_answer_of_player))


def _first_answer_of_player(player: Player) -> FirstAnswer:
    answer = PlayerAnswer.model_validate(player)
    return first_answer("player", player.id, f"/v1/players/{player.id}", player.version, answer)


@router.get("", summary="Players")
def list_players(query: PlayersPageOf, records: Records) -> PageAnswer[PlayerAnswer]:
    """List the players, all or those with a name, in the order in which they were kept."""
    with records.reading() as session:
        page = players.fetch_page(session, query.window("players"), query.name)
    return to_page(page, query, "players", PlayerAnswer)


@router.get("/{player_id:uuid}", summary="One player")
def get_player(player_id: RecordId, records: Records, response: Response) -> PlayerAnswer:
    """Give one player, with the ETag that a change needs."""
    with records.reading() as session:
        player = players.get(session, player_id)
    tag(response, player.version)
    return PlayerAnswer.model_validate(player)


@router.patch("/{player_id:uuid}", summary="Change a player")
def change_player(
    player_id: RecordId,
    changes: PlayerChangesBody,
    expected: RequiredVersions,
    records: Records,
    response: Response,
) -> PlayerAnswer:
    """Change some fields of a player; `If-Match` says which version the change is for."""
    with records.writing() as session:
        player = players.change(session, player_id, changes_of(changes), expected)
    records.forget_deleted()  # the values before
    tag(response, player.version)
    return PlayerAnswer.model_validate(player)


@router.delete("/{player_id:uuid}", status_code=204, summary="Delete a player and all of theirs")
def delete_player(player_id: RecordId, expected: ExpectedVersions, records: Records) -> None:
    """Delete a player with every lesson, swing, keypoint and finding. There is no way back."""
    forget_player(records, player_id, expected)


@router.get(
    "/{player_id:uuid}/export",
    summary="All data of a player",
    response_class=StreamingResponse,
    responses={
        200: {
            "description": "The archive.",
            "content": {_ZIP: {"schema": {"type": "string", "format": "binary"}}},
        }
    },
)
def export_player(player_id: RecordId, records: Records) -> StreamingResponse:
    """Everything that is kept of a player as one .zip archive of JSON files.

    The requests are in it as they were sent, keypoints and all, so each can be sent again.
    """
    file = SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115 - closed once sent
    with records.reading() as session:
        write_archive(session, player_id, file)
    disposition = f'attachment; filename="player-{player_id}.zip"'
    return StreamingResponse(
        _chunks(file), media_type=_ZIP, headers={"Content-Disposition": disposition}
    )


def _chunks(file: SpooledTemporaryFile[bytes]) -> Iterator[bytes]:
    with file:
        file.seek(0)
        while chunk := file.read(_CHUNK):
            yield chunk


@router.post(
    "/{player_id:uuid}/lessons",
    status_code=201,
    summary="Keep a new lesson",
    response_model=LessonAnswer,
)
def create_lesson(
    player_id: RecordId,
    new: NewLessonBody,
    body: SmallBody,
    records: Records,
    retries: MayBeRetry,
) -> Response:
    """Keep a new lesson of a player; `Location` leads to it."""

    def keep(also: Also[Lesson]) -> Lesson:
        with records.writing() as session:
            lesson = lessons.add(session, player_id, new.date, new.title, new.coach_note)
            also(session, lesson)
        return lesson

    return created(retries.once(body.text(), keep, _first_answer_of_lesson))


def _first_answer_of_lesson(lesson: Lesson) -> FirstAnswer:
    answer = LessonAnswer.model_validate(lesson)
    return first_answer("lesson", lesson.id, f"/v1/lessons/{lesson.id}", lesson.version, answer)


@router.get("/{player_id:uuid}/lessons", summary="Lessons of a player")
def list_lessons(player_id: RecordId, query: PageOf, records: Records) -> PageAnswer[LessonAnswer]:
    """List a player's lessons in the order in which they were kept."""
    list_name = f"lessons of {player_id}"
    with records.reading() as session:
        page = lessons.fetch_page(session, player_id, query.window(list_name))
    return to_page(page, query, list_name, LessonAnswer)
