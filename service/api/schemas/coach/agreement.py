"""Agreement of service and coaches, as an answer."""

from __future__ import annotations

from pydantic import Field

from service.analysis.types import Grade, View
from service.api.names import FaultName
from service.api.schemas.analysis import ReasonAnswer
from service.api.schemas.values import Answer, Number, Share
from service.lessons.coach.agreement import Agreement, Counts


class KappaAnswer(Answer):
    """Cohen's kappa: 0 is agreement by chance, 1 full agreement (Cohen 1960)."""

    value: Number
    standard_error: Number = Field(
        description="For many pairs (Fleiss, Cohen and Everitt 1969); too small where swings are "
        "of few players."
    )
    interval: tuple[Number, Number] | None = Field(
        description="95 %; null where nobody disagreed, which doesn't tell how far it is off."
    )


class CountsAnswer(Answer):
    """Pairs of what service and coach say of a fault in a swing."""

    decided: int = Field(description="Pairs in which both decided; the next four add up to it.")
    both: int = Field(description="Both say that it is there.")
    service_only: int
    coach_only: int
    neither: int
    service_unsure: int = Field(
        description="Beside them: the coach decided, the service was uncertain or could not judge."
    )
    coach_unsure: int = Field(description="Beside them: the coach could not tell.")
    agreed: Share | None = Field(description="Share of those decided; null without any.")
    kappa: KappaAnswer | None = Field(description="Null exactly when `reason` is given.")
    reason: ReasonAnswer | None


class FaultAgreementAnswer(Answer):
    """Agreement on one fault."""

    fault: FaultName
    counts: CountsAnswer


class ViewAgreementAnswer(Answer):
    """Agreement on swings filmed from one side."""

    view: View
    counts: CountsAnswer


class GradeAgreementAnswer(Answer):
    """Agreement on one grade: whether it is this one, and not another or none."""

    grade: Grade
    counts: CountsAnswer


class GradeTableAnswer(Answer):
    """Grades against grades, where both gave one or found nothing."""

    names: list[str]
    table: list[list[int]] = Field(description="The service's in rows, the coach's in columns.")
    kappa: KappaAnswer | None = Field(description="Null exactly when `reason` is given.")
    reason: ReasonAnswer | None


class ModelReviewsAnswer(Answer):
    """How many of the reviews are of swings that one model analysed last."""

    version: str = Field(description="`rules` where rules alone judged.")
    reviews: int


class AgreementAnswer(Answer):
    """How far service and coaches agree, by the newest analysis of each swing reviewed.

    Coaches may have read the service's answer before they gave theirs, which makes for agreement.
    """

    reviews: int = Field(description="Reviews that are not withdrawn.")
    models: list[ModelReviewsAnswer]
    overall: CountsAnswer
    by_fault: list[FaultAgreementAnswer]
    by_view: list[ViewAgreementAnswer]
    by_grade: list[GradeAgreementAnswer]
    grades: GradeTableAnswer


def to_agreement(agreement: Agreement) -> AgreementAnswer:
    """The answer about agreement."""
    return AgreementAnswer(
        reviews=agreement.reviews,
        models=[
            ModelReviewsAnswer(version=version or "rules", reviews=count)
            for version, count in agreement.models
        ],
        overall=_counts(agreement.overall),
        by_fault=[
            FaultAgreementAnswer(fault=fault, counts=_counts(counts))
            for fault, counts in agreement.by_fault
        ],
        by_view=[
            ViewAgreementAnswer(view=view, counts=_counts(counts))
            for view, counts in agreement.by_view
        ],
        by_grade=[
            GradeAgreementAnswer(grade=grade, counts=_counts(counts))
            for grade, counts in agreement.by_grade
        ],
        grades=GradeTableAnswer.model_validate(agreement.grades),
    )


def _counts(counts: Counts) -> CountsAnswer:
    return CountsAnswer.model_validate(counts)
