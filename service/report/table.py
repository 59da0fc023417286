"""An analysis as plain text, for a terminal of 100 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Sequence
from typing import Final

from service.analysis.faults import CATALOGUE
from service.analysis.judging.calibration import SUREST
from service.analysis.types import (
    Evidence,
    Finding,
    FootageQuality,
    Handedness,
    Judged,
    Level,
    Position,
    Remark,
    Source,
    Status,
    StoppedAt,
    SwingAnalysis,
    SwingSpan,
    View,
)
from service.languages import ENGLISH, Language, sayable
from service.lessons.length import against_asked
from service.lessons.telling.causes import likely_causes
from service.lessons.telling.story import build_story
from service.lessons.words.wording import GRADES, IN_ENGLISH, PLACES, Wording
from service.report.recap.words import LENGTHS
from service.report.unjudged import unjudged

WIDTH: Final[int] = 100
_NONE = "-"
_GAP = "  "
_SOURCES: Final[dict[Source, str]] = {
    Source.OBSERVED: sayable("observed"),
    Source.INFERRED: sayable("inferred"),
    Source.NOT_FOUND: sayable("not found"),
}
_STATUSES: Final[dict[Status, str]] = {
    Status.PRESENT: sayable("present"),
    Status.UNCERTAIN: sayable("uncertain"),
    Status.ABSENT: sayable("absent"),
}
_LEVELS: Final[dict[Level, str]] = {
    Level.INFO: sayable("info"),
    Level.WARNING: sayable("warning"),
}
_HANDS: Final[dict[Handedness, str]] = {
    Handedness.RIGHT: sayable("right"),
    Handedness.LEFT: sayable("left"),
}


def swing_table(analysis: SwingAnalysis, language: Language = ENGLISH) -> str:
    """The whole analysis: what was found, positions, findings, remarks on the footage, cautions.

    No line is longer than :data:`WIDTH`; long sentences wrap. Lengths are in percent of body
    height, as in the answer.
    """
    wording = Wording(language, as_measured=True)
    sections = [_summary(analysis, wording)]
    if analysis.swing_found:
        sections += [
            _positions(analysis.positions, wording),
            _findings(analysis.findings, wording),
        ]
    sections.append(_quality(analysis.quality, wording))
    if any(_advised(finding) for finding in analysis.findings):
        sections.append(_cautions(analysis.findings, wording))
    return "\n\n".join("\n".join(section) for section in sections) + "\n"


def _summary(analysis: SwingAnalysis, wording: Wording) -> list[str]:
    say = wording.say
    if not analysis.swing_found:
        reason = wording.reason(analysis.reason) if analysis.reason else ""
        none = say("No golf swing found.")
        return _wrapped(f"{none} {reason}", "")
    view, hand = analysis.view, analysis.handedness
    return [
        say("View: {view}", view=_judged(view, wording.view(view.value) if view else "", wording)),
        say(
            "Handedness: {hand}",
            hand=_judged(hand, say(_HANDS[hand.value]) if hand else "", wording),
        ),
        *(_span(span, wording) for span in analysis.swings),
        *(_wrapped(_stopped(analysis.stopped_at, wording), "") if analysis.stopped_at else ()),
    ]


def _stopped(stopped: StoppedAt, wording: Wording) -> str:
    """Where a backswing stopped that was asked to stop somewhere."""
    say, asked = wording.say, _number(stopped.asked, 1, wording)
    if stopped.value is None:
        why = wording.reason(stopped.reason) if stopped.reason else say("Can't tell.")
        return say("Backswing: asked to stop at P{asked}. {why}", asked=asked, why=why)
    return say(
        "Backswing: asked to stop at P{asked}, stopped at P{value} ± {error}: {length}",
        asked=asked,
        value=_number(stopped.value, 1, wording),
        error=_number(stopped.uncertainty or 0.0, 1, wording),
        length=say(LENGTHS[against_asked(stopped)]),
    )


def _span(span: SwingSpan, wording: Wording) -> str:
    told = wording.say(
        "Swing: frames {first} to {last}, {start} s to {end} s",
        first=span.first_frame,
        last=span.last_frame,
        start=_number(span.start, 2, wording),
        end=_number(span.end, 2, wording),
    )
    left_out = wording.say("not analysed")
    return told if span.analysed else f"{told} ({left_out})"


def _judged(judged: Judged[View] | Judged[Handedness] | None, name: str, wording: Wording) -> str:
    if judged is None:
        return wording.say("not known")
    confidence = _number(judged.confidence, 2, wording)
    how = (
        wording.say("given")
        if judged.given
        else wording.say("inferred, confidence {confidence}", confidence=confidence)
    )
    return f"{name} ({how})"


def _positions(positions: Sequence[Position], wording: Wording) -> list[str]:
    say = wording.say
    headings = (say("Source"), say("Time s"), "±", say("Frame"), say("Confidence"))
    width = max(len(headings[0]), *(len(say(source)) for source in _SOURCES.values()))
    columns = ("<8", f"<{width}", ">7", ">6", ">7", ">10", "")
    lines = [_row((say("Position"), *headings, ""), columns)]
    for position in positions:
        lines.append(_row(_position(position, wording), columns))
        if position.reason is not None:
            lines += _wrapped(wording.reason(position.reason), 5 * _GAP)
    return lines


def _row(cells: Sequence[str], columns: Sequence[str]) -> str:
    """Cells side by side, each laid out as the format of its column says.

    >>> _row(("P4", "1.2"), ("<4", ">6"))
    'P4       1.2'
    """
    laid_out = (format(cell, column) for cell, column in zip(cells, columns, strict=True))
    return _GAP.join(laid_out).rstrip()


def _position(position: Position, wording: Wording) -> tuple[str, ...]:
    return (
        position.name,
        wording.say(_SOURCES[position.source]),
        _number(position.time, 3, wording),
        _number(position.uncertainty, 3, wording),
        _number(position.frame, 1, wording),
        _number(min(position.confidence, SUREST), 2, wording),
        wording.say(PLACES[position.number]),
    )


def _findings(findings: Sequence[Finding], wording: Wording) -> list[str]:
    """What is there first, what is not after it, and at the end what could not be judged."""
    say = wording.say
    judged = [f for f in findings if f.status is not Status.NOT_ASSESSABLE]
    width = max((len(say(finding.title)) for finding in judged), default=len(say("Fault")))
    headings = (say("Fault"), say("Status"), say("Conf."), say("Grade"), say("Severity"))
    columns = (f"<{width}", "<9", ">5", "<8", "")
    lines, absent = [_row(headings, columns)], seen_absent(findings)
    for status in _STATUSES:
        for finding in judged:
            if finding.status is status:
                lines.append(_row(_finding(finding, wording), columns))
                told = _explanation(finding, absent, wording)
                lines += [line for each in told for line in _wrapped(each)]
    for key in first_to_work_on(findings, wording):
        lines += ["", *_wrapped(key, "")]
    return lines + _not_judged([f for f in findings if f not in judged], wording)


def _finding(finding: Finding, wording: Wording) -> tuple[str, ...]:
    return (
        wording.say(finding.title),
        wording.say(_STATUSES[finding.status]),
        _number(finding.confidence, 2, wording),
        wording.say(GRADES[finding.grade]) if finding.grade else _NONE,
        _severity(finding, wording),
    )


def _explanation(finding: Finding, absent: Collection[str], wording: Wording) -> list[str]:
    """Of a present fault where it shows, by what, what often lies behind it and what to do."""
    if finding.status is Status.UNCERTAIN:
        chance = _number(finding.chance, 2, wording)
        return [wording.say("Too close to call: chance {chance}", chance=chance)]
    if finding.status is not Status.PRESENT:
        return []
    moment = finding.shows_most
    told = [*(_sentence(e, wording) for e in finding.evidence), *advice(finding, absent, wording)]
    if moment is not None:
        at = wording.say(
            "Shows most at P{position}, frame {frame}, {seconds} s",
            position=_number(moment.position, 1, wording),
            frame=moment.frame,
            seconds=_number(moment.time, 2, wording),
        )
        told.insert(0, at)
    return told


def first_to_work_on(findings: Sequence[Finding], wording: Wording = IN_ENGLISH) -> list[str]:
    """Of more faults than a player can work on at once those to begin with, in a sentence."""
    found = [f for f in findings if _advised(f)]
    first = [p.finding.title for p in build_story(findings).priorities]
    if len(first) == len(found):
        return []
    return [wording.say("Work on first: {faults}.", faults=wording.titles(first))]


def seen_absent(findings: Sequence[Finding]) -> frozenset[str]:
    """Faults that a swing was seen not to have."""
    return frozenset(f.fault for f in findings if f.status is Status.ABSENT)


def advice(
    finding: Finding, absent: Collection[str] = (), wording: Wording = IN_ENGLISH
) -> tuple[str, ...]:
    """Of a present fault what often lies behind it and what to try; cautions belong beside it.

    Causes that speak of faults seen to be ``absent`` are left out.
    """
    if not _advised(finding):
        return ()
    say, causes = wording.say, likely_causes(finding.fault, absent)
    behind = say("Often behind it: {causes}", causes=" ".join(map(say, causes)))
    what_to_try = say("Try this: {checkpoint}", checkpoint=say(CATALOGUE[finding.fault].checkpoint))
    return (behind, what_to_try) if causes else (what_to_try,)


def _sentence(evidence: Evidence, wording: Wording) -> str:
    form = (
        sayable("{measure}: {value} ± {error} {unit}, a fault above {threshold} ({reference})")
        if evidence.direction == "above"
        else sayable("{measure}: {value} ± {error} {unit}, a fault below {threshold} ({reference})")
    )
    return wording.say(
        form,
        measure=wording.say(evidence.title),
        value=_short(evidence.value, 3, wording),
        error=_short(evidence.uncertainty, 2, wording),
        unit=wording.unit(evidence.unit),
        threshold=_short(evidence.threshold, 6, wording),
        reference=wording.say(evidence.reference),
    )


def _not_judged(findings: Sequence[Finding], wording: Wording) -> list[str]:
    """Each reason once, with the faults that it kept from being judged, and what would help."""
    lines = ["", wording.say("Not assessable")] if findings else []
    told = [(f.title, f.reason) for f in findings if f.reason is not None]
    for fix, cases in unjudged(told, wording):
        for titles, why, figures in cases:
            lines += _wrapped(f"{titles}: {why}" if why else titles)
            lines += [line for each in figures for line in _wrapped(each, 2 * _GAP)]
        if fix:
            lines += _wrapped(f"→ {fix}", 2 * _GAP)
    return lines


def _cautions(findings: Sequence[Finding], wording: Wording) -> list[str]:
    """What goes with the advice, each once."""
    found = [CATALOGUE[f.fault] for f in findings if _advised(f)]
    told = list(dict.fromkeys(caution for fault in found for caution in fault.cautions))
    heading = wording.say("Before you work on any of this:")
    return [heading, *(line for caution in told for line in _wrapped(wording.say(caution)))]


def _advised(finding: Finding) -> bool:
    return finding.status is Status.PRESENT and finding.fault in CATALOGUE


def _severity(finding: Finding, wording: Wording) -> str:
    if finding.severity is None:
        return _NONE
    unit = wording.unit(finding.severity_unit) if finding.severity_unit else ""
    return f"{_short(finding.severity, 3, wording)} {unit}".rstrip()


def _quality(quality: FootageQuality, wording: Wording) -> list[str]:
    rate = _short(quality.frame_rate, 4, wording)
    lines = [wording.say("Footage: {rate} frames a second", rate=rate)]
    return lines + [line for remark in quality.remarks for line in _remark(remark, wording)]


def _remark(remark: Remark, wording: Wording) -> list[str]:
    level = wording.say(_LEVELS[remark.level])
    return _wrapped(f"{level}: {wording.remark(remark)} {wording.fix(remark)}")


def _wrapped(text: str, indent: str = _GAP) -> list[str]:
    return textwrap.wrap(
        text.strip(), WIDTH, initial_indent=indent, subsequent_indent=indent + _GAP
    )


def _number(value: float | None, digits: int, wording: Wording) -> str:
    return _NONE if value is None else wording.language.number(value, digits)


def _short(value: float, digits: int, wording: Wording) -> str:
    """A value to some digits."""
    told = f"{value:.{digits}g}"
    places = len(told.partition(".")[2]) if "e" not in told else 0
    return wording.language.number(value, places)
