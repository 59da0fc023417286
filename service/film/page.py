"""The page of one film: its own stills at P1 to P10 and at each finding, the joints over them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup

from service.analysis.faults import CATALOGUE, CAUTIONS
from service.analysis.pose.points import Point
from service.analysis.types import Evidence, Finding, Status, SwingAnalysis
from service.film.container import Film
from service.film.photos import photos
from service.lessons.telling.wording import PLACES
from service.report.clip import Clip
from service.report.pictures.still import WIDTH, draw_still, still_scene, window_of
from service.report.table import advice, swing_table

_SHARPNESS: Final[float] = 2.0
"""Pixels of a still for each unit of its drawing, at most."""
_WITHOUT_SWING: Final[int] = 4
"""Stills of a film without a swing, evenly over it: they show what was taken for the player."""


@dataclass(frozen=True)
class _Shown:
    """One still to come: its frame, and what stands under it."""

    frame: int
    title: str
    lines: tuple[str, ...]
    ringed: tuple[Point, ...] = ()


def film_page(film: Film, clip: Clip) -> str:
    """The page as one HTML file that needs nothing else.

    The film is decoded once more, and only the stills' frames are kept.

    Raises
    ------
    FilmError
        When the film can't be read any more.
    """
    positions, findings = _positions(clip), _findings(clip.analysis)
    if not clip.analysis.swing_found:
        positions = _evenly(clip)
    stills = _stills(film, clip, [*positions, *findings])
    return _template().render(
        name=film.path.name,
        found=clip.analysis.swing_found,
        reason=clip.analysis.reason.text if clip.analysis.reason else "",
        view=_view(clip.analysis),
        positions=list(zip(positions, stills[: len(positions)], strict=True)),
        findings=list(zip(findings, stills[len(positions) :], strict=True)),
        remarks=clip.analysis.quality.remarks,
        table=swing_table(clip.analysis),
        cautions=CAUTIONS,
    )


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("service.film"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("film.html")


def _view(analysis: SwingAnalysis) -> str:
    return "" if analysis.view is None else analysis.view.value.replace("_", " ")


def _positions(clip: Clip) -> list[_Shown]:
    shown = []
    for position in clip.analysis.positions:
        if position.frame is None or position.time is None:
            continue
        title = f"{position.name}, {PLACES[position.number]}"
        frame = round(position.frame)
        when = f"{position.time:.2f} s, frame {frame}; {position.source}"
        shown.append(_Shown(frame, title, (f"{when}, confidence {position.confidence:.2f}.",)))
    return shown


def _findings(analysis: SwingAnalysis) -> list[_Shown]:
    """What is present or too close to call, each where it shows most."""
    told = (Status.PRESENT, Status.UNCERTAIN)
    return [
        _of_finding(f, analysis) for f in analysis.findings if f.status in told and f.shows_most
    ]


def _of_finding(finding: Finding, analysis: SwingAnalysis) -> _Shown:
    moment, view = finding.shows_most, analysis.view
    assert moment is not None  # picked for it
    assert view is not None  # a finding was judged
    grade = "Too close to call" if finding.status is Status.UNCERTAIN else str(finding.grade)
    sure = "" if finding.confidence is None else f", confidence {finding.confidence:.2f}"
    where = f"most at P{moment.position:.1f}, frame {moment.frame}, {moment.time:.2f} s"
    return _Shown(
        moment.frame,
        finding.title,
        (
            f"{grade.capitalize()}{sure}; {where}.",
            *map(_measured, finding.evidence),
            *advice(finding),
        ),
        CATALOGUE[finding.fault].needs(view.value),
    )


def _measured(evidence: Evidence) -> str:
    return (
        f"{evidence.title}: {evidence.value:.3g} ± {evidence.uncertainty:.2g} {evidence.unit} "
        f"(fault {evidence.direction} {evidence.threshold:g})."
    )


def _evenly(clip: Clip) -> list[_Shown]:
    times = clip.recording.times
    frames = np.linspace(0, len(times) - 1, _WITHOUT_SWING + 2).round().astype(int)[1:-1]
    return [
        _Shown(int(f), f"{times[f]:.2f} s", (f"Frame {f}.",))
        for f in dict.fromkeys(frames.tolist())
    ]


def _stills(film: Film, clip: Clip, shown: Sequence[_Shown]) -> list[Markup]:
    """The stills in order, as SVG."""
    if not shown:
        return []
    frames = [each.frame for each in shown]
    scene = still_scene(clip, frames)
    taken = photos(film, dict.fromkeys(frames, window_of(scene)), _SHARPNESS * WIDTH)
    return [
        Markup(
            draw_still(
                scene, each.frame, taken[each.frame], each.title, " ".join(each.lines), each.ringed
            )
        )
        for each in shown
    ]
