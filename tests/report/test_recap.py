"""The recap: what is put into it, and the page it becomes."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from html.parser import HTMLParser
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.measures.definition import BODY_PERCENT
from service.analysis.types import (
    Finding,
    Intent,
    Reason,
    Status,
    StoppedAt,
    SwingAnalysis,
    View,
)
from service.demo import keep_lessons
from service.languages import ENGLISH
from service.lessons import (
    Outcome,
    Part,
    Verdict,
)
from service.lessons.coach.edits import KeyEdit, KeyWords, RecapEdits
from service.lessons.telling.reasons import figured
from service.records import (
    Database,
    KeptAnalysis,
    KeptSwing,
    Lesson,
    Provenance,
    RecordNotFound,
    Role,
    Swing,
    upgrade,
)
from service.records.keeping import lessons, players
from service.records.keeping import swings as kept_swings
from service.report.clip import Clip
from service.report.drawing.svg import ANGLE
from service.report.progress import draw_progress
from service.report.recap import Recap, render_html
from service.report.recap.words import share_kept, sure
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.coach.coached import Coached
from service.use_cases.history import clips_of
from service.use_cases.keep import KeepSwing, keep_swing
from service.use_cases.recap import Visit, build_recap, recap_of, recap_page, settled_findings
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    judged_by,
    measured,
    no_swing,
    present,
    swing,
    unseen,
)
from tests.records.kept import RULES, faulty_body, still_body, swing_body

SVG = "{http://www.w3.org/2000/svg}"
VOID = {"img", "meta", "link", "br", "path", "rect", "circle", "polygon"}


class _Page(HTMLParser):
    """The page as a browser's parser would walk it: elements, texts and balance."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.open: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.texts).split())


def _visit(
    *swings: tuple[Role, SwingAnalysis], day: date = date(2025, 5, 20), note: str | None = None
) -> Visit:
    now = datetime.combine(day, datetime.min.time(), UTC)
    lesson = Lesson("lesson", "player", day, None, note, now, 1)
    return Visit(lesson, [_kept(f"{day} {n}", *swing) for n, swing in enumerate(swings)])


def _kept(swing_id: str, role: Role, analysis: SwingAnalysis) -> KeptSwing:
    now = datetime(2025, 5, 20, tzinfo=UTC)
    meta = Swing(
        id=swing_id,
        lesson_id="lesson",
        player_id="player",
        created=now,
        recorded_at=now,
        role=role,
        intent=analysis.intent,
        club=analysis.club,
        client_reference=None,
        n_frames=len(analysis.times),
        frame_rate=analysis.quality.frame_rate,
        analyses=1,
        swing_found=analysis.swing_found,
        view=analysis.view.value if analysis.view else None,
        handedness=analysis.handedness.value if analysis.handedness else None,
        version=1,
    )
    made_by = Provenance("1.0", None)
    return KeptSwing(meta, KeptAnalysis("analysis", swing_id, 1, now, made_by, analysis))


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
        return clips_of(session, kept_swings.newest(session, sorted(recap.drawn)))


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
    assert {c.view for c in recap.comparisons} == set(View)
    assert recap.compared == "the start of this lesson against its end"
    outcomes = {(t.fault, t.outcome) for _, t in recap.transfers}
    assert ("arms_lift_at_top", Outcome.HOLDS) in outcomes
    assert ("trail_heel_kick", Outcome.LOST_AT_FULL_SPEED) in outcomes
    assert recap.made_by


def test_pictures_show_the_keys_and_what_changed_before_and_after(
    recap: Recap, clips: dict[str, Clip]
) -> None:
    titles = [p.title for p in recap.pictures]
    assert titles[0] == recap.story.priorities[0].finding.title
    assert DEFINITIONS["arms_lift_at_top"].title in titles
    assert len(titles) == len(set(titles)) <= 4
    for pictured in recap.pictures:
        assert pictured.before is not None
        views = [clips[swing].analysis.view for swing in (pictured.before, pictured.after)]
        assert [v and v.value for v in views] == [pictured.view] * 2


def test_the_page_stays_small(page: str) -> None:
    assert len(page.encode()) < 500_000


def test_the_page_asks_for_nothing_from_elsewhere_and_has_no_script(page: str) -> None:
    parsed = _Page(page)
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
    parsed = _Page(page)
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
    text = _Page(page).text
    assert recap.coach_note is not None
    for line in recap.coach_note.splitlines():
        assert line in text
    for priority in recap.story.priorities:
        for told in (priority.finding.title, priority.why, priority.work_on, priority.check.text):
            assert told in text
    for told in (*recap.cautions, *recap.made_by, *(k.text for k in recap.story.keep)):
        assert told in text
    assert recap.story.unseen
    for unseen_fault in recap.story.unseen:
        told = figured(unseen_fault.reason)
        assert told is not None
        error = recap.wording.number(float(told.parts["error"]), told.parts["unit"])
        assert f"± {error} {told.parts['unit']};" in text
        assert unseen_fault.title in text
    assert BODY_PERCENT not in text
    assert "▲ better" in text
    assert "✓ kept at full speed" in text
    assert "✗ not kept at full speed" in text


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
    told = replace(recap, player=evil, title=evil, coach_note=evil)
    parsed = _Page(render_html(told, clips))
    assert not {"script", "img"} & {tag for tag, _ in parsed.tags}
    assert parsed.text.count(evil) >= 3


def test_the_same_lesson_gives_the_same_page(lesson: tuple[Database, str], page: str) -> None:
    database, lesson_id = lesson
    with database.reading() as session:
        assert recap_page(session, lesson_id) == page


def test_without_before_and_after_the_last_visit_is_held_against_this_one() -> None:
    found, gone = swing(findings=[present("chest_stall")]), swing(findings=[absent("chest_stall")])
    first = _visit((Role.OTHER, found), day=date(2025, 4, 1))
    recap = recap_of("Ada", [first, _visit((Role.OTHER, gone))])
    assert recap.compared == "the lesson of 1 April 2025 against this one"
    assert recap.sides == ("Last time", "This time")
    (comparison,) = recap.comparisons
    change = next(f for f in comparison.faults if f.fault == "chest_stall")
    assert (change.before.status, change.after.status) == (Status.PRESENT, Status.ABSENT)


def test_a_first_lesson_without_roles_compares_nothing_but_still_tells_the_keys() -> None:
    recap = recap_of("Ada", [_visit((Role.OTHER, swing(findings=[present("chest_stall")])))])
    assert recap.compared is None
    assert recap.comparisons == recap.transfers == recap.charts == ()
    assert [p.finding.fault for p in recap.story.priorities] == ["chest_stall"]


def test_views_that_only_one_side_has_are_not_compared() -> None:
    before = swing(findings=[present("chest_stall")])
    after = swing(findings=[absent("chest_stall")], view=View.DOWN_THE_LINE)
    recap = recap_of("Ada", [_visit((Role.BEFORE, before), (Role.AFTER, after))])
    assert recap.compared is None
    assert recap.comparisons == ()


@pytest.mark.parametrize("swings", [[], [(Role.BEFORE, no_swing())]])
def test_a_lesson_without_a_swing_says_so(swings: Sequence[tuple[Role, SwingAnalysis]]) -> None:
    text = _Page(render_html(recap_of("Ada", [_visit(*swings)]), {})).text
    none = "No golf swing at full speed was found" if swings else "No swing of this lesson"
    assert none in text
    assert "No fault was found" not in text
    assert "Too little could be judged" not in text
    assert "Film a whole swing at full speed" in text
    for _, analysis in swings:
        assert analysis.reason is not None
        assert analysis.reason.text in text


def test_a_lesson_of_rehearsals_alone_is_not_told_to_have_no_swing() -> None:
    slow = replace(swing(findings=[present("chest_stall")]), intent=Intent.REHEARSAL)
    text = _Page(render_html(recap_of("Ada", [_visit((Role.REHEARSAL, slow))]), {})).text
    assert "Only slow rehearsals were filmed" in text
    assert "No golf swing" not in text


def test_a_fault_that_did_not_change_in_the_lesson_is_told_as_still_there() -> None:
    heel = DEFINITIONS["trail_heel_kick"]
    taken = [(c.measure, c.moderate) for c in heel.criteria[View.FACE_ON]]
    measures = [measured(measure.name, value, 0.1) for measure, value in taken]
    same = swing(findings=[present(heel.name)], measures=measures)
    recap = recap_of("Ada", [_visit((Role.BEFORE, same), (Role.AFTER, same))])
    told = "Still there, no clear change"
    assert recap.news == ((told, "trail heel kicking up and out"),)


@pytest.mark.parametrize("view", View)
def test_what_was_gone_and_is_back_is_told_whatever_was_filmed_between(view: View) -> None:
    found, gone = (swing(findings=[f("arms_lift_at_top")]) for f in (present, absent))
    between = swing(findings=[], view=view)
    visits = [
        _visit((Role.OTHER, analysis), day=date(2025, 4, day))
        for day, analysis in enumerate((found, gone, between, found), start=1)
    ]
    recap = recap_of("Ada", visits)
    assert ("Was gone and is back", "arms lifting at the top") in recap.news
    page = render_html(replace(recap, pictures=(), strip=None), {})
    assert "Was gone and is back" in page
    still = [*visits, _visit((Role.OTHER, found), day=date(2025, 4, 5))]
    assert "Was gone and is back" not in dict(recap_of("Ada", still).news)


def test_what_was_gone_when_the_lesson_began_is_told_as_gone_since_last_time() -> None:
    found, gone = (swing(findings=[f("arms_lift_at_top")]) for f in (present, absent))
    first = _visit((Role.OTHER, found), day=date(2025, 4, 1))
    second = _visit((Role.BEFORE, gone), (Role.AFTER, gone), day=date(2025, 4, 2))
    third = _visit((Role.BEFORE, gone), (Role.AFTER, gone), day=date(2025, 4, 3))
    told = ("Gone since last time", "arms lifting at the top")
    assert recap_of("Ada", [first, second]).news == (told,)
    assert recap_of("Ada", [first, second, third]).news == ()


def test_where_no_fault_was_found_it_says_how_many_could_be_judged() -> None:
    found = [absent("chest_stall"), absent("handle_rise"), unseen("trail_knee_drive", "view")]
    told = recap_of("Ada", [_visit((Role.OTHER, swing(findings=found)))])
    assert (told.judged, told.known) == (2, len(CATALOGUE))


def test_a_fault_found_in_one_of_four_swings_is_no_key() -> None:
    once = [swing(findings=[present("chest_stall", confidence=0.99)])]
    never = [swing(findings=[absent("chest_stall", confidence=0.99)]) for _ in range(3)]
    (finding,) = settled_findings(once + never)
    assert finding.status is Status.ABSENT
    (finding,) = settled_findings(once)
    assert finding.status is Status.PRESENT


def test_why_a_fault_could_not_be_judged_comes_from_the_right_view() -> None:
    wrong, right = unseen("chest_stall", "view"), unseen("chest_stall", "frame_rate")
    (finding,) = settled_findings([swing(findings=[wrong]), swing(findings=[right])])
    assert finding.reason is not None
    assert finding.reason.code == "frame_rate"


def test_a_finding_too_near_to_call_is_told_as_such() -> None:
    torn = Finding(
        "chest_stall", DEFINITIONS["chest_stall"].title, Status.UNCERTAIN, 0.5, 0.55, chance=0.45
    )
    recap = recap_of("Ada", [_visit((Role.OTHER, swing(findings=[torn])))])
    assert [f.fault for f in recap.uncertain] == ["chest_stall"]
    assert recap.story.priorities == ()
    without_strip = replace(recap, strip=None)  # nothing was filmed that could be drawn
    assert (
        f"{torn.title} can't tell Too close to call." in _Page(render_html(without_strip, {})).text
    )


def test_a_lesson_charts_its_start_and_its_end_apart() -> None:
    long = DEFINITIONS["long_backswing"]
    bad, good = (judged_by(long, View.FACE_ON, value, 1.0) for value in (175.0, 140.0))
    recap = recap_of("Ada", [_visit((Role.BEFORE, bad), (Role.AFTER, good))])
    (chart,) = recap.charts
    assert [(p.part, p.estimate.value) for p in chart.measure.points] == [
        (Part.START, 175.0),
        (Part.END, 140.0),
    ]
    said = [
        t.text
        for t in ElementTree.fromstring(draw_progress(chart.fault, chart.measure)).iter(
            f"{SVG}text"
        )
    ]
    assert said.count("start") == said.count("end") == 1


def test_a_fault_seen_from_one_side_only_is_neither_a_key_nor_praised_nor_gone() -> None:
    heel = "trail_heel_kick"
    first = _visit((Role.OTHER, swing(findings=[present(heel)])), day=date(2025, 4, 1))
    last = _visit(
        (Role.OTHER, swing(findings=[present(heel, confidence=0.986)])),
        *[
            (Role.OTHER, swing(findings=[absent(heel, 0.99)], view=View.DOWN_THE_LINE))
            for _ in range(3)
        ],
    )
    recap = recap_of("Ada", [first, last])
    assert recap.story.priorities == recap.story.keep == ()
    text = _Page(render_html(replace(recap, strip=None), {})).text
    assert "Seen from one side only: found face on, not found down the line." in text
    assert "one side shows trail heel kicking up and out, the other" in recap.film_next[0]
    assert "Perhaps there at full speed: trail heel kicking up and out." in text
    assert "No fault was found" not in text
    assert "gone" not in text.lower().replace("it is gone", "")


def test_what_to_film_next_follows_from_what_was_filmed() -> None:
    found = swing(findings=[absent("chest_stall")])
    other = swing(findings=[absent("handle_rise")], view=View.DOWN_THE_LINE)
    one = recap_of("Ada", [_visit((Role.OTHER, found))])
    assert one.film_next[0].startswith("Film down the line too: 4 of the 16 faults")
    both = recap_of("Ada", [_visit((Role.OTHER, found), (Role.OTHER, other))])
    assert both.film_next == (
        "Film face on and down the line again, so that the lessons can be compared.",
    )


def test_what_lets_most_faults_be_judged_is_asked_for_first() -> None:
    vague = Reason("too_uncertain", "Gap: 4 ± 3 degrees is too uncertain to judge.")
    names = [d.name for d in DEFINITIONS.values() if d.views == (View.FACE_ON,)]
    found = swing(findings=[replace(unseen(name), reason=vague) for name in names])
    recap = recap_of("Ada", [_visit((Role.OTHER, found))])
    assert len(names) > sum(d.views == (View.DOWN_THE_LINE,) for d in DEFINITIONS.values())
    assert [told[:12] for told in recap.film_next] == ["Fill the pic", "Film down th"]


def test_a_fault_that_the_end_of_the_lesson_can_not_tell_is_not_passed_over() -> None:
    heel = "trail_heel_kick"
    start, end = swing(findings=[present(heel)]), swing(findings=[unseen(heel)])
    recap = recap_of("Ada", [_visit((Role.BEFORE, start), (Role.AFTER, end))])
    assert ("Found before, can't be told now", "trail heel kicking up and out") in recap.news
    told = recap_of("Ada", [_visit((Role.BEFORE, start), (Role.AFTER, start))])
    assert "can't be told" not in " ".join(kind for kind, _ in told.news)


def test_of_a_fault_whose_change_is_told_it_is_not_said_that_nothing_can_be_told(
    recap: Recap,
) -> None:
    both = replace(recap, lost_sight_of=("trail_heel_kick", "shaft_steep_at_top"))
    assert dict(both.news)["Found before, can't be told now"] == "over-steep shaft at the top"
    back = replace(recap, gone=("chest_stall",), now_and_then={"chest_stall": (1, 3)})
    assert "Gone since last time" not in dict(back.news)


def test_a_fault_of_some_swings_is_told_though_most_are_without_it() -> None:
    heel = "trail_heel_kick"
    kinds = [absent(heel), present(heel), absent(heel), absent(heel)]
    visit = _visit(*((Role.OTHER, swing(findings=[each])) for each in kinds))
    recap = recap_of("Ada", [visit])
    told = "trail heel kicking up and out (1 of 4)"
    assert recap.news == (("In some swings, not in most", told),)
    assert "No fault was found" not in recap.none_to_work_on
    assert recap.told.findings == {heel: "found in some swings"}


def test_a_fault_that_the_coach_hides_is_not_told_as_not_found() -> None:
    heel = "trail_heel_kick"
    found = swing(findings=[present(heel)])
    hidden = Coached(RecapEdits((KeyEdit(heel, hidden=True, words=KeyWords()),)))
    recap = recap_of("Ada", [_visit((Role.OTHER, found))], hidden)
    text = _Page(render_html(replace(recap, strip=None), {})).text
    assert "Your coach has chosen nothing to work on from this lesson." in text
    assert "No fault was found" not in text


def test_a_lesson_of_which_hardly_anything_was_judged_is_not_called_sound() -> None:
    names = list(DEFINITIONS)

    def text(judged: int) -> str:
        findings = [absent(name) for name in names[:judged]]
        findings += [unseen(name) for name in names[judged:]]
        return recap_of("Ada", [_visit((Role.OTHER, swing(findings=findings)))]).none_to_work_on

    assert text(2).startswith("Too little could be judged")
    assert text(10).startswith("No fault was found at full speed in what could be seen: 10 of")
    assert text(len(names)).startswith("No fault was found at full speed; all 16")


def test_nothing_is_called_better_that_got_worse_from_another_side(recap: Recap) -> None:
    news = dict(recap.news)
    assert news["Better, and held at full speed"] == "arms lifting at the top"
    assert (
        "trail heel kicking up and out"
        in news["Better in the slow rehearsal, but not at full speed"]
    )

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
            for comparison, verdict in zip(recap.comparisons, verdicts, strict=True)
        )
        recap_told = replace(recap, comparisons=torn, transfers=(), gone=(), lost_sight_of=())
        return " ".join(kind for kind, _ in recap_told.news)

    assert told(Verdict.BETTER, Verdict.BETTER) == "Better"
    assert told(Verdict.WORSE, Verdict.NO_DETECTABLE_CHANGE) == "Worse"
    assert told(Verdict.BETTER, Verdict.WORSE) == ""


def test_a_sentence_keeps_its_capitals() -> None:
    found = judged_by(DEFINITIONS["long_backswing"], View.FACE_ON, 175.0, 1.0)
    first = _visit((Role.OTHER, found), day=date(2025, 5, 1))
    recap = recap_of("Ada", [first, _visit((Role.OTHER, found))])
    text = _Page(render_html(replace(recap, strip=None, pictures=()), {})).text
    assert "The lesson of 1 May 2025 against this one" in text
    assert "1 may" not in text


def test_no_more_than_all_is_kept_at_full_speed() -> None:
    assert [share_kept(share, ENGLISH) for share in (1.06, 0.96, 0.5, -0.2, None)] == [
        "all of it",
        "all of it",
        "50 %",
        "nothing",
        "–",
    ]


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
        text = _Page(recap_page(session, second.id)).text
    assert recap.player == "Ada Fairway"
    assert list(recap.roles.values()) == ["before", "after", "other"]
    views = [swing.view and swing.view.value for swing in recap.swings.values()]
    assert views == [View.FACE_ON, View.FACE_ON, None]
    (comparison,) = recap.comparisons
    verdicts = {f.fault: f.verdict for f in comparison.faults}
    assert verdicts["long_backswing"] is Verdict.BETTER
    assert "Well done." in text
    assert "no swing found" in text
    assert {len(c.measure.points) for c in recap.charts} == {
        3
    }  # start and end, not the later lesson


def test_an_unknown_lesson_has_no_recap(database: Database) -> None:
    with database.reading() as session, pytest.raises(RecordNotFound):
        build_recap(session, "nowhere")


@pytest.mark.parametrize(
    ("confidence", "told"), [(1.0, "over 99 % sure"), (0.9949, "99 % sure"), (0.6, "60 % sure")]
)
def test_no_confidence_is_told_as_certain(confidence, told):
    assert sure(confidence, ENGLISH) == told


def test_backswings_asked_to_stop_are_told_against_what_was_done() -> None:
    stops = (
        StoppedAt(3.5, 3.52, 0.1, 80, 1.3),
        StoppedAt(3.5, 3.94, 0.12, 80, 1.3),
        StoppedAt(3.5, 3.1, 0.1, 80, 1.3),
        None,
        StoppedAt(3.5, reason=Reason("points_not_seen", "The lead wrist is not seen.")),
    )
    told = [(Role.OTHER, replace(no_swing(), stopped_at=stop)) for stop in stops]
    recap = recap_of("Ada", [_visit(*told)])
    assert [number for number, _ in recap.lengths] == [1, 2, 3, 5]
    text = _Page(render_html(recap, {})).text
    assert "1 P3.5 P3.5, as asked" in text
    assert "2 P3.5 P3.9, longer than asked" in text
    assert "3 P3.5 P3.1, shorter than asked" in text
    assert "5 P3.5 The lead wrist is not seen." in text
    silent = recap_of("Ada", [_visit((Role.OTHER, no_swing()))])
    assert "How long your backswing was" not in _Page(render_html(silent, {})).text
