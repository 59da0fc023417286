"""The trained model that is served, as an answer."""

from __future__ import annotations

from pydantic import BaseModel, Field

from service.analysis.judging.classifier import Classifier
from service.api.schemas.analysis import BY_RULES, ModelAnswer


class ServedModelAnswer(ModelAnswer):
    """The trained model that is served beside the rules."""

    covers: list[CoveredAnswer] = Field(
        description="The faults and views that it was trained for; of others rules judge alone."
    )


class CoveredAnswer(BaseModel):
    """A fault in a view."""

    fault: str
    view: str


def to_served_model(model: Classifier | None) -> ServedModelAnswer:
    """What is served; ``None`` where rules judge alone."""
    if model is None:
        return ServedModelAnswer(**BY_RULES.model_dump(), covers=[])
    identity = ModelAnswer.model_validate(model.identity)
    covers = [CoveredAnswer(fault=fault, view=view) for fault, view in sorted(model.experts)]
    return ServedModelAnswer(**identity.model_dump(), covers=covers)


ServedModelAnswer.model_rebuild()
