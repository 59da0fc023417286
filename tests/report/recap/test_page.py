"""The page of a recap, and recaps of kept lessons."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.measures.definition import BODY_PERCENT
from service.analysis.types import View
from service.demo import keep_lessons
from service.lessons import FaultChange, Outcome, Transfer, Verdict
from service.lessons.estimates import Estimate
from service.lessons.words.reasons import figured
from service.lessons.words.wording import Wording
from service.records import Database, RecordNotFound, Role, upgrade
from service.records.keeping import lessons, players
from service.records.keeping import swings as kept_swings
from service.report.clip import Clip
from service.report.drawing.svg import ANGLE
from service.report.recap import Recap, render_html
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.history import clips_of
from service.use_cases.keep import KeepSwing, keep_swing
from service.use_cases.recap import build_recap, recap_page
from tests.lessons.made_up import DEFINITIONS
from tests.records.kept import RULES, faulty_body, still_body, swing_body
from tests.report.parsed import Page

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Database, str]]:
    """The demonstration's player with two lessons, and the id of the last one."""
    database = Database(f"sqlite:///{tmp_path_factory.mktemp('recap') / 'records.db'}")
    upgrade(database)
    yield database, keep_lessons(database, Analyser.of(Settings()))
    database.close()


@pytest.fixture(scope="module")
def recap(lesson: tuple[Database, str]) -> Recap:
    database, lesson_id = lesson
    with database.reading() as session:
        return build_recap(session, lesson_id)


@pytest.fixture(scope="module")
def clips(lesson: tuple[Database, str], recap: Recap) -> dict[str, Clip]:
    with lesson[0].reading() as session:
        return clips_of(session, kept_swings.newest(session, sorted(recap.drawn.swings)))


@pytest.fixture(scope="module")
def page(recap: Recap, clips: dict[str, Clip]) -> str:
    return render_html(recap, clips)


@pytest.fixture
def database(database_url: str) -> Database:
    return Database(database_url)


def test_a_full_lesson_is_told_from_the_keys_to_the_swings(recap: Recap) -> None:
    assert len(recap.swings) == 8
    assert set(recap.roles.values()) == {"before", "rehearsal", "after"}
    assert [p.finding.fault for p in recap.story.priorities][:1] == ["trail_heel_kick"]
    assert {c.view for c in recap.changes.comparisons} == set(View)
    assert recap.changes.compared == "the start of this lesson against its end"
    outcomes = {(t.fault, t.outcome) for _, t in recap.changes.transfers}
    assert ("arms_lift_at_top", Outcome.HOLDS) in outcomes
    assert ("trail_heel_kick", Outcome.LOST_AT_FULL_SPEED) in outcomes
    assert recap.about.made_by


def test_pictures_show_the_keys_and_what_changed_before_and_after(
    recap: Recap, clips: dict[str, Clip]
) -> None:
    titles = [p.title for p in recap.drawn.pictures]
    assert titles[0] == recap.story.priorities[0].finding.title
    assert DEFINITIONS["arms_lift_at_top"].title in titles
    assert len(titles) == len(set(titles)) <= 4
    for pictured in recap.drawn.pictures:
        assert pictured.before is not None
        views = [clips[swing].analysis.view for swing in (pictured.before, pictured.after)]
        assert [v and v.value for v in views] == [pictured.view] * 2


def test_the_page_stays_small(page: str) -> None:
    assert len(page.encode()) < 500_000


def test_the_page_asks_for_nothing_from_elsewhere_and_has_no_script(page: str) -> None:
    parsed = Page(page)
    assert parsed.open == []
    tags = [tag for tag, _ in parsed.tags]
    assert not {"script", "iframe", "object", "img", "image", "use", "base"} & set(tags)
    for tag, attributes in parsed.tags:
        assert not any(name.startswith("on") for name in attributes)
        assert not {"src", "srcset", "action", "xlink:href"} & attributes.keys()
        if "href" in attributes:
            own = {("link", "data:,"), ("a", "#more"), ("a", "#first"), ("a", "#words")}
            assert (tag, attributes["href"]) in own
    style = re.sub(r'xmlns="[^"]*"', "", page)
    assert not re.search(r"https?:|url\(|@import", style)


def test_headings_are_in_order_and_pictures_have_a_text(page: str) -> None:
    parsed = Page(page)
    levels = [int(tag[1]) for tag, _ in parsed.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(deeper - level <= 1 for level, deeper in pairwise(levels))
    assert parsed.tags[0] == ("html", {"lang": "en"})
    assert all("scope" in attributes for tag, attributes in parsed.tags if tag == "th")
    pictures = re.findall(r"<svg xmlns.*?^</svg>$", page, re.DOTALL | re.MULTILINE)
    assert len(pictures) >= 4
    for picture in pictures:
        root = ElementTree.fromstring(picture)
        assert root.get("role") == "img"
        assert root[0].tag == f"{SVG}title"
        assert root[0].text


def test_every_picture_of_a_fault_says_what_its_lines_stand_for(page: str) -> None:
    pictures = re.findall(r"<svg xmlns.*?^</svg>$", page, re.DOTALL | re.MULTILINE)
    of_faults = [p for p in pictures if any(f"<title>{d.title}:" in p for d in CATALOGUE.values())]
    measured = [p for p in of_faults if f'stroke="{ANGLE}"' in p]
    assert len(measured) >= 2
    assert all("What is measured" in picture for picture in measured)


def test_the_page_says_what_the_recap_holds(recap: Recap, page: str) -> None:
    text = Page(page).text
    assert recap.about.coach_note is not None
    for line in recap.about.coach_note.splitlines():
        assert line in text
    for priority in recap.story.priorities:
        for told in (priority.finding.title, priority.why, priority.work_on, priority.check.text):
            assert told in text
    for told in (*recap.cautions, *recap.about.made_by, *(k.text for k in recap.story.keep)):
        assert told in text
    assert recap.story.unseen
    for unseen_fault in recap.story.unseen:
        told = figured(unseen_fault.reason)
        assert told is not None
        error = recap.wording.number(float(told.parts["error"]), told.parts["unit"])
        assert f"± {error} {told.parts['unit']};" in text
        assert unseen_fault.title.lower() in text.lower()  # faults for one reason share a line
    assert BODY_PERCENT not in text
    assert "▲ better" in text
    assert "✓ kept at full speed" in text
    assert "✗ not kept at full speed" in text


def test_values_of_several_swings_are_said_to_be_averages(
    recap: Recap, clips: dict[str, Clip]
) -> None:
    averages = "the average of those of a side"
    assert averages in Page(render_html(recap, clips)).text

    def one_swing(estimate: Estimate | None) -> Estimate | None:
        return estimate and replace(estimate, count=1)

    def of_one_swing(change: FaultChange) -> FaultChange:
        measures = (
            replace(m, before=one_swing(m.before), after=one_swing(m.after))
            for m in change.measures
        )
        return replace(change, measures=tuple(measures))

    comparisons = (
        replace(c, faults=tuple(map(of_one_swing, c.faults))) for c in recap.changes.comparisons
    )
    single = replace(recap, changes=replace(recap.changes, comparisons=tuple(comparisons)))
    assert single.changes.rows
    assert averages not in Page(render_html(single, clips)).text


def test_a_value_that_could_be_nearly_any_is_named_and_not_shown(
    recap: Recap, clips: dict[str, Clip]
) -> None:
    def measured(uncertainty: float) -> str:
        measures = replace(recap.latest[0].measures[0], title="Bend of a joint", unit="degrees")
        bend = replace(measures, name="bend", value=17.3, uncertainty=uncertainty)
        swings = {name: replace(swing, measures=(bend,)) for name, swing in recap.swings.items()}
        page = render_html(replace(recap, swings=swings), clips)
        return page.partition("All measures of the last swing")[2]

    sure, vague = measured(9.0), measured(48.0)
    assert "<td>17 ± 9" in sure
    assert "Measured too vaguely" not in sure
    assert "<td>17 ± 48" not in vague
    place = recap.latest[0].measures[0].at.replace("-", " – ")
    assert f"Measured too vaguely to tell anything: bend of a joint ({place})." in vague


def test_what_people_wrote_is_escaped(recap: Recap, clips: dict[str, Clip]) -> None:
    evil = "<script>alert(1)</script> & \"quotes\" <img src=x onerror='y'>"
    told = replace(recap, about=replace(recap.about, player=evil, title=evil, coach_note=evil))
    parsed = Page(render_html(told, clips))
    assert not {"script", "img"} & {tag for tag, _ in parsed.tags}
    assert parsed.text.count(evil) >= 3


def test_the_same_lesson_gives_the_same_page(lesson: tuple[Database, str], page: str) -> None:
    database, lesson_id = lesson
    with database.reading() as session:
        assert recap_page(session, lesson_id) == page


def test_a_kept_lesson_gets_its_recap_from_its_newest_analyses(database: Database) -> None:
    with database.writing() as session:
        player = players.add(session, "Ada Fairway")
        days = [date(2025, 5, 1), date(2025, 5, 8), date(2025, 6, 1)]
        first, second, later = (
            lessons.add(session, player.id, day, coach_note="Well done.") for day in days
        )
    when = datetime(2025, 5, 8, tzinfo=UTC)
    for lesson, body, role in (
        (first, faulty_body(), Role.OTHER),
        (second, faulty_body(), Role.BEFORE),
        (second, swing_body(), Role.AFTER),
        (second, still_body(), Role.OTHER),
        (later, faulty_body(), Role.OTHER),
    ):
        keep_swing(database, RULES, KeepSwing(lesson.id, body, role, when))
    with database.reading() as session:
        recap = build_recap(session, second.id)
        text = Page(recap_page(session, second.id)).text
    assert recap.about.player == "Ada Fairway"
    assert list(recap.roles.values()) == ["before", "after", "other"]
    views = [swing.view and swing.view.value for swing in recap.swings.values()]
    assert views == [View.FACE_ON, View.FACE_ON, None]
    (comparison,) = recap.changes.comparisons
    verdicts = {f.fault: f.verdict for f in comparison.faults}
    assert verdicts["long_backswing"] is Verdict.BETTER
    assert "Well done." in text
    assert "no swing found" in text
    # Start and end, not the later lesson.
    assert {len(c.measure.points) for c in recap.drawn.charts} == {3}


def test_an_unknown_lesson_has_no_recap(database: Database) -> None:
    with database.reading() as session, pytest.raises(RecordNotFound):
        build_recap(session, "nowhere")


def test_of_a_fault_whose_change_is_told_it_is_not_said_that_nothing_can_be_told(
    recap: Recap,
) -> None:
    both = replace(recap.changes, lost_sight_of=("trail_heel_kick", "shaft_steep_at_top"))
    told = dict(both.news(Wording()))
    assert told["Found before, can't be told now"] == "over-steep shaft at the top"
    back = replace(recap.changes, gone=("chest_stall",), now_and_then={"chest_stall": (1, 3)})
    assert "Gone since last time" not in dict(back.news(Wording()))


def test_nothing_is_called_better_that_got_worse_from_another_side(recap: Recap) -> None:
    news = dict(recap.news)
    assert news["Got better, and held at full speed"] == "arms lifting at the top"
    assert (
        "trail heel kicking up and out"
        in news["Got better in the slow rehearsal, but not at full speed"]
    )

    kept: tuple[tuple[View, Transfer], ...] = ()

    def told(*verdicts: Verdict) -> str:
        torn = tuple(
            replace(
                comparison,
                faults=tuple(
                    replace(f, verdict=verdict)
                    for f in comparison.faults
                    if f.fault == "trail_heel_kick"
                ),
            )
            for comparison, verdict in zip(recap.changes.comparisons, verdicts, strict=True)
        )
        alone = replace(recap.changes, gone=(), lost_sight_of=())
        changes = replace(alone, comparisons=torn, transfers=kept)
        return " ".join(kind for kind, _ in changes.news(Wording()))

    assert told(Verdict.BETTER, Verdict.BETTER) == "Got better"
    assert told(Verdict.WORSE, Verdict.NO_DETECTABLE_CHANGE) == "Got worse"
    assert told(Verdict.BETTER, Verdict.WORSE) == ""
    held = next(t for _, t in recap.changes.transfers if t.outcome is Outcome.HOLDS)
    kept = ((View.FACE_ON, replace(held, fault="trail_heel_kick")),)
    assert told(Verdict.BETTER, Verdict.BETTER) == "Got better, and held at full speed"
    assert told(Verdict.BETTER, Verdict.WORSE) == ""
