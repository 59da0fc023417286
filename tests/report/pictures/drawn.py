"""What the tests of faults' pictures draw, and what they read off a drawing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.faults import CATALOGUE, Criterion
from service.analysis.types import View
from service.demo import clip_body
from service.report.clip import Clip
from service.report.drawing.svg import ANGLE, MARK
from service.report.pictures.fault_picture import draw_fault
from tests.records.kept import RULES

SVG = "{http://www.w3.org/2000/svg}"
SEEN = [(name, view) for name, d in CATALOGUE.items() for view in d.criteria]
OF_TIME = {"hurried_transition"}
"""Drawn as bars, which say themselves what they are."""


def shown_at(fault: str, view: View) -> float:
    definition = CATALOGUE[fault]
    return definition.shows_at or definition.criteria[view][0].measure.end


def draw(swings: dict[str, Clip], fault: str, view: View) -> Element:
    return ElementTree.fromstring(draw_fault(swings, fault, shown_at(fault, view)))


def texts_of(root: Element) -> list[str]:
    return [text.text or "" for text in root.iter(f"{SVG}text")]


def text_of(root: Element) -> str:
    return plain(" ".join(texts_of(root)))


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def marks_of(root: Element) -> list[Element]:
    return [p for p in root.iter(f"{SVG}path") if p.get("stroke") == ANGLE]


@cache
def analysed(view: View) -> Clip:
    return RULES.analyse_body(clip_body(view.value))


def showing(fault: str, view: View) -> Clip:
    """A clip that is said to show a fault strongly."""
    return telling(fault, view, lambda criterion: criterion.marked)


def telling(fault: str, view: View, value: Callable[[Criterion], float]) -> Clip:
    """A clip whose measures of a fault are said to be what ``value`` makes of each criterion."""
    clip = analysed(view)
    told = {c.measure.name: value(c) for c in CATALOGUE[fault].criteria[view]}
    if "tempo_ratio" in told:
        told |= {"backswing_time": 0.25 * told["tempo_ratio"], "downswing_time": 0.25}
    measures = tuple(replace(m, value=told.get(m.name, m.value)) for m in clip.analysis.measures)
    return replace(clip, analysis=replace(clip.analysis, measures=measures))


def panels_of(root: Element) -> list[Element]:
    panels = [g for g in root.iter(f"{SVG}g") if g.find(f"{SVG}svg") is not None]
    assert panels, "what is to be looked at in every panel would be looked at in none"
    return panels


def arrows_of(parent: Element) -> list[np.ndarray]:
    """The ways of the arrows, each of shape (n, 2)."""
    drawn = [
        p.get("d", "").removeprefix("M")
        for p in parent.iter(f"{SVG}path")
        if p.get("stroke") == MARK and p.get("stroke-width") == "3"
    ]
    return [
        np.array([[float(c) for c in xy.split()] for xy in d.replace("L", ",").split(",")])
        for d in drawn
    ]
