"""The rules that place positions are learnt from several makes of golfers."""

import numpy as np
import pytest

from service.analysis.events.positions.refinement import REFINED, Case, rules
from service.analysis.types import View
from training.models.fit_positions import MAKES, learn


def test_rules_for_positions_can_be_learnt_anew():
    learnt = learn(12, seed=3, quiet=True, fewest=12)
    assert {(r["position"], r["view"]) for r in learnt} == {(n, v) for n in REFINED for v in View}
    for rule in learnt:
        case = Case(rule["position"], View(rule["view"]), rule["club"], rule["few_frames"])
        assert np.isfinite(rule["weights"]).all()
        assert len(rule["weights"]) == len(rule["usual"])
        if case in rules():
            assert rules()[case].weights.size == len(rule["weights"])


@pytest.mark.parametrize("make", MAKES)
def test_every_make_teaches(make):
    learnt = learn(4, seed=3, makes=[make], quiet=True, fewest=4)
    assert {r["position"] for r in learnt} >= {1, 4, 7, 10}
