"""The table of usual depths is what its command makes."""

import json

import numpy as np
import pytest

from service.analysis.pose.points import N_POINTS
from service.analysis.types import View
from training.data.typical_depth import TABLE, typical_depths

STALE = "the players have changed: run python -m training.data.typical_depth"


@pytest.mark.parametrize("view", View)
def test_the_table_served_is_of_the_players_of_today(view):
    served = json.loads(TABLE.read_text(encoding="utf-8"))[view.value]
    few = typical_depths(players=12)[view.value]
    assert np.shape(served["depth"]) == (N_POINTS, 10)
    body = slice(0, 30)
    off = np.abs(np.array(served["depth"]) - few["depth"])[body]
    assert off.max() < 0.05, STALE


@pytest.mark.parametrize("view", View)
def test_players_differ_little_in_depth(view):
    served = json.loads(TABLE.read_text(encoding="utf-8"))[view.value]
    assert np.median(served["spread"]) < 0.05
