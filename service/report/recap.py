"""The page that the coach sends after the lesson."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from service.analysis.types import Finding, Remark, SwingAnalysis, View
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
)
from service.lessons.wording import decimals
from service.report.clip import Clip
from service.report.frames import draw_before_after, draw_frame
from service.report.progress import draw_progress, in_words
from service.report.strip import draw_strip


@dataclass(frozen=True)
class Pictured:
    """A position to show, and of which swings: ``before`` and ``after`` are their ids.

    ``before`` is ``None`` where there is no swing to hold it against. ``position`` is a
    position coordinate that each of the swings shows.
    """

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
    remarks
        On the footage, one of a kind.
    made_by
        Versions of what analysed the swings.
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
    cautions: tuple[str, ...]
    uncertain: tuple[Finding, ...]
    remarks: tuple[Remark, ...]
    made_by: tuple[str, ...]

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
    def drawn(self) -> frozenset[str]:
        """Ids of the swings that the page draws."""
        pictured = [swing for p in self.pictures for swing in (p.before, p.after)]
        return frozenset(swing for swing in (*pictured, self.strip) if swing is not None)


def render_html(recap: Recap, clips: Mapping[str, Clip]) -> str:
    """The page as self-contained HTML: no scripts, nothing fetched from elsewhere.

    Everything that a person wrote is escaped.

    Parameters
    ----------
    clips
        By id, those of ``recap.drawn``; others do no harm.
    """
    template = _ENVIRONMENT.get_template("recap.html")
    return template.render(
        recap=recap,
        pictures=[(pictured, _picture(pictured, clips)) for pictured in recap.pictures],
        strip=recap.strip and Markup(draw_strip(clips[recap.strip])),
    )


def _picture(pictured: Pictured, clips: Mapping[str, Clip]) -> Markup:
    """One picture; the drawing escapes what it writes."""
    after = clips[pictured.after]
    if pictured.before is None:
        return Markup(draw_frame(after, pictured.position))
    return Markup(draw_before_after(clips[pictured.before], after, pictured.position))


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
        leading=_leading,
        rounded=_rounded,
        signed=_signed,
        long_date=_long_date,
        trend=in_words,
        kept=_share_kept,
        sentence=_sentence,
        verdict=_VERDICTS.__getitem__,
        outcome=_OUTCOMES.__getitem__,
    )
    return environment


_ENVIRONMENT: Final = _environment()
