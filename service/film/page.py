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
from service.analysis.judging.calibration import SUREST
from service.analysis.pose.points import Point
from service.analysis.types import Evidence, Finding, Source, Status, SwingAnalysis
from service.film.container import Film
from service.film.photos import photos
from service.languages import ENGLISH, Language, sayable
from service.lessons.words.wording import PLACES, Wording
from service.report.clip import Clip
from service.report.pictures.still import WIDTH, draw_still, still_scene, window_of
from service.report.recap import GRADES
from service.report.table import advice, first_to_work_on, seen_absent, swing_table
from service.report.unjudged import unjudged

_SHARPNESS: Final[float] = 2.0
"""Pixels of a still for each unit of its drawing, at most."""
_WITHOUT_SWING: Final[int] = 4
"""Stills of a film without a swing, evenly over it: they show what was taken for the player."""
_SOURCES: Final[dict[Source, str]] = {
    Source.OBSERVED: sayable("observed"),
    Source.INFERRED: sayable("inferred"),
}
_JUDGED_BY: Final[dict[str, str]] = {
    "above": sayable("{measure}: {value} ± {error} (fault above {threshold})."),
    "below": sayable("{measure}: {value} ± {error} (fault below {threshold})."),
}


@dataclass(frozen=True)
class _Shown:
    """One still to come: its frame, and what stands under it."""

    frame: int
    title: str
    lines: tuple[str, ...]
    ringed: tuple[Point, ...] = ()


def film_page(film: Film, clip: Clip, language: Language = ENGLISH) -> str:
    """The page as one HTML file that needs nothing else.

    The film is decoded once more, and only the stills' frames are kept.

    Raises
    ------
    FilmError
        When the film can't be read any more.
    """
    wording, found = Wording(language, as_measured=True), clip.analysis.findings
    positions, findings = _positions(clip, wording), _findings(clip.analysis, wording)
    if not clip.analysis.swing_found:
        positions = _evenly(clip, wording)
    stills = _stills(film, clip, [*positions, *findings])
    absent = [f.title for f in found if f.status is Status.ABSENT]
    return _template().render(
        say=wording.say,
        word=wording,
        name=film.path.name,
        analysis=clip.analysis,
        positions=list(zip(positions, stills[: len(positions)], strict=True)),
        findings=list(zip(findings, stills[len(positions) :], strict=True)),
        absent=wording.titles(absent),
        first=first_to_work_on(found, wording),
        unseen=unjudged([(f.title, f.reason) for f in found if _unseen(f) and f.reason], wording),
        table=swing_table(clip.analysis, language),
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


def _unseen(finding: Finding) -> bool:
    return finding.status is Status.NOT_ASSESSABLE


def _positions(clip: Clip, wording: Wording) -> list[_Shown]:
    shown = []
    for position in clip.analysis.positions:
        if position.frame is None or position.time is None:
            continue
        frame = round(position.frame)
        told = wording.say(
            "{seconds} s, frame {frame}; {source}, confidence {confidence}.",
            seconds=wording.language.number(position.time, 2),
            frame=frame,
            source=wording.say(_SOURCES[position.source]),
            confidence=wording.language.number(min(position.confidence, SUREST), 2),
        )
        title = f"{position.name}, {wording.say(PLACES[position.number])}"
        shown.append(_Shown(frame, title, (told,)))
    return shown


def _findings(analysis: SwingAnalysis, wording: Wording) -> list[_Shown]:
    """What is present or too close to call, each where it shows most."""
    told = (Status.PRESENT, Status.UNCERTAIN)
    return [
        _of_finding(finding, analysis, wording)
        for finding in analysis.findings
        if finding.status in told and finding.shows_most
    ]


def _of_finding(finding: Finding, analysis: SwingAnalysis, wording: Wording) -> _Shown:
    moment, view, number = finding.shows_most, analysis.view, wording.language.number
    assert moment is not None  # picked for it
    assert view is not None  # a finding was judged
    grade = wording.say(GRADES[finding.grade] if finding.grade else "Too close to call")
    if finding.confidence is not None:
        confidence = number(finding.confidence, 2)
        grade = wording.say("{grade}, confidence {confidence}", grade=grade, confidence=confidence)
    where = wording.say(
        "{grade}; most at P{position}, frame {frame}, {seconds} s.",
        grade=grade,
        position=number(moment.position, 1),
        frame=moment.frame,
        seconds=number(moment.time, 2),
    )
    measured = [_measured(evidence, wording) for evidence in finding.evidence]
    lines = (where, *measured, *advice(finding, seen_absent(analysis.findings), wording))
    ringed = CATALOGUE[finding.fault].needs(view.value)
    return _Shown(moment.frame, wording.say(finding.title), lines, ringed)


def _measured(evidence: Evidence, wording: Wording) -> str:
    return wording.say(
        _JUDGED_BY[evidence.direction],
        measure=wording.say(evidence.title),
        value=wording.number(evidence.value, evidence.unit),
        error=wording.with_unit(evidence.uncertainty, evidence.unit),
        threshold=wording.number(evidence.threshold, evidence.unit),
    )


def _evenly(clip: Clip, wording: Wording) -> list[_Shown]:
    times = clip.recording.times
    frames = np.linspace(0, len(times) - 1, _WITHOUT_SWING + 2).round().astype(int)[1:-1]
    return [
        _Shown(
            frame,
            f"{wording.language.number(float(times[frame]), 2)} s",
            (wording.say("Frame {frame}.", frame=frame),),
        )
        for frame in dict.fromkeys(frames.tolist())
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
