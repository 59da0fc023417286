"""Routes of what the service knows: faults, layouts, and the model that it serves."""

from __future__ import annotations

from fastapi import APIRouter

from service.analysis import faults
from service.api.http.dependencies import ServedAnalyser
from service.api.http.problems import NOT_FOUND, ProblemError
from service.api.schemas.catalogue import (
    CatalogueAnswer,
    FaultAnswer,
    LayoutsAnswer,
    to_fault_answer,
    to_layouts_answer,
)
from service.api.schemas.model import ServedModelAnswer, to_served_model

router = APIRouter(prefix="/v1", tags=["catalogue"])


@router.get("/faults", summary="Every fault the service knows")
def list_faults() -> CatalogueAnswer:
    """List the catalogue: what each fault is, what decides it, and which points it needs."""
    return CatalogueAnswer(faults=[to_fault_answer(fault) for fault in faults.CATALOGUE.values()])


@router.get("/faults/{name}", summary="One fault")
def get_fault(name: str) -> FaultAnswer:
    """Describe one fault of the catalogue."""
    if name not in faults.CATALOGUE:
        raise ProblemError(NOT_FOUND, "No fault has this name; /v1/faults lists them.")
    return to_fault_answer(faults.CATALOGUE[name])


@router.get("/layouts", summary="Layouts and point names")
def list_layouts() -> LayoutsAnswer:
    """List the layouts that a request can name, and the point names for one spelt out."""
    return to_layouts_answer()


@router.get("/model", summary="The trained model that is served")
def get_model(analyser: ServedAnalyser) -> ServedModelAnswer:
    """Name the trained part that is served, the measures that it estimates, and what of it is
    switched off. Its version is `rules` where the rules judge what was measured."""
    return to_served_model(analyser.classifier)
