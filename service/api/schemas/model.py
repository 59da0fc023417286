"""The trained part that is served, as an answer."""

from __future__ import annotations

from pydantic import BaseModel, Field

from service.analysis.judging.classifier import Classifier
from service.analysis.types import View
from service.api.names import MeasureName
from service.api.schemas.analysis import BY_RULES, ModelAnswer


class EstimatedAnswer(BaseModel):
    """A measure in a view."""

    measure: MeasureName
    view: View


class SwitchedOffAnswer(EstimatedAnswer):
    """A measure in a view whose estimator can't be used."""

    reason: str


class ServedModelAnswer(ModelAnswer):
    """The trained estimators that the rules go by."""

    estimates: list[EstimatedAnswer] = Field(
        description="The measures and views that are estimated; the rules judge others as measured."
    )
    switched_off: list[SwitchedOffAnswer] = Field(
        description="Estimators that can't be used, and why; the others go on serving."
    )


def to_served_model(model: Classifier | None) -> ServedModelAnswer:
    """What is served; ``None`` where rules judge what was measured."""
    if model is None:
        return ServedModelAnswer(**BY_RULES.model_dump(), estimates=[], switched_off=[])
    identity = ModelAnswer.model_validate(model.identity)
    return ServedModelAnswer(
        **identity.model_dump(),
        estimates=[EstimatedAnswer(measure=m, view=v) for m, v in sorted(model.estimators)],
        switched_off=[
            SwitchedOffAnswer(measure=m, view=v, reason=why)
            for (m, v), why in sorted(model.switched_off.items())
        ],
    )
