"""What fields and parameters mean whose name says the same wherever it stands.

A field that tells more says so itself; where one name means two things, the entry names the model
too, as in ``WindowAnswer.start``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

_ID: Final[str] = "Its id, which never changes."
_FAULT: Final[str] = "Name of the fault, as in `/v1/faults`."
_DAY: Final[str] = "The day of the lesson, where it was given."
_PLAYED: Final[str] = "The position coordinate from 1 to 10: 4 is P4, 3.5 halfway from P3 to it."

GLOSSARY: Final[Mapping[str, str]] = {
    "absent": "Swings in which it was looked for and not found.",
    "after": "Path of the picture of the swing after the work, or of the only one.",
    "asked": "The position coordinate at which the backswing was to stop.",
    "at": "Where in the swing, in words: `P4`, or `P5-P7`.",
    "AuditEntryAnswer.at": "When, in UTC.",
    "CallbackTryAnswer.at": "When, in UTC.",
    "batch_id": "Id of the batch.",
    "birth_year": "Year of birth, by which a minor is told.",
    "brought_by": "Names of the faults that bring it.",
    "causes": "Why it often happens, in words.",
    "cautions": "What to take care of.",
    "changed": "When it was changed last, in UTC.",
    "check": "What to look for in the next film.",
    "checkpoint": "What a sound swing shows there.",
    "client_reference": "What the caller sent with the swing, unchanged.",
    "club": "The club in the player's hands.",
    "coach_note": "What the coach wrote of the lesson.",
    "coach_only": "The coach alone says that it is there.",
    "confidence": "How sure that is, from 0.01 to 0.99: right in as many cases as it says.",
    "contract": "Path of the OpenAPI contract.",
    "created": "When it was kept, in UTC.",
    "BatchAnswer.created": "When it was sent, in UTC.",
    "CreatedBatchAnswer.created": "When it was sent, in UTC.",
    "date": _DAY,
    "description": "What it is, in words.",
    "detail": "What went wrong with this request, in words.",
    "documentation": "Path of the documentation.",
    "dose": "How often and how fast to do what `work_on` asks for.",
    "effect": "What it does to the swing.",
    "end": "Its last position coordinate, from 1 to 10.",
    "end_s": "Its end in seconds of the player's time from the first frame.",
    "fault": _FAULT,
    "faults": "Path of the catalogue of faults.",
    "finished": "When it was over, in UTC; null before.",
    "first_frame": "Its first frame, counted from 0.",
    "folder": "Path of the folder below the academy's archive; null where lines were sent.",
    "fps": "Frames a second of the video.",
    "frame": "Number of the frame, counted from 0.",
    "frames": "The frame of each position, counted from 0, with fractions.",
    "given_on": "The day where it was given.",
    "health": "Path that says whether the service can do its work.",
    "height": "Height of the picture in pixels.",
    "hidden": "Whether the recap leaves it out.",
    "high": "Upper end.",
    "id": _ID,
    "label": "A few words beside it.",
    "last_frame": "Its last frame, counted from 0.",
    "layout": "What the points of a frame are; see `/v1/layouts`.",
    "lesson_id": "Id of the lesson.",
    "lesson_ids": "Ids of the lessons.",
    "low": "Lower end.",
    "made_by": "Versions of the service and its models that made the analyses.",
    "method": "The HTTP method.",
    "n_frames": "Frames of the clip.",
    "name": "Its name.",
    "names": "What the rows stand for, and the columns, in this order.",
    "neither": "Both say that it is not.",
    "not_assessable": "Swings in which it could not be judged.",
    "note": "A note, in words.",
    "number": "Counts from 1.",
    "passed": "Whether it is as it must be.",
    "path": "Path of the request and its answer.",
    "playback_speed": "1 plays in real time; 0.25 four times slower than life.",
    "player": "The player's name.",
    "player_id": "Id of the player.",
    "points": "Where it is, each [x, y] in body heights from the feet, y upwards.",
    "position": _PLAYED,
    "positions": "Position coordinates from 1 to 10.",
    "present": "Swings in which it was found.",
    "radius": "Of a circle, in body heights.",
    "reason": "Why, in words.",
    "recorded_at": "When the swing was made, in UTC.",
    "request": "A body that can be sent as it stands.",
    "reviewer": "Name or id of whoever said so.",
    "reviews": "How many.",
    "role": "The part it plays in the lesson.",
    "service": "What this is.",
    "service_only": "The service alone says that it is there.",
    "service_version": "Version of the service that analysed it.",
    "shows": "Name of the example, as in `/v1/examples`.",
    "source": "Where it is published.",
    "start": "Its first position coordinate, from 1 to 10.",
    "start_s": "Its start in seconds of the player's time from the first frame.",
    "started": "When work on it began, in UTC; null before.",
    "state": "How far it is; `done`, `cancelled` and `failed` are final.",
    "status": "How it stands.",
    "Problem.status": "The HTTP status.",
    "swing_found": "Whether the clip holds a golf swing; `reason` says why not.",
    "swing_id": "Id of the swing.",
    "swing_ids": "Ids of the swings.",
    "swings": "How many swings.",
    "text": "What it is in words, for people.",
    "CoachViewAnswer.text": "Both in words, for people.",
    "VideoCheckAnswer.text": "What to look for.",
    "threshold": "Beyond it the fault is there, in `unit`.",
    "time_s": "Seconds of the player's time from the first frame.",
    "times_s": "Seconds of the player's time from the first frame, one a position.",
    "title": "Its name for people.",
    "LessonAnswer.title": "What the lesson was about.",
    "LessonChanges.title": "What the lesson was about.",
    "NewLesson.title": "What the lesson was about.",
    "RecapAnswer.title": "What the lesson was about.",
    "tries": "How often it was tried.",
    "uncertain": "Swings in which it was too close to say.",
    "unseen_causes": "Causes that no clip from this side can show, in words.",
    "url": "The address that is told.",
    "value": "The number, in the unit told with it.",
    "KappaAnswer.value": "Agreement beyond chance: 1 is complete, 0 no more than chance.",
    "version": "Version of the service.",
    "view": "Where the camera stands.",
    "why": "Why it comes first, in words.",
    "width": "Width of the picture in pixels.",
    "withdrawn": "Whether it was taken back.",
    "work_on": "What to try, in words.",
}
"""By the name of the field, or by model and field."""

MODELS: Final[Mapping[str, str]] = {
    "FaultName": "Name of a fault; `/v1/faults` tells of each.",
    "MeasureName": "Name of a measure.",
    "PositionName": "A position of the swing, from address (P1) over the top (P4) and impact (P7) "
    "to the finish (P10).",
    "ProblemType": "Path of the page that explains this kind of problem.",
    "ReasonCode": "Why something could not be told.",
    "RemarkCode": "What is said of how a clip was read or filmed.",
    "UnitName": "Unit of the numbers beside it; the same name in every language.",
}
"""What is said of models that are lists of names."""


def tell_fields(schemas: Mapping[str, Any]) -> None:
    """Say what each field is that neither says so itself nor refers to a model that does."""
    for name, schema in schemas.items():
        if "description" not in schema:
            schema["description"] = MODELS.get(name, "A part of a list.")
        for field, told in schema.get("properties", {}).items():
            if "description" not in told and not _refers(told):
                words = _said_within(told) or _words(field, name)
                if words:
                    told["description"] = words


def tell_parameters(parameters: Iterable[dict[str, Any]]) -> None:
    """The same of an operation's parameters."""
    for parameter in parameters:
        if "$ref" not in parameter and "description" not in parameter:
            words = _said_within(parameter["schema"]) or _words(parameter["name"])
            if words:
                parameter["description"] = words


def _words(name: str, model: str = "") -> str | None:
    return GLOSSARY.get(f"{model}.{name}") or GLOSSARY.get(name)


def _refers(told: Mapping[str, Any]) -> bool:
    """Whether a field is of another model, may be of one, or is a list of some."""
    parts = (told, told.get("items", {}), *told.get("anyOf", ()))
    return any("$ref" in part for part in parts)


def _said_within(told: Mapping[str, Any]) -> str | None:
    """What is said of a value where it may be null too."""
    return next(
        (each["description"] for each in told.get("anyOf", ()) if "description" in each), None
    )
