"""When to stop, on toys whose answer is a formula."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from scipy import stats

from fishdown.decisions.lake_ahead import LakeAhead, Terms
from fishdown.decisions.schedule import ordered
from fishdown.decisions.simulation import catches
from fishdown.decisions.stopping import break_even_pull, losses, mean_errors

CHAINS, EACH, PULLS = 4, 10_000, 25
SHARE = 0.2


def last_fish() -> np.ndarray:
    """Whether the one fish is still there after each pull, (chain, draw, pull + 1)."""
    hazard = np.full((CHAINS * EACH, PULLS), -np.log1p(-SHARE))
    caught = catches(np.ones(CHAINS * EACH), hazard, None, np.random.default_rng(6))
    there = 1.0 - np.concatenate([np.zeros((CHAINS * EACH, 1)), np.cumsum(caught, axis=1)], axis=1)
    return there.reshape(CHAINS, EACH, -1)


def test_a_single_fish_is_pursued_while_it_pays() -> None:
    """E L_k = 10 k + 400 · 0.8^k: the next pull saves 80 · 0.8^k, more than 10 up to k = 9."""
    there = last_fish()
    cost = 10.0 * np.arange(PULLS + 1)
    found = losses(cost, there, np.zeros_like(there), cost_above=400.0, value_per_kg=0.0)
    exact = cost + 400.0 * (1.0 - SHARE) ** np.arange(PULLS + 1)
    assert np.argmin(exact) == 10
    assert 400.0 * SHARE * 0.8**9 > 10.0 > 400.0 * SHARE * 0.8**10
    assert (np.abs(found.mean - exact) <= 4.5 * found.error + 0.01).all()
    assert found.best in (9, 10, 11)
    assert 10 in found.alike
    assert 0 not in found.alike
    assert PULLS not in found.alike
    np.testing.assert_allclose(
        found.error[1:],
        400.0
        * np.sqrt(0.8 ** np.arange(1, 26) * (1 - 0.8 ** np.arange(1, 26)))
        / np.sqrt(CHAINS * EACH),
        rtol=0.25,
    )


def test_value_of_the_catch_alone_is_break_even() -> None:
    """100 kg of which each pull takes a fifth, known for sure: worth it while 20 · 0.8^k > 5."""
    left = 100.0 * 0.8 ** np.arange(PULLS + 1)
    taken = np.broadcast_to(100.0 - left, (2, 50, PULLS + 1))
    cost = 5.0 * np.arange(PULLS + 1)
    found = losses(cost, np.zeros_like(taken), taken, cost_above=0.0, value_per_kg=1.0)
    assert found.best == 7
    assert break_even_pull(-np.diff(left), 5.0, 1.0) == 7
    np.testing.assert_allclose(found.mean, cost + left - 100.0)
    assert break_even_pull(-np.diff(left), 1e-9, 1.0) == PULLS
    assert break_even_pull(-np.diff(left), 21.0, 1.0) == 0


def poisson_lake(terms: Terms) -> LakeAhead:
    """Make a lake of Poisson(40) fish of 1 kg on 1 ha; chance pulls leave Poisson(40 (1 − q)^k)."""
    rng = np.random.default_rng(8)
    fish = rng.poisson(40.0, CHAINS * EACH).astype(float)
    hazard = np.full((len(fish), PULLS), -np.log1p(-SHARE))
    caught = catches(fish, hazard, None, rng)
    left = fish[:, None] - np.concatenate(
        [np.zeros((len(fish), 1)), np.cumsum(caught, axis=1)], axis=1
    )
    day = dt.date(2024, 6, 1)
    return LakeAhead(
        lake="Pond",
        season="2024",
        schedule=ordered([(day + dt.timedelta(days=k // 2), "A", np.nan) for k in range(PULLS)]),
        terms=terms,
        threshold=9.5,
        coldest=np.nan,
        later_year=False,
        failure="",
        shown=True,
        temperature=np.full((CHAINS, EACH, PULLS), np.nan),
        catch=caught.reshape(CHAINS, EACH, -1),
        mean_catch=SHARE * left[:, :-1].reshape(CHAINS, EACH, -1),
        fish=left.reshape(CHAINS, EACH, -1),
        weight=np.ones((CHAINS, EACH, PULLS + 1)),
        kg=caught.reshape(CHAINS, EACH, -1),
        mean_kg=SHARE * left[:, :-1].reshape(CHAINS, EACH, -1),
        area=1.0,
    )


def test_probability_and_pulls_needed_by_poisson() -> None:
    lake = poisson_lake(Terms())
    exact = stats.poisson.cdf(9, 40.0 * (1.0 - SHARE) ** np.arange(PULLS + 1))
    assert lake.below is not None
    probability, error = lake.below
    assert (np.abs(probability - exact) <= 4.5 * error + 1e-4).all()
    assert (np.diff(probability) >= 0).all()
    assert probability[0] > 0
    assert probability[-1] < 1
    for wanted in (0.8, 0.9, 0.95):
        pulls, low, high = lake.needed(wanted)
        assert pulls == np.flatnonzero(exact >= wanted)[0]
        assert low is not None
        assert high is not None
        assert low <= pulls <= high
    assert lake.needed(0.5) == (7, 7, 7)
    assert lake.needed(1.0 - 1e-9)[0] is None
    assert lake.losses is None
    assert lake.cost is None
    assert lake.break_even is None


def test_loss_of_the_poisson_lake() -> None:
    lake = poisson_lake(Terms("EUR", 100.0, 50.0, 5_000.0, 2.0))
    pulls = np.arange(PULLS + 1)
    cost = 100.0 * pulls + 50.0 * np.ceil(pulls / 2)
    assert lake.cost is not None
    np.testing.assert_array_equal(lake.cost, cost)
    left = 40.0 * (1.0 - SHARE) ** pulls
    exact = cost + 5_000.0 * stats.poisson.sf(9, left) - 2.0 * (40.0 - left)
    assert lake.losses is not None
    assert (np.abs(lake.losses.mean - exact) <= 4.5 * lake.losses.error + 0.2).all()
    assert int(np.argmin(exact)) in lake.losses.alike
    assert lake.expected_kg is not None
    mean, error = lake.expected_kg
    assert (np.abs(mean - SHARE * left[:-1]) <= 4.5 * error).all()
    # 100 EUR a pull at 2 EUR a kg: 50 kg, more than the 8 of the first pull.
    assert lake.break_even == (50.0, 0)


def test_error_of_a_mean_of_independent_draws() -> None:
    draws = np.random.default_rng(1).normal(0.0, 3.0, (4, 5_000, 2))
    draws[:, :, 1] = 7.0
    error = mean_errors(draws)
    assert error[0] == pytest.approx(3.0 / np.sqrt(20_000), rel=0.1)
    assert error[1] == 0.0
