"""Several findings told as one story: what to work on first, and why.

How it is ranked
----------------
1. A *cause* is a fault found with no other found fault before it on the graph of
   :mod:`service.lessons.telling.causes`; the rest are its *compensations*. A fault that was seen to
   be absent breaks a chain, one that could not be seen does not.
2. Priorities are the two heaviest causes; weight is the confidence times the sum of the
   grade (1 mild, 2 moderate, 3 marked) and the number of other found faults it explains.
3. If there are fewer than two causes, the heaviest compensation whose grade exceeds that
   of each fault that brings it follows: it is stronger than they explain.
4. A coach's word weighs as a confidence of 1, and keys that a coach put in order come first.
5. Ties go to what shows earlier in the swing, then to the catalogue's order.

The weighing is a judgement; the links are common practice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from service.analysis.faults import CATALOGUE
from service.analysis.types import Finding, Grade, Status
from service.lessons.coach.edits import NO_EDITS, KeyEdit, KeyWords, OwnKey, RecapEdits
from service.lessons.coach.reviews import sureness
from service.lessons.swings import beyond
from service.lessons.telling.causes import GRAPH, likely_causes
from service.lessons.telling.film_check import video_check
from service.lessons.telling.parts import (
    Chapter,
    Compensation,
    Keep,
    PlacedKey,
    Priority,
    Story,
    Unseen,
)
from service.lessons.telling.texts import TEXTS
from service.lessons.words.wording import IN_ENGLISH, Wording

MOST_PRIORITIES: Final[int] = 2
"""More than this nobody can work on at once (common practice)."""
MOST_KEPT: Final[int] = 2
_MOST_CAUSES: Final[int] = 2
"""What may lie behind a fault, told to a player; a judgement."""
CLEARLY: Final[float] = 0.8
"""Confidence from which an absent fault is told as something to keep."""
_POINTS: Final[dict[Grade, int]] = {Grade.MILD: 1, Grade.MODERATE: 2, Grade.MARKED: 3}


def build_story(
    findings: Iterable[Finding],
    found_once: Collection[str] = (),
    edits: RecapEdits = NO_EDITS,
    wording: Wording = IN_ENGLISH,
    gained: Collection[str] = (),
) -> Story:
    """Tell findings about one player as one story.

    Parameters
    ----------
    findings
        Of one clip, or of several such as one from each view: of findings about the same
        fault the most confident counts.
    found_once
        Faults that some swing showed whatever all swings together say; none is praised.
    edits
        What a coach made of the keys; a fault that is not found is no key all the same.
    wording
        How it is said to the player.
    gained
        Faults that got better: what the player has just won is the first to keep.
    """
    case = _Case(_one_each(findings), wording)
    keys = case.keys(edits)
    return Story(
        chapters=case.chapters(),
        priorities=tuple(key for key in keys if isinstance(key, Priority)),
        keep=_what_to_keep(
            (f for f in case.findings.values() if f.fault not in found_once), gained, wording
        ),
        unseen=tuple(
            Unseen(f.fault, wording.say(f.title), f.reason)
            for f in case.findings.values()
            if f.status is Status.NOT_ASSESSABLE and f.reason is not None
        ),
        own_keys=tuple(
            PlacedKey(key, place)
            for place, key in enumerate(keys, start=1)
            if isinstance(key, OwnKey)
        ),
        hidden=tuple(name for name in edits.hidden if name in case.found),
        not_found=tuple(name for name in edits.shown if name not in case.found),
    )


@dataclass(frozen=True)
class _Case:
    """The findings by fault, in catalogue order, and what follows from the graph."""

    findings: dict[str, Finding]
    wording: Wording

    @cached_property
    def found(self) -> dict[str, Finding]:
        return {n: f for n, f in self.findings.items() if f.status is Status.PRESENT}

    @cached_property
    def unseen(self) -> frozenset[str]:
        """Faults not judged, be it for a reason or because no finding was given."""
        judged = (n for n, f in self.findings.items() if f.status is not Status.NOT_ASSESSABLE)
        return frozenset(CATALOGUE).difference(judged)

    @cached_property
    def brings(self) -> dict[str, frozenset[str]]:
        return {n: GRAPH.next_found(n, self.found, self.unseen) for n in self.found}

    @cached_property
    def roots(self) -> tuple[str, ...]:
        return tuple(n for n in self.found if not self.brought_by(n))

    def brought_by(self, name: str) -> tuple[str, ...]:
        return tuple(n for n in self.found if name in self.brings[n])

    def explained(self, name: str) -> frozenset[str]:
        near = self.brings[name]
        return near.union(*(self.explained(n) for n in near))

    def chapters(self) -> tuple[Chapter, ...]:
        told: set[str] = set()
        chapters = []
        for root in sorted(self.roots, key=_place_in_swing):
            fresh = self.explained(root) - told
            told |= fresh
            compensations = tuple(
                Compensation(self.found[n], self.brought_by(n)) for n in GRAPH.order if n in fresh
            )
            chapters.append(Chapter(self.found[root], compensations))
        return tuple(chapters)

    def ranked(self) -> list[str]:
        """Faults that may be a priority, the first to work on first."""
        strong = [n for n in self.found if n not in self.roots and self._outgrows(n)]
        return [*sorted(self.roots, key=self._rank), *sorted(strong, key=self._rank)]

    def _outgrows(self, name: str) -> bool:
        causes = (self.found[n] for n in self.brought_by(name))
        return all(_points(self.found[name]) > _points(cause) for cause in causes)

    def _rank(self, name: str) -> tuple[float, float, int]:
        finding = self.found[name]
        weight = sureness(finding) * (_points(finding) + len(self.explained(name)))
        # What differs in the sixth decimal is a tie.
        return (-round(weight, 6), *_place_in_swing(name))

    def keys(self, edits: RecapEdits) -> list[Priority | OwnKey]:
        """The coach's keys, and the service's after them as far as there is room."""
        keys: list[Priority | OwnKey] = []
        for edit in edits.keys:
            if isinstance(edit, OwnKey):
                keys.append(edit)
            elif edit.fault in self.found and not edit.hidden:
                keys.append(_reworded(self.priority(edit.fault), edit))
        others = [name for name in self.ranked() if name not in edits.named]
        room = max(0, MOST_PRIORITIES - len(keys))
        return [*keys, *(self.priority(name) for name in others[:room])]

    def priority(self, name: str) -> Priority:
        definition, say = CATALOGUE[name], self.wording.say
        explained = self.wording.explained
        description = explained(say(definition.description))
        work_on = explained(say(definition.checkpoint), description)
        return Priority(
            finding=self.found[name],
            why=self._why(name),
            effect=self._effect(name),
            dose=explained(say(TEXTS[name].dose), f"{description} {work_on}"),
            description=description,
            behind=self._behind(name),
            work_on=work_on,
            check=video_check(self.found[name], self.wording),
            unseen_causes=self._unseen_causes(name),
            cautions=tuple(say(caution) for caution in definition.cautions),
        )

    def _unseen_causes(self, name: str) -> tuple[str, ...]:
        return tuple(cause for cause in GRAPH.causes(name) if cause in self.unseen)

    def _effect(self, name: str) -> str:
        effect, eased = self.wording.say(TEXTS[name].effect), self._eased(name)
        if not eased:
            return effect
        told = self.wording.say(
            "This may get better with it: {faults}.", faults=self._titles(eased)
        )
        return f"{effect} {told}"

    def _behind(self, name: str) -> str:
        """Why a fault often happens: what brings it here, and what was not seen to be absent."""
        absent = {n for n, f in self.findings.items() if f.status is Status.ABSENT}
        causes = [self.wording.say(cause) for cause in likely_causes(name, absent)]
        bringing = self.brought_by(name)
        if bringing:
            partly = self.wording.say(
                "Part of it may come from {faults}.", faults=self._titles(bringing)
            )
            causes.insert(0, partly)
        if not causes:
            return self.wording.say("What usually leads to it was not found here: ask your coach.")
        return " ".join(causes[:_MOST_CAUSES])

    def _eased(self, name: str) -> list[str]:
        """What was found and comes after a fault, in the graph's order."""
        return [n for n in GRAPH.order if n in self.explained(name)]

    def _why(self, name: str) -> str:
        language = self.wording.language
        if name not in self.roots:
            return language.say(
                "It shows more strongly than what tends to lead to it ({faults}) would explain.",
                faults=self._titles(self.brought_by(name)),
            )
        eased = self._eased(name)
        if eased:
            why = language.say(
                "It comes before what it tends to lead to: {faults}.", faults=self._titles(eased)
            )
        else:
            why = language.say("Nothing else that was found tends to lead to it.")
        unseen = self._titles(self._unseen_causes(name))
        if not unseen:
            return why
        told = language.say(
            "It may also come from {faults}, which could not be judged.", faults=unseen
        )
        return f"{why} {told}"

    def _titles(self, names: Iterable[str]) -> str:
        return self.wording.titles([CATALOGUE[n].title for n in names])


def _one_each(findings: Iterable[Finding]) -> dict[str, Finding]:
    best: dict[str, Finding] = {}
    for finding in findings:
        rival = best.get(finding.fault)
        if rival is None or sureness(finding) > sureness(rival):
            best[finding.fault] = finding
    return {name: best[name] for name in CATALOGUE if name in best}


def _reworded(priority: Priority, edit: KeyEdit) -> Priority:
    """A priority in the coach's words where the coach has some."""
    words = {name: text for name, text in _told(edit.words).items() if name != "check"}
    if edit.words.work_on is not None:
        words.setdefault("dose", "")  # the service's is for what it asks for itself
    check = priority.check
    if edit.words.check is not None:
        check = replace(check, text=edit.words.check)
    reworded = tuple(_told(edit.words))
    # Every name is a field of texts, which the type checker can't see.
    return replace(priority, **words, check=check, reworded=reworded)  # type: ignore[arg-type]


def _told(words: KeyWords) -> dict[str, str]:
    return {name: text for name, text in vars(words).items() if text is not None}


def _what_to_keep(
    findings: Iterable[Finding], gained: Collection[str], wording: Wording
) -> tuple[Keep, ...]:
    clear = [
        f
        for f in findings
        if f.status is Status.ABSENT and (f.confidence or 0.0) >= CLEARLY and not any(beyond(f))
    ]
    clear.sort(
        key=lambda f: (
            f.fault not in gained,
            -round(f.confidence or 0.0, 2),
            *_place_in_swing(f.fault),
        )
    )
    return tuple(Keep(f.fault, wording.say(CATALOGUE[f.fault].kept)) for f in clear[:MOST_KEPT])


def _points(finding: Finding) -> int:
    return _POINTS[finding.grade] if finding.grade is not None else 1


def _place_in_swing(name: str) -> tuple[float, int]:
    """Where a fault begins to show, then its place in the catalogue."""
    criteria = (c for each in CATALOGUE[name].criteria.values() for c in each)
    return min(c.measure.start for c in criteria), list(CATALOGUE).index(name)
