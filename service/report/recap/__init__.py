"""The recap of a lesson: what it says, and the page that the coach sends."""

from service.report.recap.content import About, Recap
from service.report.recap.drawn import Charted, Drawn, Pictured
from service.report.recap.news import Changes
from service.report.recap.page import film_windows, render_html
from service.report.recap.words import GRADES

__all__ = [
    "GRADES",
    "About",
    "Changes",
    "Charted",
    "Drawn",
    "Pictured",
    "Recap",
    "film_windows",
    "render_html",
]
