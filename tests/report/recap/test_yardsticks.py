"""The picture of what the units of a page are."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from service.lessons.words.wording import Wording
from service.report.recap.page import draw_yardsticks


@pytest.mark.parametrize(("hand", "degrees"), [(True, False), (False, True), (True, True)])
def test_the_units_that_a_page_uses_are_explained_one_a_row_and_no_other(
    hand: bool, degrees: bool
) -> None:
    root = ElementTree.fromstring(draw_yardsticks(Wording(), hand=hand, degrees=degrees))
    said = " ".join(root.itertext())
    assert ("hand-width" in said) == hand
    assert ("30°" in said) == degrees
    height = float(root.get("viewBox", "").split()[3])
    assert height == 96.0 * (hand + degrees)
