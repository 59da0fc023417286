"""One panel of a picture: a pose with what is said about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

from service.analysis.pose.points import Point
from service.report.drawing.figure import Scene, draw_figure, draw_marks, draw_shadow
from service.report.drawing.svg import PANEL, add, badge, wrap, write

FIGURE_HEIGHT: Final[float] = 340.0
_PADDING = 14.0
_TITLE_SIZE, _TITLE_LINE = 15, 20.0
_TEXT_SIZE, _TEXT_LINE = 12, 17.0
_BADGE = 28.0


@dataclass(frozen=True)
class Panel:
    """What one panel shows and says.

    ``address`` is the frame of the address to draw faintly behind, if any.
    """

    frame: int
    title: str
    caption: tuple[str, ...]
    number: int | None = None
    ringed: tuple[Point, ...] = ()
    address: int | None = None

    @property
    def frames(self) -> tuple[int, ...]:
        """Every frame that it draws."""
        return (self.frame,) if self.address is None else (self.address, self.frame)


def panel_height(panel: Panel, width: float) -> float:
    """Height of a panel of some width."""
    title, text = _title(panel, width), _text(panel, width)
    return FIGURE_HEIGHT + 2 * _PADDING + _TITLE_LINE * len(title) + _TEXT_LINE * len(text)


def draw_panel(parent: Element, panel: Panel, scene: Scene, width: float) -> None:
    """Draw a panel, its upper left corner at the origin of ``parent``."""
    figure = add(parent, "svg", width=width, height=FIGURE_HEIGHT)
    add(figure, "rect", width=width, height=FIGURE_HEIGHT, fill=PANEL)
    if panel.address is not None:
        draw_shadow(figure, scene.pose(panel.address))
    draw_figure(figure, scene.pose(panel.frame), scene.head)
    draw_marks(figure, scene.pose(panel.frame), panel.ringed)
    _draw_caption(parent, panel, width)


def _draw_caption(parent: Element, panel: Panel, width: float) -> None:
    y = FIGURE_HEIGHT + _PADDING + _TITLE_SIZE
    if panel.number is not None:
        badge(parent, 10, y - 5, str(panel.number))
    for line in _title(panel, width):
        write(parent, _indent(panel), y, line, font_size=_TITLE_SIZE, font_weight="bold")
        y += _TITLE_LINE
    for line in _text(panel, width):
        write(parent, _indent(panel), y, line, font_size=_TEXT_SIZE)
        y += _TEXT_LINE


def _indent(panel: Panel) -> float:
    return 0.0 if panel.number is None else _BADGE


def _title(panel: Panel, width: float) -> list[str]:
    return wrap(panel.title, width - _indent(panel), _TITLE_SIZE, bold=True)


def _text(panel: Panel, width: float) -> list[str]:
    room = width - _indent(panel)
    return [line for told in panel.caption for line in wrap(told, room, _TEXT_SIZE)]
