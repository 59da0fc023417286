import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats import t as student

from service.lessons.estimates import (
    Spread,
    Values,
    pool,
    smallest_detectable_change,
    spread_between_swings,
    unwrapped,
)


def values(*numbers: float, u: float = 1.0) -> Values:
    return Values(np.array(numbers), np.full(len(numbers), u))


def test_equal_uncertainties_give_the_minimal_difference_of_weir() -> None:
    sem = 3.0
    one = values(10.0, u=sem)
    assert smallest_detectable_change(one, one, Spread()) == pytest.approx(
        sem * norm.ppf(0.975) * np.sqrt(2)
    )


def test_unequal_uncertainties_add_as_variances() -> None:
    found = smallest_detectable_change(values(0.0, u=3.0), values(0.0, u=4.0), Spread())
    assert found == pytest.approx(norm.ppf(0.975) * 5.0)


def test_more_swings_detect_a_smaller_change() -> None:
    one, four = values(0.0), values(0.0, 0.0, 0.0, 0.0)
    assert smallest_detectable_change(four, four, Spread()) == pytest.approx(
        0.5 * smallest_detectable_change(one, one, Spread())
    )


def test_two_swings_tell_no_spread() -> None:
    assert spread_between_swings([values(0.0, 50.0), values(3.0)]) == Spread()


def test_repeats_that_agree_within_their_uncertainty_show_no_spread() -> None:
    assert spread_between_swings([values(-0.5, 0.0, 0.5)]).variance == 0.0


def test_the_spread_is_what_is_left_of_the_sample_variance() -> None:
    numbers = (0.0, 6.0, 12.0)
    spread = spread_between_swings([values(*numbers, u=2.0)])
    assert spread.variance == pytest.approx(np.var(numbers, ddof=1) - 2.0**2)
    assert spread.freedom == 2


def test_a_spread_told_from_few_repeats_counts_by_students_t() -> None:
    group = values(0.0, 60.0, 120.0, u=1e-6)
    spread = spread_between_swings([group])
    found = smallest_detectable_change(group, values(0.0, u=1e-6), spread)
    sem = np.sqrt(spread.variance * (1.0 / 3.0 + 1.0))
    assert found == pytest.approx(student.ppf(0.975, 2) * sem, rel=1e-6)


def test_few_repeats_count_the_less_the_less_of_the_variance_is_told_by_them() -> None:
    group = values(0.0, 6.0, 12.0, u=2.0)
    spread = spread_between_swings([group])
    found = smallest_detectable_change(group, values(0.0, u=2.0), spread)
    variance = (4.0 + spread.variance) * (1.0 / 3.0 + 1.0)
    freedom = 2 * ((4.0 + spread.variance) / spread.variance) ** 2
    assert found == pytest.approx(student.ppf(0.975, freedom) * np.sqrt(variance))


def test_the_precise_value_weighs_more() -> None:
    pooled = pool(Values(np.array([0.0, 10.0]), np.array([1.0, 3.0])), Spread())
    assert pooled.value == pytest.approx(1.0)
    assert pooled.uncertainty == pytest.approx(np.sqrt(0.9))


def test_angles_on_both_sides_of_the_turn_are_neighbours() -> None:
    first, second = unwrapped([values(179.0), values(-178.0)], "degrees")
    assert second.values[0] - first.values[0] == pytest.approx(3.0)


def test_only_angles_wrap() -> None:
    assert unwrapped([values(0.0), values(400.0)], "seconds")[1].values[0] == 400.0


def test_a_player_who_varies_is_told_of_a_false_change_at_most_one_time_in_ten() -> None:
    rng = np.random.default_rng(4)
    with_spread, without = [], []
    for _ in range(2000):
        own = rng.uniform(0.5, 2.0, (2, 3))
        before, after = (Values(rng.normal(0.0, np.hypot(u, 2.0)), u) for u in own)
        for spread, hits in (
            (spread_between_swings([before, after]), with_spread),
            (Spread(), without),
        ):
            change = pool(after, spread).value - pool(before, spread).value
            hits.append(abs(change) > smallest_detectable_change(before, after, spread))
    assert np.mean(with_spread) <= 0.10
    assert np.mean(without) > 0.30
