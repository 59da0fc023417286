"""Fault rates as a coach reads them."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from scipy.stats import binomtest

from service.analysis.faults import CATALOGUE
from service.languages import CODES, language
from service.lessons.rates import Counts, Summary
from service.report.rates.page import rates_page
from service.report.rates.table import rates_table
from service.report.rates.words import common_reasons

SELDOM, OFTEN, NEVER = list(CATALOGUE)[:3]


@pytest.fixture
def summary() -> Summary:
    """Three faults: one that shows often, one that shows seldom, one that was never judged."""
    counts = Counts()
    for club in ("driver", "<b>wedge"):
        counts.add_clips(club, found=True, count=600)
        counts.add_clips(club, found=False, count=1)
        for fault, present in ((SELDOM, 10), (OFTEN, 500)):
            counts.add_findings(club, fault, "present", None, present)
            counts.add_findings(club, fault, "absent", None, 600 - present)
        counts.add_findings(club, NEVER, "not_assessable", "view", 600)
    return counts.summary("club", 40)


@pytest.mark.parametrize("code", CODES)
def test_the_page_stands_alone_and_tells_what_shows_most_first(summary: Summary, code: str) -> None:
    told_in = language(code)
    page = rates_page(summary, "2019 <i>", told_in)
    assert f'<html lang="{code}">' in page
    assert not re.search(r'(?:src|href)="(?!data:)|<script|url\(', page)
    assert "<b>" not in page
    assert "<i>" not in page
    heads = re.findall(r"<h3>(.*?)</h3>", page)
    # Once for all swings together, once by club.
    assert heads == [told_in.say(CATALOGUE[fault].title) for fault in (OFTEN, SELDOM)] * 2
    last = page[page.index(told_in.say("Never judged")) :]
    assert told_in.say(CATALOGUE[NEVER].title) in last
    assert told_in.say("filmed from the other side") in last


def test_every_row_lies_within_its_picture(summary: Summary) -> None:
    pictures = re.findall(r"<svg.*?</svg>", rates_page(summary, "2019"), re.DOTALL)
    assert len(pictures) == 4
    for picture in map(ElementTree.fromstring, pictures):
        _, _, width, height = map(float, picture.get("viewBox", "").split())
        placed = [each for each in picture.iter() if each.get("x") and each.get("y")]
        assert placed
        assert all(0 <= float(each.get("x", 0)) <= width for each in placed)
        assert all(0 <= float(each.get("y", 0)) < height for each in placed)


def test_the_table_is_told_in_the_language_with_its_numbers(summary: Summary) -> None:
    english, german = (rates_table(summary, language(code)) for code in ("en", "de"))
    assert "all swings: 1,200 swings, no golf swing in 2 clips" in english
    assert "alle Schwünge: 1.200 Schwünge, in 2 Filmen kein Golfschwung" in german
    low, high = binomtest(1000, 1200).proportion_ci(method="wilson")
    told = f"83.3 %   {100 * low:.1f} – {100 * high:.1f} %"
    assert told in english
    assert told.replace(".", ",") in german


def test_a_summary_without_groups_draws_each_fault_once_and_tells_what_could_not_be_read() -> None:
    counts = Counts()
    counts.add_clips(None, found=True, count=3)
    counts.add_findings(None, OFTEN, "present", None, 3)
    counts.add_refused(1)
    passed_over = {".mov": 1200, "without an end": 1}
    summary = replace(counts.summary(None, 40), passed_over=passed_over, films=1200)
    assert rates_page(summary, "2019").count("<svg") == 1
    for told in (rates_page(summary, "2019"), rates_table(summary)):
        assert "1 input could not be read" in told
        assert "Passed over: 1,200 .mov and 1 without an end. Films become swings by" in told
    german = rates_table(summary, language("de"))
    assert "Übergangen: 1.200 .mov und 1 ohne Endung. Aus Filmen" in german


def test_what_few_swings_tell_leads_neither_page_nor_table_and_both_say_so() -> None:
    counts = Counts()
    counts.add_clips(None, found=True, count=40)
    counts.add_clips(None, found=False, count=1)
    counts.add_findings(None, OFTEN, "present", None, 1)
    counts.add_findings(None, SELDOM, "present", None, 4)
    counts.add_findings(None, SELDOM, "absent", None, 36)
    summary = counts.summary(None, 1)
    page, table = rates_page(summary, "2019"), rates_table(summary)
    assert "those judged in few swings last" in page
    assert "those judged in few swings last" in table
    assert table.index(CATALOGUE[OFTEN].title) > table.index(CATALOGUE[SELDOM].title)
    few, many = (page.index(CATALOGUE[fault].title) for fault in (OFTEN, SELDOM))
    assert many < page.index("Found in 4 of 40 judged: 10.0 %") < few
    assert few < page.index("Found in 1 of 1 judged: 100.0 %") < page.index("Too few to go by.")
    assert "In 1 more clip no golf swing was found." in page


def test_of_a_fault_that_was_never_judged_the_table_tells_no_groups(summary: Summary) -> None:
    lines = rates_table(summary).splitlines()
    titles = [CATALOGUE[fault].title for fault in (OFTEN, SELDOM, NEVER)]
    places = [next(k for k, line in enumerate(lines) if line.startswith(each)) for each in titles]
    assert places == sorted(places)
    assert not lines[places[2] + 1]


def test_a_reason_has_its_share_of_all_findings(summary: Summary) -> None:
    ((words, share, advice),) = common_reasons(summary.total)
    assert words == "filmed from the other side"
    assert share == pytest.approx(1200 / 3600)
    assert advice.startswith("Film")
