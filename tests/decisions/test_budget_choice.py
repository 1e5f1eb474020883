"""The split of a budget among lakes: the integer programme against all splits there are."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from fishdown.decisions.budget_choice import Limit, best_split, shared_out


def most_of_all(gains: list[np.ndarray], limits: list[Limit]) -> float:
    """Return the largest gain within the limits, by trying every split."""
    found = -np.inf
    for days in product(*(range(len(gain)) for gain in gains)):
        if all(limit.a_day @ days <= limit.most + 1e-9 for limit in limits):
            found = max(found, sum(gain[n] for gain, n in zip(gains, days, strict=True)))
    return found


def gain_of(gains: list[np.ndarray], split: tuple[int, ...]) -> float:
    return sum(gain[n] for gain, n in zip(gains, split, strict=True))


@pytest.mark.parametrize("shape", ["concave", "s_shaped", "jumps", "falling_too"])
@pytest.mark.parametrize("seed", range(6))
def test_no_split_is_better(shape: str, seed: int) -> None:
    rng = np.random.default_rng([seed, len(shape)])
    lakes, most = 4, 6
    day = np.arange(most + 1)
    gains = {
        "concave": lambda: rng.uniform(0.1, 1.0) * -np.expm1(-rng.uniform(0.1, 1.0) * day),
        "s_shaped": lambda: 1.0 / (1.0 + np.exp(-2.0 * (day - rng.uniform(1.0, 8.0)))),
        "jumps": lambda: np.cumsum(rng.binomial(1, 0.3, most + 1) * rng.uniform(size=most + 1)),
        "falling_too": lambda: rng.normal(size=most + 1),
    }[shape]
    found = [gains() for _ in range(lakes)]
    in_days = Limit(np.ones(lakes), float(rng.integers(1, 12)))
    in_money = Limit(
        rng.integers(50_000, 150_000, lakes) / 100.0, float(rng.integers(2_000, 9_000))
    )
    for limits in ([in_days], [in_money], [in_days, in_money]):
        split = best_split(found, limits)
        assert all(limit.a_day @ split <= limit.most + 1e-6 for limit in limits)
        assert gain_of(found, split) == pytest.approx(most_of_all(found, limits), abs=1e-9)


def test_greedy_would_miss_what_only_several_days_bring() -> None:
    """Four days of the second lake bring 1, each by itself nothing."""
    gains = [np.array([0.0, 0.1, 0.19, 0.27, 0.34]), np.array([0.0, 0.0, 0.0, 0.0, 1.0])]
    assert best_split(gains, [Limit(np.ones(2), 4.0)]) == (0, 4)
    assert best_split(gains, [Limit(np.ones(2), 3.0)]) == (3, 0)


def test_days_that_bring_nothing_are_not_given() -> None:
    gains = [np.array([3.0, 5.0, 5.0, 5.0]), np.zeros(4)]
    assert best_split(gains, [Limit(np.ones(2), 6.0)]) == (1, 0)
    assert best_split([np.ones(3), np.ones(3)], [Limit(np.ones(2), 2.0)]) == (0, 0)


def test_one_draw_in_four_thousand_decides() -> None:
    """Gains are counts of draws: a difference of one is not lost in tolerances."""
    gains = [np.array([0.0, 3_000.0]), np.array([0.0, 3_001.0])]
    assert best_split(gains, [Limit(np.ones(2), 1.0)]) == (0, 1)


def test_prices_that_add_up_to_the_amount_are_within_it() -> None:
    gains = [np.arange(4.0)]
    assert best_split(gains, [Limit(np.array([0.1]), 0.3)]) == (3,)
    assert shared_out([0], [9], [Limit(np.array([0.1]), 0.3)], 1) == (3,)


def test_an_equal_split_gives_odd_days_to_the_first_and_passes_by_the_full() -> None:
    days = Limit(np.ones(3), 8.0)
    assert shared_out([1, 0, 2], [9, 9, 9], [days], 1) == (3, 3, 2)
    assert shared_out([1, 0, 2], [9, 1, 9], [days], 1) == (4, 1, 3)
    assert shared_out([1, 0, 2], [2, 1, 2], [days], 1) == (2, 1, 2)
    # In money: where the dear lake can have no more, the cheap one still can.
    money = Limit(np.array([100.0, 300.0]), 1_000.0)
    assert shared_out([1, 0], [9, 9], [money], 1) == (4, 2)


def test_one_lake_after_the_other_takes_what_it_can() -> None:
    days = Limit(np.ones(3), 8.0)
    assert shared_out([1, 0, 2], [9, 9, 9], [days], 9) == (0, 8, 0)
    assert shared_out([1, 0, 2], [9, 5, 9], [days], 9) == (3, 5, 0)
