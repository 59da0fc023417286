"""Swings as they are, to hold changed ones against."""

import pytest

from service.analysis.analyse import analyse
from service.analysis.types import View
from tests.analysis.footage.odd import filmed


@pytest.fixture(scope="module")
def plain():
    return {view: analyse(filmed(view)) for view in View}
