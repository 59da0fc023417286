from __future__ import annotations

import re
from pathlib import Path

from service.analysis.bibliography import BIBLIOGRAPHY, cite
from service.analysis.faults import CATALOGUE
from service.analysis.faults.definition import COMMON_PRACTICE
from service.analysis.pose.layouts import LAYOUTS

ROOT = Path(__file__).parents[2]
OWN = ROOT / "service" / "analysis" / "bibliography.py"
KEY = re.compile(r"""\[((?:[a-z]+(?:19|20)\d\d)|winter)\]|cite\(["']([a-z0-9]+)["']\)""")


def cited() -> set[str]:
    files = [*(ROOT / "service").rglob("*.py"), *(ROOT / "training").rglob("*.py")]
    texts = (file.read_text(encoding="utf-8") for file in files if file != OWN)
    return {key for text in texts for found in KEY.findall(text) for key in found if key}


def test_every_source_cited_is_in_the_bibliography_and_every_entry_is_cited():
    assert cited() == set(BIBLIOGRAPHY)


def test_the_bibliography_is_in_order_and_every_entry_names_a_title():
    assert list(BIBLIOGRAPHY) == sorted(BIBLIOGRAPHY)
    assert all(len(entry.full) > 40 and entry.short for entry in BIBLIOGRAPHY.values())


def test_a_threshold_is_common_practice_or_names_a_source():
    shorts = [entry.short for entry in BIBLIOGRAPHY.values()]
    for definition in CATALOGUE.values():
        for criterion in (c for cs in definition.criteria.values() for c in cs):
            reference = criterion.reference
            assert reference == COMMON_PRACTICE or any(s in reference for s in shorts)


def test_every_layout_names_where_it_is_published():
    shorts = [cite(key) for key in BIBLIOGRAPHY]
    assert all(any(layout.source.startswith(s) for s in shorts) for layout in LAYOUTS.values())
