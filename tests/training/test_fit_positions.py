"""The rules that place positions are learnt from several makes of golfers."""

import numpy as np
import pytest
from sklearn.ensemble import HistGradientBoostingRegressor

from service.analysis.events.positions.refinement import REFINED, Case, rules
from service.analysis.types import View
from training.models.fit_positions import MAKES, learn
from training.models.flat_trees import flat


def test_rules_for_positions_can_be_learnt_anew():
    learnt = learn(12, seed=3, quiet=True, fewest=12)
    assert {(r["position"], r["view"]) for r in learnt} == {(n, v) for n in REFINED for v in View}
    for rule in learnt:
        case = Case(rule["position"], View(rule["view"]), rule["club"])
        assert np.isfinite(rule["leaf"]).all()
        if case in rules():
            assert rules()[case].n_marks == rule["n_marks"]


def test_a_rule_tells_what_the_trees_tell_it_was_made_from():
    rng = np.random.default_rng(2)
    values = rng.standard_normal((400, 6))
    values[rng.random(values.shape) < 0.2] = np.nan
    target = np.nan_to_num(values[:, 0]) * np.nan_to_num(values[:, 1], nan=2.0)
    trees = HistGradientBoostingRegressor(max_iter=20, max_depth=3).fit(values, target)
    rule = flat(trees, 3)
    assert [rule.told(each) for each in values] == pytest.approx(trees.predict(values))


@pytest.mark.parametrize("make", MAKES)
def test_every_make_teaches(make):
    learnt = learn(4, seed=3, makes=[make], quiet=True, fewest=4)
    assert {r["position"] for r in learnt} >= {1, 4, 7, 10}
