"""The floor under the figures that ``python -m tests.reference.real_swings`` prints."""

import pytest

from service.analysis.types import SwingAnalysis
from tests.reference import real_swings
from tests.reference.real_swings import Row

pytestmark = [
    pytest.mark.reference,
    pytest.mark.skipif(
        not real_swings.FOLDER.is_dir(),
        reason="the annotated clips are research data outside the project; set "
        "SWING_REFERENCE_DIR to the folder that holds them",
    ),
]


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    return real_swings.golf_rows()


@pytest.fixture(scope="module")
def others() -> dict[str, SwingAnalysis]:
    return real_swings.other_analyses()


def test_every_real_swing_is_found(rows):
    assert len(rows) == 30
    assert all(row.analysis.swing_found for row in rows)


def test_the_top_lies_in_its_window_on_nine_clips_in_ten(rows):
    assert sum(row.top_right for row in rows) >= 27


def test_impact_lies_in_its_window_on_nine_clips_in_ten(rows):
    assert sum(row.impact_right for row in rows) >= 27


def test_the_view_is_right_on_nine_clips_in_ten(rows):
    assert sum(row.view_right for row in rows) >= 27


def test_what_needs_feet_or_a_club_is_always_left_open(rows):
    assert all(row.unseen_kept for row in rows)


def test_at_most_one_other_action_passes_for_a_swing(others):
    assert len(others) == 18
    assert sum(result.swing_found for result in others.values()) <= 1


def test_every_clip_without_a_swing_says_why(others):
    assert all(result.reason for result in others.values() if not result.swing_found)
