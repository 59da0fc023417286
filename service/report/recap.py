"""The page that the coach sends after the lesson."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Final, TypeVar

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from service.analysis.faults import CATALOGUE
from service.analysis.types import Finding, Remark, Status, StoppedAt, SwingAnalysis, View
from service.lessons import (
    Comparison,
    FaultChange,
    FaultProgress,
    MeasureChange,
    MeasureProgress,
    Outcome,
    Story,
    Transfer,
    Verdict,
    against_asked,
)
from service.lessons.coach.approval import DRAFT, Standing, Told
from service.lessons.coach.reviews import CoachView
from service.lessons.wording import decimals, listed, place_in_words, uncapitalised
from service.report.clip import Clip
from service.report.coach_drawing import draw_own_key
from service.report.frames import draw_fault
from service.report.progress import draw_progress, in_words
from service.report.strip import draw_strip

T = TypeVar("T")


@dataclass(frozen=True)
class Pictured:
    """A fault to show, where, and in which swings: ``before`` and ``after`` are their ids.

    ``before`` is ``None`` where there is no swing to hold it against. ``position`` is a
    position coordinate that each of the swings shows.
    """

    fault: str
    title: str
    view: View
    position: float
    before: str | None
    after: str


@dataclass(frozen=True)
class Charted:
    """A fault over lessons, with the measure by which it is judged first."""

    fault: FaultProgress
    measure: MeasureProgress


@dataclass(frozen=True)
class Recap:
    """Everything the page says.

    Attributes
    ----------
    swings
        What was found in each swing of the lesson by the swing's id, in the order of recording.
    roles
        The part that each swing plays in the lesson in words, by its id.
    compared
        What was held against what, in words; ``None`` when there was nothing.
    comparisons
        One a view.
    transfers
        By view, what became at full speed of what the rehearsal changed; without the faults
        that no rehearsal was to change.
    strip
        Id of the swing whose positions are shown along its time line; ``None`` without a swing.
    uncertain
        Findings too close to call.
    film_next
        What to film next time, most needed first.
    remarks
        On the footage, one of a kind.
    made_by
        Versions of what analysed the swings.
    told, standing
        What an approval holds for, and whether one does.
    coach_views
        What the coach says of faults beside what the service found.
    own_pictures
        By the place of a key of the coach's own the id of the swing that it is drawn over.
    """

    player: str
    date: date
    title: str | None
    coach_note: str | None
    swings: Mapping[str, SwingAnalysis]
    roles: Mapping[str, str]
    story: Story
    compared: str | None
    comparisons: tuple[Comparison, ...]
    transfers: tuple[tuple[View, Transfer], ...]
    pictures: tuple[Pictured, ...]
    strip: str | None
    charts: tuple[Charted, ...]
    film_next: tuple[str, ...]
    cautions: tuple[str, ...]
    uncertain: tuple[Finding, ...]
    remarks: tuple[Remark, ...]
    made_by: tuple[str, ...]
    told: Told = field(default_factory=Told)
    standing: Standing = DRAFT
    coach_views: tuple[CoachView, ...] = ()
    own_pictures: Mapping[int, str] = field(default_factory=dict)

    @property
    def changes(self) -> tuple[tuple[View, FaultChange], ...]:
        """What is worth a row: faults found on either side that could be compared."""
        return tuple(
            (comparison.view, change)
            for comparison in self.comparisons
            for change in comparison.faults
            if change.verdict is not Verdict.NOT_COMPARABLE
            and (change.before.present or change.after.present)
        )

    @property
    def news(self) -> tuple[tuple[str, str], ...]:
        """What changed and what held, each kind with the faults that it is true of."""
        verdicts: dict[str, set[Verdict]] = {}
        for _, change in self.changes:
            verdicts.setdefault(change.fault, set()).add(change.verdict)
        outcomes: dict[str, set[Outcome]] = {}
        for _, transfer in self.transfers:
            outcomes.setdefault(transfer.fault, set()).add(transfer.outcome)
        found = {c.fault for _, c in self.changes if c.after.status is Status.PRESENT}
        held = _only(outcomes, Outcome.HOLDS, Outcome.LOST_AT_FULL_SPEED)
        better = _only(verdicts, Verdict.BETTER, Verdict.WORSE)
        lost = _only(outcomes, Outcome.LOST_AT_FULL_SPEED, Outcome.HOLDS)
        worse = _only(verdicts, Verdict.WORSE, Verdict.BETTER)
        told = (
            ("Better, and held at full speed", [_named(f, found) for f in held]),
            ("Better", [_named(f, found) for f in better if f not in held]),
            ("Worse", [_named(f) for f in worse]),
            ("Lost again at full speed", [_named(f) for f in lost]),
        )
        return tuple((kind, listed(titles)) for kind, titles in told if titles)

    @property
    def lengths(self) -> tuple[tuple[int, StoppedAt], ...]:
        """Backswings that were asked to stop somewhere, by their swing's number in the lesson."""
        stops = enumerate((swing.stopped_at for swing in self.swings.values()), start=1)
        return tuple((number, stopped) for number, stopped in stops if stopped is not None)

    @property
    def drawn(self) -> frozenset[str]:
        """Ids of the swings that the page draws."""
        pictured = [swing for p in self.pictures for swing in (p.before, p.after)]
        pictured += [*self.own_pictures.values(), self.strip]
        return frozenset(swing for swing in pictured if swing is not None)


def render_html(recap: Recap, clips: Mapping[str, Clip]) -> str:
    """The page as self-contained HTML: no scripts, nothing fetched from elsewhere.

    Everything that a person wrote is escaped.

    Parameters
    ----------
    clips
        By id, those of ``recap.drawn``; others do no harm.
    """
    template = _ENVIRONMENT.get_template("recap.html")
    drawings = {p.fault: (p, _picture(p, clips)) for p in recap.pictures}
    keys = {priority.finding.fault for priority in recap.story.priorities}
    return template.render(
        recap=recap,
        drawings=drawings,
        own_drawings=_own_drawings(recap, clips),
        others=[drawing for fault, drawing in drawings.items() if fault not in keys],
        strip=recap.strip and Markup(draw_strip(clips[recap.strip])),
    )


def _own_drawings(recap: Recap, clips: Mapping[str, Clip]) -> dict[int, Markup]:
    """Pictures of the coach's own keys by their places; the drawing escapes what it writes."""
    return {
        placed.place: Markup(draw_own_key(clips[recap.own_pictures[placed.place]], placed.key))
        for placed in recap.story.own_keys
        if placed.place in recap.own_pictures
    }


def _picture(pictured: Pictured, clips: Mapping[str, Clip]) -> Markup:
    """One picture; the drawing escapes what it writes."""
    swings = {"Now": clips[pictured.after]}
    if pictured.before is not None:
        swings = {"Before": clips[pictured.before], "After": clips[pictured.after]}
    return Markup(draw_fault(swings, pictured.fault, pictured.position))


def _only(told: Mapping[str, set[T]], wanted: T, against: T) -> list[str]:
    """Faults of which one thing was told and its opposite was not."""
    return [fault for fault, said in told.items() if wanted in said and against not in said]


def _named(fault: str, still_found: Collection[str] = ()) -> str:
    title = uncapitalised(CATALOGUE[fault].title)
    return f"{title} (still there)" if fault in still_found else title


def _chart(charted: Charted) -> Markup:
    return Markup(draw_progress(charted.fault, charted.measure))


def _words(name: str) -> str:
    """An enumeration's value as one would write it."""
    return name.replace("_", " ")


def _sure(confidence: float) -> str:
    """A confidence in whole percent, never as a certainty.

    >>> _sure(0.999), _sure(0.87)
    ('over 99 % sure', '87 % sure')
    """
    return "over 99 % sure" if confidence >= 0.995 else f"{100.0 * confidence:.0f} % sure"


def _clear(confidence: float) -> str:
    """A confidence as a player reads it.

    >>> _clear(0.95), _clear(0.7)
    ('clear', 'likely')
    """
    return "clear" if confidence >= _CLEAR else "likely"


def _leading(change: FaultChange) -> MeasureChange:
    """The measure that tells the change: the first that did change as the fault did."""
    return next((m for m in change.measures if m.verdict is change.verdict), change.measures[0])


def _rounded(value: float, unit: str) -> str:
    """A value as precisely as its unit deserves, with a real minus sign."""
    digits = decimals(unit)
    # Adding nothing takes the sign off a negative zero.
    text = f"{round(value, digits) + 0.0:.{digits}f}"
    return text.replace("-", "\N{MINUS SIGN}")


def _signed(value: float, unit: str) -> str:
    """A change with its sign."""
    text = _rounded(value, unit)
    return f"+{text}" if value > 0.0 else text


def _share_kept(share: float | None) -> str:
    """How much of the rehearsal's change is there at full speed.

    >>> [_share_kept(share) for share in (1.06, 0.52, -0.1, None)]
    ['all of it', '52 %', 'nothing', '–']
    """
    if share is None:
        return "–"
    if share >= _ALL_KEPT:
        return "all of it"
    return f"{100.0 * share:.0f} %" if share >= 0.005 else "nothing"


def _sentence(text: str) -> str:
    """A text with a capital at its start and the rest as it is.

    >>> _sentence("the lesson of 1 May 2025 against this one")
    'The lesson of 1 May 2025 against this one'
    """
    return text[:1].upper() + text[1:]


def _long_date(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"


_VERDICTS: Final[dict[Verdict, str]] = {
    Verdict.BETTER: "▲ better",
    Verdict.WORSE: "▼ worse",
    Verdict.CHANGED: "◆ changed",
    Verdict.NO_DETECTABLE_CHANGE: "= no detectable change",
    Verdict.NOT_COMPARABLE: "? not comparable",
}
_CLEAR: Final[float] = 0.85
"""Confidence from which a finding is called clear; a judgement."""
_ALL_KEPT: Final[float] = 0.95
"""Share of the rehearsal's change from which all of it is said to be kept."""
_OUTCOMES: Final[dict[Outcome, str]] = {
    Outcome.HOLDS: "✓ holds at full speed",
    Outcome.LOST_AT_FULL_SPEED: "✗ lost at full speed",
    Outcome.NOT_CHANGED_IN_REHEARSAL: "– not changed in the rehearsal",
    Outcome.CANNOT_TELL: "? can't be told",
}


def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("service.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        chart=_chart,
        words=_words,
        sure=_sure,
        clear=_clear,
        place=place_in_words,
        leading=_leading,
        rounded=_rounded,
        signed=_signed,
        long_date=_long_date,
        trend=in_words,
        kept=_share_kept,
        asked=against_asked,
        sentence=_sentence,
        verdict=_VERDICTS.__getitem__,
        outcome=_OUTCOMES.__getitem__,
    )
    return environment


_ENVIRONMENT: Final = _environment()
