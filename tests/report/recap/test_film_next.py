"""What a player is told to film next."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest

from service.analysis.types import (
    Level,
    Reason,
    Remark,
    SwingAnalysis,
    View,
)
from service.lessons.words.filming import NOT_BY_FILMING, PLAYERS_FIX
from service.records import Role
from service.report.recap import Drawn, render_html
from service.use_cases.recap import recap_of
from tests.calls import calls_of
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    swing,
    unseen,
)
from tests.report.parsed import Page
from tests.report.visits import visit


def test_what_to_film_next_follows_from_what_was_filmed() -> None:
    found = swing(findings=[absent("chest_stall")])
    other = swing(findings=[absent("handle_rise")], view=View.DOWN_THE_LINE)
    one = recap_of("Ada", [visit((Role.OTHER, found))])
    assert one.film_next[0].startswith("Film down the line too: 4 of the 16 faults")
    both = recap_of("Ada", [visit((Role.OTHER, found), (Role.OTHER, other))])
    assert both.film_next == (
        "Film face on and down the line again, so that the lessons can be compared.",
    )


def test_a_view_filmed_only_at_the_start_is_asked_for_at_the_end() -> None:
    found = swing(findings=[absent("chest_stall")])
    other = swing(findings=[absent("handle_rise")], view=View.DOWN_THE_LINE)
    recap = recap_of("Ada", [visit((Role.BEFORE, other), (Role.AFTER, found))])
    assert recap.film_next[0].startswith("At the end of the lesson film down the line too: 4 of")


def test_what_lets_most_faults_be_judged_is_asked_for_first() -> None:
    vague = Reason("too_uncertain", "Gap: 4 ± 3 degrees is too uncertain to judge.")
    names = [d.name for d in DEFINITIONS.values() if d.views == (View.FACE_ON,)]
    found = swing(findings=[replace(unseen(name), reason=vague) for name in names])
    recap = recap_of("Ada", [visit((Role.OTHER, found))])
    assert len(names) > sum(d.views == (View.DOWN_THE_LINE,) for d in DEFINITIONS.values())
    assert [told[:12] for told in recap.film_next] == ["Fill the pic", "Film down th"]


@pytest.mark.parametrize(
    ("most", "least"), [("feet_not_seen", "low_frame_rate"), ("low_frame_rate", "feet_not_seen")]
)
def test_what_the_footage_lacked_is_asked_for_by_how_many_faults_it_kept_from_being_judged(
    most: str, least: str
) -> None:
    reasons = {
        "feet_not_seen": Reason(
            "points_not_seen", "Not seen well enough for this: trail heel, trail toe."
        ),
        "low_frame_rate": Reason("frame_rate", "Too few frames a second."),
    }
    fixes = {PLAYERS_FIX.get(code, f"Mend {code}."): code for code in reasons}
    one, *many = (d.name for d in DEFINITIONS.values() if d.views == (View.FACE_ON,))
    findings = [replace(unseen(name), reason=reasons[most]) for name in many]
    found = swing(findings=[*findings, replace(unseen(one), reason=reasons[least])])
    for order in ((most, least), (least, most)):
        remarks = tuple(Remark(code, Level.WARNING, "Off.", f"Mend {code}.") for code in order)
        shown = replace(found, quality=replace(found.quality, remarks=remarks))
        recap = recap_of("Ada", [visit((Role.OTHER, shown))])
        told = [fixes.get(text, text[:13]) for text in recap.film_next]
        assert told == [most, "Film down the", least]


FIELDS = re.compile(
    r"[a-z]_[a-z]|\b(fps|intent|coordinates|keypoints|layout|format|null|points|model|view out)\b"
)
"""Words for whoever writes a program, not for a player."""


def warned_of(code: str) -> SwingAnalysis:
    remark = Remark(code, Level.WARNING, "Something is off.", "Send fps.")
    found = swing(findings=[absent("chest_stall")])
    return replace(found, quality=replace(found.quality, remarks=(remark,)))


@pytest.mark.parametrize(("code", "told"), PLAYERS_FIX.items())
def test_a_player_is_told_what_to_film_and_not_what_a_program_has_to_send(
    code: str, told: str
) -> None:
    assert not FIELDS.search(told)
    recap = recap_of("Ada", [visit((Role.OTHER, warned_of(code)))])
    assert (told in recap.film_next) == (told != NOT_BY_FILMING)
    text = Page(render_html(replace(recap, drawn=Drawn()), {})).text
    assert told in text
    assert "fps" not in text


def test_every_fix_of_a_warning_that_speaks_of_what_is_sent_has_words_for_the_player() -> None:
    fixes = dict(_fixes_of_warnings())
    assert {"plays_fast", "clip_starts_late"} <= fixes.keys()
    technical = {code for code, fix in fixes.items() if FIELDS.search(fix)}
    assert technical <= PLAYERS_FIX.keys()


def _fixes_of_warnings() -> Iterator[tuple[str, str]]:
    for call in calls_of("Remark"):
        code, level, _, fix = call.args
        if isinstance(code, ast.Constant) and getattr(level, "attr", "") == "WARNING":
            yield code.value, ast.unparse(fix)
