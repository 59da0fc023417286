"""The page that the coach sends after the lesson."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from service.analysis.types import Club, Finding, Intent, Remark, View
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
from service.report.frames import Filmed, draw_before_after, draw_frame
from service.report.progress import draw_progress, in_words
from service.report.strip import draw_strip


@dataclass(frozen=True)
class RecapSwing:
    """One swing of the lesson. ``role`` is its part in the lesson in words.

    ``view`` is ``None`` where no swing was found in the clip.
    """

    id: str
    role: str
    view: View | None
    intent: Intent
    club: Club | None


@dataclass(frozen=True)
class Shown:
    """A swing to draw, with its id."""

    id: str
    clip: Filmed


@dataclass(frozen=True)
class Pictured:
    """A position to show, and of which swings.

    ``before`` is ``None`` where there is no swing to hold it against. ``position`` is a
    position coordinate that each of the swings shows.
    """

    title: str
    view: View
    position: float
    before: Shown | None
    after: Shown


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
    compared
        What was held against what, in words; ``None`` when there was nothing.
    comparisons
        One a view.
    transfers
        By view, what became at full speed of what the rehearsal changed; without the faults
        that no rehearsal was to change.
    strip
        The swing whose positions are shown along its time line; ``None`` without a swing.
    uncertain
        Findings too near even to call.
    remarks
        On the footage, one of a kind.
    made_by
        Versions of what analysed the swings.
    """

    player: str
    date: date
    title: str | None
    coach_note: str | None
    swings: tuple[RecapSwing, ...]
    story: Story
    compared: str | None
    comparisons: tuple[Comparison, ...]
    transfers: tuple[tuple[View, Transfer], ...]
    pictures: tuple[Pictured, ...]
    strip: Shown | None
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


def render_html(recap: Recap) -> str:
    """The page as self-contained HTML: no scripts, nothing fetched from elsewhere.

    Everything that a person wrote is escaped.
    """
    return _ENVIRONMENT.get_template("recap.html").render(recap=recap)


def as_data(recap: Recap) -> dict[str, object]:
    """The same as plain data for JSON: dates as ISO 8601, pictures by the ids of their swings."""
    drawn = replace(recap, pictures=(), strip=None)
    told: dict[str, object] = json.loads(json.dumps(asdict(drawn), default=_iso))
    told["strip"] = recap.strip and recap.strip.id
    told["pictures"] = [
        {
            "title": p.title,
            "view": p.view.value,
            "position": p.position,
            "before": p.before and p.before.id,
            "after": p.after.id,
        }
        for p in recap.pictures
    ]
    return told


def _iso(value: object) -> str:
    assert isinstance(value, date)  # nothing else in a recap is foreign to JSON
    return value.isoformat()


def _picture(pictured: Pictured) -> Markup:
    """One picture; the drawing escapes what it writes."""
    if pictured.before is None:
        clip = pictured.after.clip
        return Markup(draw_frame(clip.recording, clip.analysis, pictured.position))
    before, after = pictured.before.clip, pictured.after.clip
    return Markup(draw_before_after(before, after, pictured.position))


def _strip(shown: Shown) -> Markup:
    return Markup(draw_strip(shown.clip))


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
    digits = _DECIMALS.get(unit, 2)
    # Adding nothing takes the sign off a negative zero.
    text = f"{round(value, digits) + 0.0:.{digits}f}"
    return text.replace("-", "\N{MINUS SIGN}")


def _signed(value: float, unit: str) -> str:
    """A change with its sign."""
    text = _rounded(value, unit)
    return f"+{text}" if value > 0.0 else text


def _long_date(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"


_DECIMALS: Final[dict[str, int]] = {"degrees": 0, "% of body height": 1, "times": 1}
_VERDICTS: Final[dict[Verdict, str]] = {
    Verdict.BETTER: "▲ better",
    Verdict.WORSE: "▼ worse",
    Verdict.CHANGED: "◆ changed",
    Verdict.NO_DETECTABLE_CHANGE: "= no detectable change",
    Verdict.NOT_COMPARABLE: "? not comparable",
}
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
        picture=_picture,
        strip=_strip,
        chart=_chart,
        words=_words,
        sure=_sure,
        leading=_leading,
        rounded=_rounded,
        signed=_signed,
        long_date=_long_date,
        course=in_words,
        verdict=_VERDICTS.__getitem__,
        outcome=_OUTCOMES.__getitem__,
    )
    return environment


_ENVIRONMENT: Final = _environment()
