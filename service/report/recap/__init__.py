"""The recap of a lesson: what it says, and the page that the coach sends."""

from service.report.recap.content import Charted, Pictured, Recap
from service.report.recap.page import film_windows, render_html
from service.report.recap.words import GRADES

__all__ = ["GRADES", "Charted", "Pictured", "Recap", "film_windows", "render_html"]
