"""The years ahead against closed forms, and the bisection against enumeration."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from lake_stocks import MANY, SIZE, stock, young
from scipy import special, stats

from fishdown.decisions.projection import (
    Ends,
    Removal,
    held_removals,
    least_removals,
    project,
    shares_below,
)


def test_without_luck_the_lake_follows_its_closed_form() -> None:
    lake = stock(15, times=MANY)
    ends = project(lake, young(15, 50.0 * MANY), Removal("fish", 20.0 * MANY)).fish / MANY
    level = (50.0 - 20.0) / (1.0 - 0.8)
    years = np.arange(1, 16)[:, None, None]
    expected = level + 0.8**years * (1000.0 - level) * np.ones(SIZE)
    np.testing.assert_allclose(ends, expected, rtol=1e-4)


def test_the_stationary_point_stays() -> None:
    level, recruits = 50.0 / (1.0 - 0.8), young(5, 50.0 * MANY)
    ends = project(stock(5, times=MANY, fish=level), recruits, Removal()).fish
    np.testing.assert_allclose(ends, level * MANY, rtol=1e-4)
    level = 0.7 * 50.0 / (1.0 - 0.7 * 0.8)
    ends = project(stock(5, times=MANY, fish=level), recruits, Removal("share", 0.3)).fish
    np.testing.assert_allclose(ends, level * MANY, rtol=1e-4)


def test_connected_waters_fill_an_empty_lake() -> None:
    lake = stock(1, times=MANY, fish=0.0, exchange=0.25, outside_fish=400.0)
    ends = project(lake, young(1, 50.0 * MANY), Removal()).fish
    np.testing.assert_allclose(ends, (0.8 * 0.25 * 400.0 + 50.0) * MANY, rtol=1e-4)


def test_kg_are_turned_into_fish_by_each_draw_and_no_lake_holds_less_than_none() -> None:
    weight = np.linspace(1.0, 4.0, SIZE[0] * SIZE[1]).reshape(SIZE)
    lake = stock(1, times=MANY, weight=weight)
    ends = project(lake, young(1, 50.0 * MANY), Removal("kg", 900.0 * MANY)).fish / MANY
    np.testing.assert_allclose(ends[0], 850.0 - np.minimum(900.0 / weight, 850.0), atol=0.1)
    assert ends.min() == 0.0


def test_luck_has_the_mean_and_spread_of_the_transition() -> None:
    lake = stock(1, recruit_variation=0.9, process_error=0.3)
    mean = 0.8 * 1000.0 + 600.0
    variance = 0.8 * 0.2 * 1000.0 + 600.0 + (0.9 * 600.0) ** 2
    spread = np.sqrt(np.log1p(variance / mean**2) + 0.3**2)
    start = project(lake, young(1, 600.0), Removal()).fish[0].ravel()
    expected = stats.lognorm(s=spread, scale=mean * np.exp(-0.5 * spread**2))
    assert expected.mean() == pytest.approx(mean)
    assert stats.kstest(start, expected.cdf).pvalue > 0.01


def test_luck_of_a_winter_is_that_of_the_logit_of_survival() -> None:
    lake = stock(1, times=MANY, winter_spread=0.7)
    alive = project(lake, young(1), Removal()).fish[0].ravel() / (1000.0 * MANY)
    expected = stats.norm(special.logit(0.8), 0.7)
    assert stats.kstest(special.logit(alive), expected.cdf).pvalue > 0.01


def test_mean_weight_of_a_lake_at_its_level_stays_and_recruits_are_light() -> None:
    lake = stock(12, times=MANY, young_weight=0.25, survival=0.9)
    stays = project(lake, young(12, 100.0 * MANY), Removal())
    np.testing.assert_allclose(stays.weight, 2.0, rtol=1e-4)
    np.testing.assert_allclose(stays.kg / MANY, 2_000.0, rtol=2e-4)
    # After netting the same recruits are a larger share of the fish, and half a kg each.
    netted = stock(1, times=MANY, young_weight=0.25, survival=0.9, fish=400.0)
    ends = project(netted, young(1, 100.0 * MANY), Removal())
    final = 2.0 + 0.1 * (2.0 - 0.5) / (0.9 * 0.3)
    expected = (360.0 * (2.0 + 0.3 * (final - 2.0)) + 100.0 * 0.5) / 460.0
    np.testing.assert_allclose(ends.weight, expected, rtol=2e-3)
    # Without recruits survivors grow to their final weight, and no further.
    alone = project(stock(60, times=MANY, young_weight=0.25, survival=0.9), young(60), Removal())
    np.testing.assert_allclose(alone.weight[-1], final, rtol=1e-3)
    assert alone.weight.max() < final


def test_share_below_is_never_none_or_all() -> None:
    fish = np.stack([np.zeros(SIZE), np.full(SIZE, 501.0)])
    ends = Ends(fish, np.full(fish.shape, 2.0), np.zeros(fish.shape))
    shares = shares_below(stock(2), ends, 100.0)
    assert shares == pytest.approx([1000.5 / 1001.0, 0.5 / 1001.0])


@pytest.mark.parametrize(("kind", "step"), [("fish", 1.0), ("kg", 2.0)])
def test_bisection_agrees_with_trying_every_removal(kind: Any, step: float) -> None:
    lake = stock(3, recruit_variation=0.8, winter_spread=0.4)
    fish = young(3, 150.0)

    def below(removed: float) -> np.ndarray[Any, Any]:
        return shares_below(lake, project(lake, fish, Removal(kind, removed)), 100.0)

    wanted = (0.8, 0.9)
    found = least_removals(below, wanted, 10.0)
    tried = np.arange(0.0, 1500.0 * step, step)
    shares = np.array([below(removed) for removed in tried])
    least = np.array(
        [[tried[np.argmax(shares[:, year] >= p)] for year in range(3)] for p in wanted]
    )
    assert least.min() > 0.0
    # Enumeration goes in steps; the bisection ends within 0.1 % or a half above the least.
    assert np.all(found > least - step)
    assert np.all(found <= least + np.maximum(0.5, 1e-3 * found))


def test_one_year_without_recruits_luck_is_a_quantile() -> None:
    """With survival alone uncertain the removal is the quantile of the surplus."""
    survival = np.random.default_rng(4).uniform(0.6, 0.9, SIZE)
    lake = stock(1, times=MANY, survival=survival)
    recruits = young(1, 50.0 * MANY)

    def below(removed: float) -> np.ndarray[Any, Any]:
        return shares_below(lake, project(lake, recruits, Removal("fish", removed)), 100.0)

    surplus = 1000.0 * survival + 50.0 - 100.0 * 10.0 / 2.0
    ((found,),) = least_removals(below, (0.9,), MANY)
    assert found / MANY == pytest.approx(np.quantile(surplus, 0.9), abs=1.0)


def test_the_error_of_a_removal_is_how_far_it_strays_from_run_to_run() -> None:
    rng = np.random.default_rng(8)
    found, errors = [], []
    for _ in range(60):
        lake = stock(2, survival=rng.uniform(0.6, 0.9, SIZE), seed=int(rng.integers(1_000)))
        least, error = held_removals(lake, young(2), "fish", 100.0, (0.8, 0.9), 10.0)
        found.append(least)
        errors.append(error)
    strays = np.std(found, axis=0)
    np.testing.assert_allclose(np.mean(errors, axis=0), strays, rtol=0.35)
    # The first year: survival is uniform over 300 fish, and the variance of a sample quantile is
    # p (1 − p) / (n f²), f the density (David and Nagaraja 2003, Order Statistics, from memory).
    wanted = np.array([0.8, 0.9])
    known = 300.0 * np.sqrt(wanted * (1.0 - wanted) / np.prod(SIZE))
    np.testing.assert_allclose(np.mean(errors, axis=0)[:, 0], known, rtol=0.2)


def test_chains_that_wander_make_the_error_larger() -> None:
    even = np.linspace(0.6, 0.9, SIZE[0] * SIZE[1]).reshape(SIZE[1], SIZE[0]).T
    mixed = np.random.default_rng(2).permuted(even, axis=1)
    slow, quick = (
        held_removals(
            stock(1, times=MANY, survival=survival),
            young(1, 50.0 * MANY),
            "kg",
            100.0,
            (0.8,),
            MANY,
        )
        for survival in (even, mixed)
    )
    # The bisection ends within 0.1 % of the least.
    assert slow[0] == pytest.approx(quick[0], rel=2e-3)
    assert slow[1] > 3.0 * quick[1]


def test_few_draws_leave_no_wish_unreachable() -> None:
    lake = stock(1, survival=np.tile(np.linspace(0.6, 0.9, SIZE[1]), (2, 1)))
    arrays = {name: value for name, value in vars(lake).items() if isinstance(value, np.ndarray)}
    few = replace(lake, **{name: value[..., ::50] for name, value in arrays.items()})
    least, error = held_removals(few, young(1)[..., ::50], "fish", 100.0, (0.9,), 10.0)
    assert 0.0 < error[0, 0] < least[0, 0] < 500.0


def test_nothing_need_be_taken_from_a_lake_that_is_low() -> None:
    lake = stock(4, fish=100.0)
    found = least_removals(
        lambda removed: shares_below(
            lake, project(lake, young(4), Removal("fish", removed)), 100.0
        ),
        (0.8, 0.9),
        1.0,
    )
    assert not found.any()
