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
    return CatalogueAnswer(faults=[to_fault_answer(fault) for fault in faults.CATALOGUE])


@router.get("/faults/{name}", summary="One fault")
def get_fault(name: str) -> FaultAnswer:
    """Describe one fault of the catalogue."""
    for fault in faults.CATALOGUE:
        if fault.name == name:
            return to_fault_answer(fault)
    raise ProblemError(NOT_FOUND, "No fault has this name; /v1/faults lists them.")


@router.get("/layouts", summary="Layouts and point names")
def list_layouts() -> LayoutsAnswer:
    """List the layouts that a request can name, and the point names for one spelt out."""
    return to_layouts_answer()


@router.get("/model", summary="The trained model that is served")
def get_model(analyser: ServedAnalyser) -> ServedModelAnswer:
    """Name the model that is served beside the rules, how many faults and views it covers, and
    what of it is switched off. Its version is `rules` where no model is served."""
    return to_served_model(analyser.classifier)
