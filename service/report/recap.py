"""The page that the coach sends after the lesson."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final, TypeVar

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from service.analysis.faults import CATALOGUE
from service.analysis.measures.definition import BODY_PERCENT
from service.analysis.types import (
    Club,
    Finding,
    Grade,
    Intent,
    Remark,
    Status,
    StoppedAt,
    SwingAnalysis,
    View,
)
from service.languages import Language, sayable
from service.lessons import (
    Comparison,
    FaultChange,
    FaultProgress,
    Length,
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
from service.lessons.telling.wording import Wording, sentence
from service.report.branding import Branding
from service.report.clip import Clip
from service.report.drawing.yardstick import draw_yardsticks
from service.report.pictures.coach_drawing import draw_own_key
from service.report.pictures.fault_picture import draw_fault, film_windows_of
from service.report.pictures.still import Window, together
from service.report.pictures.strip import draw_strip
from service.report.progress import draw_progress, in_words
from service.report.unjudged import unjudged

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
    judged
        How many faults were told to be there or not.
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
    wording
        How it is said to the player.
    """

    player: str
    date: date
    title: str | None
    coach_note: str | None
    swings: Mapping[str, SwingAnalysis]
    roles: Mapping[str, str]
    story: Story
    judged: int
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
    wording: Wording = field(default_factory=Wording)

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
        same = [f for f, said in verdicts.items() if said == {Verdict.NO_DETECTABLE_CHANGE}]
        told: tuple[tuple[str, list[str], Collection[str]], ...] = (
            (_HELD, held, found),
            (_BETTER, [f for f in better if f not in held], found),
            (_WORSE, worse, ()),
            (_LOST, lost, ()),
            (_SAME, [f for f in same if f in found and f not in lost], ()),
        )
        return tuple(
            (self.wording.say(kind), self._named(faults, still))
            for kind, faults, still in told
            if faults
        )

    def _named(self, faults: Collection[str], still_found: Collection[str]) -> str:
        language = self.wording.language
        titles = {f: language.in_sentence(CATALOGUE[f].title) for f in faults}
        return language.listed(
            [
                language.say("{fault} (still there)", fault=title) if f in still_found else title
                for f, title in titles.items()
            ]
        )

    @property
    def known(self) -> int:
        """How many faults there are."""
        return len(CATALOGUE)

    @property
    def none_found(self) -> tuple[str, ...]:
        """Why no swing was found in clips without one, each reason once."""
        swings = self.swings.values()
        reasons = (s.reason for s in swings if not s.swing_found and s.reason is not None)
        return tuple(dict.fromkeys(self.wording.reason(reason) for reason in reasons))

    @property
    def latest(self) -> tuple[SwingAnalysis, ...]:
        """The last swing at full speed from each view."""
        by_view = {
            swing.view.value: swing
            for swing in self.swings.values()
            if swing.view is not None and swing.intent is Intent.FULL_SPEED
        }
        return tuple(by_view[view] for view in View if view in by_view)

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


def render_html(recap: Recap, clips: Mapping[str, Clip], branding: Branding | None = None) -> str:
    """The page as self-contained HTML: no scripts, nothing fetched from elsewhere.

    Everything that a person wrote is escaped.

    Parameters
    ----------
    clips
        By id, those of ``recap.drawn``; others do no harm.
    branding
        Of the academy that sends it, if any.
    """
    wording = recap.wording
    template = _ENVIRONMENT.get_template("recap.html")
    keys = {priority.finding.fault for priority in recap.story.priorities}
    pages = (
        [p for p in recap.pictures if p.fault in keys],
        [p for p in recap.pictures if p.fault not in keys],
    )
    first, second = (
        {
            p.fault: (p, _picture(p, clips, wording, legend=number == 0))
            for number, p in enumerate(pictures)
        }
        for pictures in pages
    )
    strip = recap.strip and Markup(draw_strip(clips[recap.strip], wording))
    return template.render(
        **_filters(wording),
        recap=recap,
        branding=branding or Branding(),
        drawings=first,
        own_drawings=_own_drawings(recap, clips),
        others=list(second.values()),
        strip=strip,
        unseen=unjudged([(u.title, u.reason) for u in recap.story.unseen], wording),
        unsure=wording.titles([finding.title for finding in recap.uncertain]),
        yardsticks=_yardsticks(recap.pictures, wording),
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
    for pictured in recap.pictures:
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
            draw_own_key(clips[recap.own_pictures[placed.place]], placed.key, recap.wording)
        )
        for placed in recap.story.own_keys
        if placed.place in recap.own_pictures
    }


def _picture(
    pictured: Pictured, clips: Mapping[str, Clip], wording: Wording, *, legend: bool
) -> Markup:
    """One picture; the drawing escapes what it writes."""
    swings = {wording.say("Now"): clips[pictured.after]}
    if pictured.before is not None:
        swings = {
            wording.say("Before"): clips[pictured.before],
            wording.say("After"): clips[pictured.after],
        }
    return Markup(draw_fault(swings, pictured.fault, pictured.position, wording, legend=legend))


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


def _only(told: Mapping[str, set[T]], wanted: T, against: T) -> list[str]:
    """Faults of which one thing was told and its opposite was not."""
    return [fault for fault, said in told.items() if wanted in said and against not in said]


def _sure(confidence: float, language: Language) -> str:
    """A confidence in whole percent, never as a certainty.

    >>> from service.languages import ENGLISH
    >>> _sure(0.999, ENGLISH), _sure(0.87, ENGLISH)
    ('over 99 % sure', '87 % sure')
    """
    if confidence >= 0.995:
        return language.say("over 99 % sure")
    return language.say("{percent} % sure", percent=language.number(100.0 * confidence, 0))


def _clear(confidence: float) -> str:
    """A confidence as a player reads it.

    >>> _clear(0.95), _clear(0.7)
    ('clearly there', 'likely there')
    """
    return sayable("clearly there") if confidence >= _CLEAR else sayable("likely there")


def _leading(change: FaultChange) -> MeasureChange:
    """The measure that tells the change: the first that did change as the fault did."""
    return next((m for m in change.measures if m.verdict is change.verdict), change.measures[0])


def _signed(value: float, unit: str, wording: Wording) -> str:
    """A change with its sign, unless it is none in what is told.

    >>> [_signed(value, "times", Wording()) for value in (0.31, -0.31, 0.01)]
    ['+0.3', '−0.3', '0.0']
    """
    told = wording.number(value, unit)
    return f"+{told}" if value > 0.0 and told != wording.number(0.0, unit) else told


def _share_kept(share: float | None, language: Language) -> str:
    """How much of the rehearsal's change is there at full speed.

    >>> from service.languages import ENGLISH
    >>> [_share_kept(share, ENGLISH) for share in (1.06, 0.52, -0.1, None)]
    ['all of it', '52 %', 'nothing', '–']
    """
    if share is None:
        return "–"
    if share >= _ALL_KEPT:
        return language.say("all of it")
    if share < 0.005:
        return language.say("nothing")
    return f"{language.number(100.0 * share, 0)} %"


_HELD: Final[str] = sayable("Better, and held at full speed")
_BETTER: Final[str] = sayable("Better")
_WORSE: Final[str] = sayable("Worse")
_LOST: Final[str] = sayable("Better in the slow rehearsal, but not at full speed")
_SAME: Final[str] = sayable("Still there, without a change that can be told")
_VERDICTS: Final[dict[Verdict, str]] = {
    Verdict.BETTER: sayable("▲ better"),
    Verdict.WORSE: sayable("▼ worse"),
    Verdict.CHANGED: sayable("◆ changed"),
    Verdict.NO_DETECTABLE_CHANGE: sayable("= no detectable change"),
    Verdict.NOT_COMPARABLE: sayable("? not comparable"),
}
_CLEAR: Final[float] = 0.85
"""Confidence from which a finding is called clear; a judgement."""
_ALL_KEPT: Final[float] = 0.95
"""Share of the rehearsal's change from which all of it is said to be kept."""
_OUTCOMES: Final[dict[Outcome, str]] = {
    Outcome.HOLDS: sayable("✓ kept at full speed"),
    Outcome.LOST_AT_FULL_SPEED: sayable("✗ not kept at full speed"),
    Outcome.NOT_CHANGED_IN_REHEARSAL: sayable("– not changed in the rehearsal"),
    Outcome.CANNOT_TELL: sayable("? can't tell"),
}
_LENGTHS: Final[dict[Length, str]] = {
    Length.AS_ASKED: sayable("as asked"),
    Length.LONGER: sayable("longer than asked"),
    Length.SHORTER: sayable("shorter than asked"),
    Length.CANNOT_TELL: sayable("can't tell"),
}
GRADES: Final[dict[Grade, str]] = {
    Grade.MILD: sayable("Mild"),
    Grade.MODERATE: sayable("Moderate"),
    Grade.MARKED: sayable("Marked"),
}
_INTENTS: Final[dict[Intent, str]] = {
    Intent.FULL_SPEED: sayable("full speed"),
    Intent.REHEARSAL: sayable("slow rehearsal"),
}
_ROLES: Final[dict[str, str]] = {
    "before": sayable("before"),
    "after": sayable("after"),
    "rehearsal": sayable("rehearsal"),
    "reference": sayable("reference"),
    "other": sayable("other"),
}
_CLUBS: Final[dict[Club, str]] = {
    Club.DRIVER: sayable("driver"),
    Club.FAIRWAY_WOOD: sayable("fairway wood"),
    Club.HYBRID: sayable("hybrid"),
    Club.LONG_IRON: sayable("long iron"),
    Club.MID_IRON: sayable("mid iron"),
    Club.SHORT_IRON: sayable("short iron"),
    Club.WEDGE: sayable("wedge"),
}


def _filters(wording: Wording) -> dict[str, Any]:
    """What the template calls to say things to this player."""
    say, language = wording.say, wording.language
    return {
        "say": say,
        "word": wording,
        "sure": lambda confidence: _sure(confidence, language),
        "clear": lambda confidence: say(_clear(confidence)),
        "signed": lambda value, unit: _signed(value, unit, wording),
        "chart": lambda each: Markup(draw_progress(each.fault, each.measure, wording)),
        "trend": lambda fault: in_words(fault, wording),
        "kept": lambda share: _share_kept(share, language),
        "verdict": lambda verdict: say(_VERDICTS[verdict]),
        "length": lambda stopped: say(_LENGTHS[against_asked(stopped)]),
        "outcome": lambda outcome: say(_OUTCOMES[outcome]),
        "grade": lambda grade: say(GRADES[grade]),
        "intent": lambda intent: say(_INTENTS[intent]),
        "role": lambda role: say(_ROLES[role]),
        "club": lambda club: say(_CLUBS[club]),
        "between": lambda at: " – ".join(at.split("-")),
    }


def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("service.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(sentence=sentence, leading=_leading)
    return environment


_ENVIRONMENT: Final = _environment()
