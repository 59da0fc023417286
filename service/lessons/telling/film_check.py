"""How a player's own film shows that a fault is gone, in a sign to see and in numbers."""

from __future__ import annotations

from collections.abc import Sequence

from service.analysis.faults import CATALOGUE
from service.analysis.types import Finding, View
from service.lessons.telling.parts import VideoCheck
from service.lessons.telling.texts import TEXTS
from service.lessons.words.wording import Wording, sentence


def video_check(finding: Finding, wording: Wording) -> VideoCheck:
    """How a player sees on a film of their own that a fault which was found is gone."""
    definition = CATALOGUE[finding.fault]
    measured = {e.measure for e in finding.evidence}
    matching = (
        view
        for view, criteria in definition.criteria.items()
        if measured == {c.measure.name for c in criteria}
    )
    # A finding kept from an earlier version may have been judged by other measures.
    views = tuple(matching) or definition.views
    leading = definition.criteria[views[0]][0].measure
    position = finding.shows_most.position if finding.shows_most else leading.start
    text = _sign(finding.fault, views, wording)
    return VideoCheck(views, leading.at, position, text, _in_numbers(finding, wording))


def _sign(fault: str, views: Sequence[View], wording: Wording) -> str:
    """What a film shows once a fault is gone, from the first view where not all show the same."""
    gone = TEXTS[fault].gone
    sign = wording.say(gone[views[0]])
    if len(views) > 1 and len({gone[view] for view in views}) == 1:
        return wording.say("It is gone when {sign}.", sign=sign)
    view = wording.view(views[0])
    return sentence(wording.say("Seen {view}, it is gone when {sign}.", view=view, sign=sign))


def _in_numbers(finding: Finding, wording: Wording) -> str:
    """What the measures should come to, and what they are; empty without evidence."""
    if not finding.evidence:
        return ""
    aims = [
        wording.say(
            "{measure} {aim} (here {value} ± {error})",
            measure=wording.language.in_sentence(e.title),
            aim=wording.aim(e),
            value=wording.number(e.value, e.unit),
            error=wording.number(e.uncertainty, e.unit),
        )
        for e in finding.evidence
    ]
    told = wording.say("It is gone with {aims}.", aims=wording.language.listed(aims, either=True))
    either = wording.say("Either is enough.")
    return f"{told} {either}" if len(aims) > 1 else told
