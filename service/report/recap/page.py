"""The page that the coach sends after the lesson."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from service.analysis.faults import CATALOGUE
from service.analysis.measures.definition import BODY_PERCENT
from service.lessons.words.wording import Wording, sentence
from service.report.branding import Branding
from service.report.clip import Clip
from service.report.drawing.measured.yardstick import draw_yardsticks
from service.report.pictures.coach_drawing import draw_own_key
from service.report.pictures.fault_picture import draw_fault, film_windows_of
from service.report.pictures.still import Window, together
from service.report.pictures.strip import draw_strip
from service.report.recap.content import Recap
from service.report.recap.drawn import Pictured
from service.report.recap.words import filters, leading
from service.report.unjudged import unjudged


def render_html(recap: Recap, clips: Mapping[str, Clip], branding: Branding | None = None) -> str:
    """The page as self-contained HTML: no scripts, nothing fetched from elsewhere.

    Everything that a person wrote is escaped.

    Parameters
    ----------
    clips
        By id, those of ``recap.drawn.swings``; others do no harm.
    branding
        Of the academy that sends it, if any.
    """
    wording = recap.wording
    template = _ENVIRONMENT.get_template("recap.html")
    keys = {priority.finding.fault for priority in recap.story.priorities}
    pages = (
        [p for p in recap.drawn.pictures if p.fault in keys],
        [p for p in recap.drawn.pictures if p.fault not in keys],
    )
    first, second = (_drawings(pictures, clips, recap) for pictures in pages)
    strip = recap.drawn.strip and Markup(draw_strip(clips[recap.drawn.strip], wording))
    return template.render(
        **filters(wording),
        recap=recap,
        branding=branding or Branding(),
        drawings=first,
        own_drawings=_own_drawings(recap, clips),
        others=list(second.values()),
        strip=strip,
        unseen=unjudged([(u.title, u.reason) for u in recap.story.unseen], wording),
        yardsticks=_yardsticks(recap.drawn.pictures, wording),
    )


def film_windows(recap: Recap, clips: Mapping[str, Clip]) -> dict[str, dict[int, Window]]:
    """By swing, the frames that the page's pictures of faults show, and which part of each.

    With a still of each in its clip :func:`render_html` draws over the film.

    Parameters
    ----------
    clips
        As there.
    """
    windows: dict[str, dict[int, Window]] = {}
    for pictured in recap.drawn.pictures:
        swings = {s: clips[s] for s in (pictured.before, pictured.after) if s is not None}
        shown = film_windows_of(swings, pictured.fault, pictured.position)
        for swing, (frame, window) in shown.items():
            of_swing = windows.setdefault(swing, {})
            of_swing[frame] = together(window, of_swing.get(frame, window))
    return windows


def _own_drawings(recap: Recap, clips: Mapping[str, Clip]) -> dict[int, Markup]:
    """Pictures of the coach's own keys by their places; the drawing escapes what it writes."""
    return {
        placed.place: Markup(
            draw_own_key(clips[recap.drawn.own_pictures[placed.place]], placed.key, recap.wording)
        )
        for placed in recap.story.own_keys
        if placed.place in recap.drawn.own_pictures
    }


def _drawings(
    pictures: Sequence[Pictured], clips: Mapping[str, Clip], recap: Recap
) -> dict[str, tuple[Pictured, Markup]]:
    """By fault."""
    return {p.fault: (p, _picture(p, clips, recap)) for p in pictures}


def _picture(pictured: Pictured, clips: Mapping[str, Clip], recap: Recap) -> Markup:
    """One picture; the drawing escapes what it writes."""
    wording, (before, after) = recap.wording, recap.changes.sides
    swings = {wording.say("Now"): clips[pictured.after]}
    if pictured.before is not None:
        swings = {before: clips[pictured.before], after: clips[pictured.after]}
    return Markup(draw_fault(swings, pictured.fault, pictured.position, wording))


def _yardsticks(pictures: Collection[Pictured], wording: Wording) -> Markup | None:
    """What the units under the pictures are; ``None`` where none of them needs a picture."""
    units = {
        criterion.measure.unit
        for pictured in pictures
        for criterion in CATALOGUE[pictured.fault].criteria[pictured.view]
    }
    hand, degrees = BODY_PERCENT in units and wording.height_cm is None, "degrees" in units
    if not hand and not degrees:
        return None
    return Markup(draw_yardsticks(wording, hand=hand, degrees=degrees))


def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("service.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(sentence=sentence, leading=leading)
    return environment


_ENVIRONMENT: Final = _environment()
