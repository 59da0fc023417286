"""The routes. Those that compute are plain functions, which run beside the event loop."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter
from fastapi.responses import HTMLResponse
from pydantic import BaseModel

from service.analysis import faults
from service.api.docs.problem_pages import page
from service.api.http.dependencies import JsonBody, ServedAnalyser, StartupChecks
from service.api.http.problems import NOT_FOUND, NOT_READY, PROBLEMS, ProblemError
from service.api.http.readiness import Check
from service.api.schemas.analysis import BY_RULES, ModelAnswer, SwingAnswer, to_answer
from service.api.schemas.catalogue import (
    CatalogueAnswer,
    FaultAnswer,
    LayoutsAnswer,
    to_fault_answer,
    to_layouts_answer,
)

swings = APIRouter(prefix="/v1/swings", tags=["swings"])
catalogue = APIRouter(prefix="/v1", tags=["catalogue"])
health = APIRouter(tags=["health"])
problem_pages = APIRouter(prefix="/problems", include_in_schema=False)


class Health(BaseModel):
    """The process is up."""

    status: Literal["ok"] = "ok"


class Readiness(BaseModel):
    """The service can do its work."""

    status: Literal["ready"] = "ready"
    checks: list[Check]


@swings.post("/analyze", summary="Find the faults of one swing")
def analyze(body: JsonBody, analyser: ServedAnalyser) -> SwingAnswer:
    """Find the swing in a clip of pose keypoints, its positions P1 to P10, and its faults.

    A clip without a golf swing is answered with 200 and `swing_found: false`, with the
    reason: the request was fine, and that is the answer to it. The body may be gzipped,
    with `Content-Encoding: gzip`.
    """
    clip = analyser.analyse_body(body)
    return to_answer(clip.analysis, clip.reference)


@catalogue.get("/faults", summary="Every fault the service knows")
def list_faults() -> CatalogueAnswer:
    """List the catalogue: what each fault is, how it is told, and what it needs."""
    return CatalogueAnswer(faults=[to_fault_answer(fault) for fault in faults.CATALOGUE.values()])


@catalogue.get("/faults/{name}", summary="One fault")
def get_fault(name: str) -> FaultAnswer:
    """Tell one fault of the catalogue."""
    if name not in faults.CATALOGUE:
        raise ProblemError(NOT_FOUND, "No fault has this name; /v1/faults lists them.")
    return to_fault_answer(faults.CATALOGUE[name])


@catalogue.get("/layouts", summary="Layouts and point names")
def list_layouts() -> LayoutsAnswer:
    """List the layouts that can be named in a request, and the point names of one spelt out."""
    return to_layouts_answer()


@catalogue.get("/model", summary="Which trained model judges")
def get_model(analyser: ServedAnalyser) -> ModelAnswer:
    """Tell the model that judges beside the rules; its version is `rules` where none does."""
    model = analyser.classifier
    return ModelAnswer.model_validate(model.identity) if model else BY_RULES


@health.get("/healthz", summary="Is the process up?")
async def healthz() -> Health:
    """Answer at once, whatever else is going on."""
    return Health()


@health.get("/readyz", summary="Can it do its work?")
async def readyz(checks: StartupChecks) -> Readiness:
    """Tell what the checks at start-up found: the catalogue, and one small analysis."""
    failed = [f"{check.name} ({check.detail})" for check in checks if not check.passed]
    if failed or not checks:
        raise ProblemError(NOT_READY, f"Failed: {', '.join(failed) or 'no check was made'}.")
    return Readiness(checks=checks)


@problem_pages.get("")
async def list_problems() -> HTMLResponse:
    """Explain every kind of problem."""
    return HTMLResponse(page("Problems", PROBLEMS.values()))


@problem_pages.get("/{slug}")
async def get_problem(slug: str) -> HTMLResponse:
    """Explain one kind of problem."""
    if slug not in PROBLEMS:
        raise ProblemError(NOT_FOUND, "No kind of problem has this name; /problems lists them.")
    kind = PROBLEMS[slug]
    return HTMLResponse(page(kind.title, [kind]))
