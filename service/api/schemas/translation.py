"""Answers in another language than English: what is for people is translated, names stay."""

from __future__ import annotations

from typing import Any, Final, TypeVar

from pydantic import BaseModel

from service.analysis.types import Reason
from service.api.schemas.analysis import ReasonAnswer, RemarkAnswer, ReviewAnswer
from service.api.schemas.coach.recap import OwnKeyAnswer
from service.api.schemas.recap import RecapAnswer
from service.languages import ENGLISH, Language
from service.lessons.words.wording import Wording

Answer = TypeVar("Answer", bound=BaseModel)

_TEXTS: Final = frozenset(
    {"title", "description", "causes", "checkpoint", "cautions", "reference", "note"}
)
"""Fields that hold sentences or titles of the service; what it does not know stays as it is."""
_IN_COACHS_WORDS: Final = (RecapAnswer, OwnKeyAnswer, ReviewAnswer)
"""Whose title or note is what the coach wrote."""


def translated(answer: Answer, language: Language) -> Answer:
    """The answer with its texts in a language; it is changed in place.

    Lengths in reasons stay in percent of body height, as the answer's numbers are. Remarks are told
    by their codes, so without the figures of the case.
    """
    if language is not ENGLISH:
        _translate(answer, language)
    return answer


def _translate(answer: BaseModel, language: Language) -> None:
    if isinstance(answer, ReasonAnswer):
        reason = Reason(answer.code, answer.text)
        answer.text = Wording(language, as_measured=True).reason(reason)
        answer.fix = language.say(answer.fix) if answer.fix else None
    elif isinstance(answer, RemarkAnswer):
        answer.text = language.by_code("remark", answer.code, answer.text)
        answer.fix = language.by_code("fix", answer.code, answer.fix)
    for name, value in answer:
        if name in _TEXTS and not isinstance(answer, _IN_COACHS_WORDS):
            setattr(answer, name, _said(value, language))
        else:
            _look_into(value, language)


def _look_into(value: object, language: Language) -> None:
    if isinstance(value, BaseModel):
        _translate(value, language)
    elif isinstance(value, list | tuple | dict):
        for each in value.values() if isinstance(value, dict) else value:
            _look_into(each, language)


def _said(text: Any, language: Language) -> Any:
    """A text or a list of them; whatever else there is stays."""
    if isinstance(text, list):
        return [_said(each, language) for each in text]
    return language.say(text) if isinstance(text, str) and text else text
