"""Routes of what the service knows: faults, layouts, and the model that it serves."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.analysis import faults
from service.api.http.dependencies import ServedAnalyser
from service.api.http.languages import AskedLanguage, of_language
from service.api.problems.details import no_such_fault
from service.api.schemas.catalogue import (
    CatalogueAnswer,
    FaultAnswer,
    LayoutsAnswer,
    to_catalogue,
    to_fault_answer,
    to_layouts_answer,
)
from service.api.schemas.model import ServedModelAnswer, to_served_model
from service.api.schemas.translation import translated

router = APIRouter(prefix="/v1", tags=["catalogue"])


@router.get("/faults", summary="Every fault and every measure the service knows")
def list_faults(told_in: AskedLanguage, response: Response) -> CatalogueAnswer:
    """List the catalogue: what each fault is, what decides it, and which points it needs; and what
    each measure of an answer is.

    In another language titles, descriptions, causes, checkpoints and cautions are translated; by
    the names, which stay, the titles of every other answer can be told in it too.
    """
    response.headers.update(of_language(told_in))
    return translated(to_catalogue(), told_in)


@router.get("/faults/{name}", summary="One fault")
def get_fault(name: str, told_in: AskedLanguage, response: Response) -> FaultAnswer:
    """Describe one fault of the catalogue, in the language that is asked for."""
    if name not in faults.CATALOGUE:
        raise no_such_fault(name)
    response.headers.update(of_language(told_in))
    return translated(to_fault_answer(faults.CATALOGUE[name]), told_in)


@router.get("/layouts", summary="Layouts and point names")
def list_layouts() -> LayoutsAnswer:
    """List the layouts that a request can name, and the point names for one spelt out."""
    return to_layouts_answer()


@router.get("/model", summary="The trained model that is served")
def get_model(analyser: ServedAnalyser) -> ServedModelAnswer:
    """Name the trained part that is served, the measures that it estimates, and what of it is
    switched off. Its version is `rules` where the rules judge what was measured."""
    return to_served_model(analyser.classifier)
