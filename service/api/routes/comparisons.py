"""Routes about change: comparisons of kept swings, and a player's progress."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Depends, Response
from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from service.api.http.dependencies import Records, SmallBody
from service.api.http.languages import AskedLanguage, of_language
from service.api.schemas.comparison import (
    ComparisonAnswer,
    ProgressAnswer,
    to_comparison,
    to_progress,
)
from service.api.schemas.records.requests import RecordId
from service.api.schemas.translation import translated
from service.intake.errors import complaining, json_pointer
from service.intake.parsing.json_reader import read_model
from service.use_cases.compare import compare_kept, progress_of

router = APIRouter(prefix="/v1", tags=["comparisons"])

COMPARISONS_PATH: Final[str] = "/v1/comparisons"
MOST_SWINGS: Final[int] = 20

_SwingId = Annotated[str, StringConstraints(min_length=1, max_length=64)]
_Ids = Annotated[list[_SwingId], Field(max_length=MOST_SWINGS)]
_FIX: Final[str] = f"Send a list of 1 to {MOST_SWINGS} ids of kept swings of one player."


class ComparisonRequest(BaseModel):
    """Kept swings of one player, all filmed from the same view, each named once."""

    model_config = ConfigDict(extra="forbid")

    before: _Ids = Field(
        min_length=1, description="Ids of the swings before, or of a reference swing."
    )
    after: _Ids = Field(min_length=1, description="Ids of the swings after.")
    rehearsal: _Ids = Field(
        default_factory=list,
        description="Ids of slow rehearsals between the two: with them the answer says whether "
        "what changed in the rehearsal holds at full speed.",
    )


def _comparison_request(body: SmallBody) -> ComparisonRequest:
    fixes = dict.fromkeys(ComparisonRequest.model_fields, _FIX)
    wanted = read_model(body.text(), ComparisonRequest, fixes, _FIX)
    _refuse_the_same_twice(wanted)
    return wanted


def _refuse_the_same_twice(wanted: ComparisonRequest) -> None:
    """A swing that counts twice would make a change seem surer than it is."""
    seen: set[str] = set()
    with complaining() as complaints:
        for side in ComparisonRequest.model_fields:
            for index, swing_id in enumerate(getattr(wanted, side)):
                if swing_id in seen:
                    where = json_pointer(side, index)
                    complaints.add(where, "names a swing again", "Name each swing once.")
                seen.add(swing_id)


ComparisonBody = Annotated[ComparisonRequest, Depends(_comparison_request)]


@router.post("/comparisons", summary="Compare swings of one player")
def compare_swings(
    wanted: ComparisonBody, records: Records, told_in: AskedLanguage, response: Response
) -> ComparisonAnswer:
    """Compare kept swings by their newest analyses: before and after, or against a reference.

    Swings are held against one another by position, not by frame. A change counts when it
    exceeds the smallest detectable change given both sides' uncertainty. Three or more
    swings on a side let the player's own spread from swing to swing count too.
    """
    with records.reading() as session:
        compared = compare_kept(session, wanted.before, wanted.rehearsal, wanted.after)
    response.headers.update(of_language(told_in))
    return translated(to_comparison(compared), told_in)


@router.get("/players/{player_id:uuid}/progress", summary="A player's progress")
def get_progress(
    player_id: RecordId, records: Records, told_in: AskedLanguage, response: Response
) -> ProgressAnswer:
    """Follow every fault and measure over the player's lessons, full-speed swings only.

    A fault that was gone and is back is a `relapse`.
    """
    with records.reading() as session:
        progress = progress_of(session, player_id)
    response.headers.update(of_language(told_in))
    return translated(to_progress(progress), told_in)
