"""Whose word counts about a fault: the coach's before the service's.

A finding carries a review beside what the service found and keeps that as it is; what is told of
the two is a finding of its own. What a coach says and nothing measured says has neither confidence
nor evidence, so that no verdict is told beside figures that speak against it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeVar

from service.analysis.faults import CATALOGUE
from service.analysis.types import (
    CoachVerdict,
    Finding,
    Grade,
    Reason,
    Review,
    Status,
    SwingAnalysis,
)
from service.languages import ENGLISH, Language, sayable
from service.lessons.words.wording import GRADES

T = TypeVar("T")

COACH_UNSURE: Final = Reason("coach_unsure", "Your coach looked at it and can't tell either.")
NOT_JUDGED: Final = Reason("not_judged", "This fault was not judged in these swings.")
_SAYS: Final[dict[CoachVerdict, Status]] = {
    CoachVerdict.CONFIRM: Status.PRESENT,
    CoachVerdict.REJECT: Status.ABSENT,
    CoachVerdict.UNSURE: Status.UNCERTAIN,
}


@dataclass(frozen=True)
class CoachView:
    """What a coach says of a fault beside what the service found.

    ``contradicts`` says whether the two differ, in status or in grade. ``text`` says it in a
    sentence.
    """

    fault: str
    title: str
    status: Status
    grade: Grade | None
    service: Status
    contradicts: bool
    text: str


def with_reviews(analysis: SwingAnalysis, reviews: Mapping[str, Review]) -> SwingAnalysis:
    """The analysis with a coach's reviews beside its findings, which stay as they are.

    A fault that the analysis does not know gets a finding that says so. An analysis without a
    swing has no findings and gets none.

    Parameters
    ----------
    reviews
        By fault, those that are not withdrawn.
    """
    if not reviews or not analysis.swing_found:
        return analysis
    known = {finding.fault for finding in analysis.findings}
    unknown = [
        Finding(name, CATALOGUE[name].title, Status.NOT_ASSESSABLE, reason=NOT_JUDGED)
        for name in reviews
        if name not in known and name in CATALOGUE
    ]
    findings = (*analysis.findings, *unknown)
    reviewed = tuple(replace(f, review=reviews.get(f.fault)) for f in findings)
    return replace(analysis, findings=reviewed)


def decided(finding: Finding) -> bool:
    """Whether a coach said of a finding that the fault is there, or that it is not."""
    return finding.review is not None and finding.review.verdict is not CoachVerdict.UNSURE


def coachs_own(finding: Finding) -> bool:
    """Whether a coach decided otherwise than the service found, as far as status or grade go."""
    if not decided(finding):
        return False
    told = as_told(finding)
    return (told.status, told.grade) != (finding.status, finding.grade)


def as_told(finding: Finding) -> Finding:
    """What is told of a finding and its review: the coach's word where there is one.

    Where the two agree the service's evidence stays, and the coach's grade takes the place of
    the service's. Where they do not, there is nothing but the coach's word.
    """
    review = finding.review
    if review is None:
        return finding
    status = _SAYS[review.verdict]
    if status is finding.status:
        return replace(finding, grade=review.grade or finding.grade)
    reason = COACH_UNSURE if review.verdict is CoachVerdict.UNSURE else None
    return Finding(
        finding.fault, finding.title, status, grade=review.grade, reason=reason, review=review
    )


def last_word(findings: Sequence[tuple[T, Finding]]) -> list[tuple[T, Finding]]:
    """Of findings about one fault in several swings those that count, each as it is told.

    They are those on which a coach decided; without any those that no coach looked at; without
    any of them either, those on which the coach was unsure.

    Parameters
    ----------
    findings
        Each with whatever it belongs to.
    """
    most = max((_standing(finding) for _, finding in findings), default=0)
    return [(whose, as_told(f)) for whose, f in findings if _standing(f) == most]


def sureness(finding: Finding) -> float:
    """How much a finding weighs from 0 to 1: its confidence, and a coach's word in full."""
    return 1.0 if decided(finding) else finding.confidence or 0.0


def coach_view(finding: Finding, language: Language = ENGLISH) -> CoachView | None:
    """What a coach says beside what the service found; ``None`` without a review.

    Parameters
    ----------
    finding
        As the service found it, not as it is told.
    language
        What the sentence is said in.
    """
    if finding.review is None:
        return None
    told, say = as_told(finding), language.say
    differs = coachs_own(finding)
    says = say(_COACH_SAYS[finding.review.verdict])
    if told.status is Status.PRESENT and told.grade is not None:
        says = say("it is there and {grade}", grade=say(GRADES[told.grade]))
    service = say(_SERVICE_SAYS[finding.status])
    if differs and told.status is finding.status and finding.grade is not None:
        service = say("the service found it {grade}", grade=say(GRADES[finding.grade]))
    text = say("In your coach's view {says}; {service}.", says=says, service=service)
    return CoachView(
        finding.fault, finding.title, told.status, told.grade, finding.status, differs, text
    )


def _standing(finding: Finding) -> int:
    if decided(finding):
        return 2
    return 1 if finding.review is None else 0


_COACH_SAYS: Final[dict[CoachVerdict, str]] = {
    CoachVerdict.CONFIRM: sayable("it is there"),
    CoachVerdict.REJECT: sayable("it is not there"),
    CoachVerdict.UNSURE: sayable("it can't be told"),
}
_SERVICE_SAYS: Final[dict[Status, str]] = {
    Status.PRESENT: sayable("the service found it"),
    Status.ABSENT: sayable("the service did not find it"),
    Status.UNCERTAIN: sayable("to the service it was too close to call"),
    Status.NOT_ASSESSABLE: sayable("the service could not see it"),
}
