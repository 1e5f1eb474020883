"""The dead share of the bycatch, against SciPy and quadrature by brute force."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special, stats

from fishdown.bycatch_rates.deaths import dead_share
from fishdown.intervals import POINTS


def test_one_row_against_quadrature() -> None:
    """π, its mean and both correlations on fine grids, with SciPy's beta-binomial."""
    dead, fish = 3, 20
    found = dead_share(np.array([3.0]), np.array([20.0]), np.array([0]), 1)
    rng = np.random.default_rng(1)
    draws = 400_000
    mean = rng.uniform(size=draws)
    size = [1 / rng.beta(1, b, draws) - 1 for b in (19, 4)]
    share = np.clip(rng.beta(mean * size[0], (1 - mean) * size[0]), 1e-12, 1 - 1e-12)
    weight = stats.betabinom.pmf(dead, fish, share * size[1], (1 - share) * size[1])
    order = np.argsort(share)
    below = np.interp(found.points(0), share[order], weight[order].cumsum() / weight.sum())
    assert below == pytest.approx(POINTS, abs=0.01)


def test_rows_of_one_fish_are_binomial() -> None:
    """A single fish cannot die together with another: the correlation of a row says nothing."""
    dead = np.r_[np.ones(4), np.zeros(196)]
    found = dead_share(dead, np.ones(200), np.zeros(200, dtype=int), 1)
    in_row = found.joint[0].sum(axis=1)
    assert in_row == pytest.approx(np.full(8, 1 / 8), rel=1e-6)
    # Near the beta posterior of a uniform prior; that of a season leans a little to few deaths.
    low, median, high = found.points(0)
    expected = stats.beta.ppf(POINTS, 5, 197)
    assert (low, median, high) == pytest.approx(expected, rel=0.25)
    assert median < expected[1]


def test_deaths_that_come_together_say_less() -> None:
    apart = dead_share(np.ones(10), np.full(10, 10.0), np.zeros(10, dtype=int), 1)
    together = dead_share(np.r_[10.0, np.zeros(9)], np.full(10, 10.0), np.zeros(10, dtype=int), 1)
    widths = [np.diff(special.logit(one.points(0)[[0, 2]]))[0] for one in (apart, together)]
    assert widths[1] > 1.5 * widths[0]
    assert apart.points(0)[0] < 0.1 < apart.points(0)[2]
    assert together.points(0)[0] < 0.1 < together.points(0)[2]


def test_seasons_without_a_record_are_like_the_others() -> None:
    rng = np.random.default_rng(2)
    season = np.repeat(np.arange(5), 40)
    dead = rng.binomial(5, 0.1, 200).astype(float)
    found = dead_share(dead, np.full(200, 5.0), season, 6)
    low, median, high = found.points(5)
    assert 0.05 < median < 0.15
    # Less certain than any season with fish.
    assert high - low > max(np.ptp(found.points(place)[[0, 2]]) for place in range(5))
    share, correlation = found.draws(-1, 20_000, rng)
    assert np.quantile(share, POINTS) == pytest.approx(found.points(5), abs=0.01)
    assert ((correlation > 0) & (correlation < 1)).all()


@pytest.mark.parametrize("fish", [[], [0.0, 0.0]])
def test_without_fish_there_is_the_prior(fish: list[float]) -> None:
    found = dead_share(np.zeros(len(fish)), np.array(fish), np.zeros(len(fish), dtype=int), 1)
    assert found.points(0)[1] == pytest.approx(0.5, abs=0.01)
