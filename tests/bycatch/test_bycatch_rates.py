"""Rates of bycatch: the density against SciPy, the draws against quadrature, and known bounds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import pytest
from arviz_stats.base import array_stats
from scipy import integrate, optimize, special, stats

from fishdown.bycatch_rates.approximation import approximate
from fishdown.bycatch_rates.design import LOG_CLUMPING, LOG_RATE, SEASON_SCALE, Design
from fishdown.bycatch_rates.net_days import NetDays
from fishdown.bycatch_rates.rates import _proposed, fit_rates
from fishdown.bycatch_rates.seasons import log_density, season_effects
from fishdown.bycatch_rates.unseen import most_per_pull, most_pulls_with
from fishdown.intervals import POINTS


def days(
    fish: Sequence[float],
    cells: Sequence[tuple[int, int, float]] = ((0, 6, 0.0),),
    group: Sequence[int] | None = None,
    pulls: Sequence[float] | None = None,
) -> NetDays:
    """Write nets by days: fish, and cells of (season, month, mesh)."""
    counts = np.array(fish, dtype=float)
    return NetDays(
        pulls=np.ones(len(counts)) if pulls is None else np.array(pulls, dtype=float),
        group=np.zeros(len(counts), dtype=int) if group is None else np.array(group),
        counts={"roach": counts},
        target=counts,
        cells=pd.DataFrame(list(cells), columns=["season", "month", "mesh"]),
        median_mesh=float("nan"),
    )


def negative_binomial(fish: np.ndarray, mean: np.ndarray, size: np.ndarray) -> np.ndarray:
    return stats.nbinom.logpmf(fish, size, size / (size + mean))


def test_pulls_of_a_net_on_one_day_add_up() -> None:
    """The sum of three pulls, by enumeration, is of three times the mean and the size."""
    mean, size = 1.3, 0.6
    one = stats.nbinom.pmf(np.arange(12), size, size / (size + mean))
    three = np.convolve(np.convolve(one, one), one)[:12]
    whole = np.exp(negative_binomial(np.arange(12), np.array(3 * mean), np.array(3 * size)))
    assert whole == pytest.approx(three, rel=1e-12)


def test_the_density_is_that_of_negative_binomial_counts() -> None:
    rng = np.random.default_rng(1)
    cells = [(0, 6, -0.2), (0, 7, 0.3), (3, 6, 0.0), (3, 8, 0.5)]
    group, pulls = rng.integers(0, 4, 30), rng.integers(1, 4, 30).astype(float)
    fish = rng.poisson(2.0, 30).astype(float)
    found = days(fish, cells, group, pulls)
    design = Design.of(found, fish)
    assert design.common.shape == (4, 5)
    coefficients, seasons = rng.normal(0, 0.5, 5), rng.normal(0, 0.5, 2)
    log_rate = design.common @ coefficients + seasons[design.season]
    k = 0.7
    expected = negative_binomial(fish, pulls * np.exp(log_rate)[group], k * pulls).sum()
    total = design.fish + k * design.pulls
    ours = (design.fish * log_rate - total * np.logaddexp(np.log(k), log_rate)).sum()
    ours += design.log_constant(np.array([np.log(k)]))[0] - special.gammaln(fish + 1).sum()
    assert ours == pytest.approx(expected, rel=1e-9)


def test_seasons_are_integrated_out() -> None:
    rng = np.random.default_rng(2)
    fish = np.array([0, 0, 1, 9, 3, 0.0])
    design = Design.of(days(fish, [(0, 6, 0.0), (1, 6, 0.0)], [0, 0, 0, 1, 1, 1]), fish)
    scales = np.array([[np.log(0.7), np.log(1.4), np.log(1e-3)], [0.5, -1.0, np.log(1e-3)]])
    levels = rng.normal(0, 1, (2, 1))
    ours = log_density(design, levels, scales)
    for (log_k, log_tau, _), level, found in zip(scales, levels[:, 0], ours, strict=True):
        k, tau = np.exp(log_k), np.exp(log_tau)
        expected = special.gammaln(fish + 1).sum()
        for mine in (fish[:3], fish[3:]):

            def height(u: float, mine=mine, level=level, k=k, tau=tau) -> float:
                mean = np.exp(level + u)
                told = negative_binomial(mine, mean, np.array(k)).sum()
                return float(np.exp(told) * stats.norm.pdf(u, 0, tau))

            expected += np.log(integrate.quad(height, -12, 12, epsabs=0, limit=200)[0])
        expected += -0.5 * ((level - LOG_RATE[0]) / LOG_RATE[1]) ** 2 - np.log(LOG_RATE[1])
        expected += -0.5 * ((log_k - LOG_CLUMPING[0]) / LOG_CLUMPING[1]) ** 2
        expected += log_tau - 0.5 * (tau / SEASON_SCALE) ** 2
        assert found == pytest.approx(expected, abs=2e-3)


def test_draws_of_a_season_have_its_density() -> None:
    fish = np.array([0, 0, 0, 0, 7.0])
    design = Design.of(days(fish, [(0, 6, 0.0), (1, 6, 0.0)], [0, 0, 0, 0, 1]), fish)
    scales = np.tile([0.0, np.log(1.5), np.log(1e-3)], (8_000, 1))
    drawn = season_effects(design, np.full((8_000, 1), 0.4), scales, np.random.default_rng(3))
    grid = np.linspace(-9, 6, 4001)
    for season, mine in enumerate((fish[:4], fish[4:])):
        mean = np.exp(0.4 + grid)
        told = sum(negative_binomial(one, mean, np.array(1.0)) for one in mine)
        below = np.cumsum(np.exp(told) * stats.norm.pdf(grid, 0, 1.5))
        expected = np.interp(np.sort(drawn[:, season]), grid, below / below[-1])
        # Even between 0 and 1, to four standard errors of the Kolmogorov distance.
        assert np.abs(expected - (np.arange(8_000) + 0.5) / 8_000).max() < 2.0 / np.sqrt(8_000)


def posterior_of_one(fish: np.ndarray, pulls: int) -> tuple[np.ndarray, np.ndarray]:
    """Return log-rates and their posterior, by a fine grid of log-rate and clumping."""
    log_rate, log_k = np.linspace(-12, 7, 500), np.linspace(-4.11, 3.09, 240)
    told = stats.norm.logpdf(log_rate, *LOG_RATE)[:, None] + stats.norm.logpdf(log_k, *LOG_CLUMPING)
    values, times = np.unique(fish, return_counts=True)
    for value, count in zip(values, times, strict=True):
        mean, k = np.exp(log_rate)[:, None], np.exp(log_k)
        told = told + count * negative_binomial(np.array(value), mean, k)
    mass = np.exp(told - told.max()).sum(axis=1)
    return log_rate, mass / mass.sum()


@pytest.mark.parametrize(
    "fish", [[0] * 20, [0] * 14 + [1], [2] + [0] * 30, [3, 0, 1, 0, 14, 0, 2, 0], [60, 90, 41, 77]]
)
def test_draws_of_one_lake_are_those_of_quadrature(fish: list[int]) -> None:
    """Where normal approximations fail, too: for a species with one fish, or none."""
    rates = fit_rates(days(fish), np.array(fish, dtype=float), seed=4)
    assert rates.told
    log_rate, mass = posterior_of_one(np.array(fish), len(fish))
    drawn = np.log(rates.per_pull()[:, 0])
    below = np.interp(np.quantile(drawn, POINTS), log_rate, mass.cumsum() - mass / 2)
    error = np.sqrt(POINTS * (1 - POINTS) / rates.effective)
    assert np.abs(below - POINTS) == pytest.approx(0.0, abs=4.0 * error.max())


def test_a_published_example_of_clumped_counts() -> None:
    """Red mites on 150 apple leaves: mean 1.1467, k = 1.0246 by maximum likelihood.

    Bliss and Fisher 1953, Biometrics 9:176–200 (counts and answers: values from memory; that they
    belong together is checked by SciPy).
    """
    leaves = [70, 38, 17, 10, 9, 3, 2, 1]
    mites = np.repeat(np.arange(8.0), leaves)
    assert mites.mean() == pytest.approx(1.1467, abs=1e-4)

    def lack(k: float) -> float:
        return -float(negative_binomial(mites, mites.mean(), np.array(k)).sum())

    assert optimize.minimize_scalar(lack, bounds=(0.1, 9)).x == pytest.approx(1.0246, abs=2e-3)
    rates = fit_rates(days(mites), mites, seed=11)
    low, median, high = np.quantile(rates.clumping, POINTS)
    assert low < 1.0246 < high
    assert median == pytest.approx(1.0246, rel=0.1)
    low, median, high = np.quantile(rates.per_pull(), POINTS)
    assert median == pytest.approx(1.1467, rel=0.03)
    # The standard error of the mean of negative binomial counts.
    error = np.sqrt((1.1467 + 1.1467**2 / 1.0246) / 150)
    assert high - low == pytest.approx(2 * 1.645 * error, rel=0.12)


def test_draws_of_three_lakes_are_those_of_quadrature() -> None:
    """Over a grid of log-rate, clumping and spread; the season's effect by a grid, too."""
    counts = [[0, 3, 0, 1], [8, 0, 2, 6, 11], [0, 0, 0]]
    fish = np.concatenate(counts).astype(float)
    group = np.repeat([0, 1, 2], [len(mine) for mine in counts])
    found = days(fish, [(0, 6, 0.0), (1, 6, 0.0), (2, 6, 0.0)], group)
    rates = fit_rates(found, fish, seed=5)
    log_rate, log_k = np.linspace(-9, 7, 130), np.linspace(-4.1, 3.0, 36)
    log_tau = np.linspace(np.log(0.02), np.log(4.0), 40)
    effect = np.linspace(-3.5, 3.5, 71)  # in standard deviations
    prior = stats.norm.pdf(effect)
    # Log-likelihood of each lake at any log-rate and clumping, by interpolation.
    fine = np.linspace(-24, 22, 1200)
    lakes = [
        sum(negative_binomial(np.array(y), np.exp(fine)[:, None], np.exp(log_k)) for y in mine)
        for mine in counts
    ]
    at = log_rate[:, None, None] + np.exp(log_tau)[None, :, None] * effect
    total = stats.norm.logpdf(log_rate, *LOG_RATE)[:, None, None] + np.zeros((1, 40, 36))
    total += (log_tau - 0.5 * np.exp(2 * log_tau))[None, :, None]
    total += stats.norm.logpdf(log_k, *LOG_CLUMPING)
    place = np.clip(np.searchsorted(fine, at), 0, len(fine) - 1)
    each = []
    for mine in lakes:
        inside = np.exp(mine)[place]  # log-rate, spread, effect, clumping
        each.append((inside * prior[:, None]).sum(axis=2))
        total = total + np.log(each[-1])
    mass = np.exp(total - total.max())
    mass /= mass.sum()
    # The average rate of the second lake.
    second = np.exp(lakes[1])[place] * prior[:, None] / each[1][:, :, None]
    mean = (mass[:, :, None] * second).sum(axis=3)
    value = at.ravel()
    order = np.argsort(value)
    below = np.interp(
        np.log(np.quantile(rates.by_season()[:, 1], POINTS)),
        value[order],
        mean.ravel()[order].cumsum(),
    )
    assert below == pytest.approx(POINTS, abs=0.05)
    clumping = np.interp(
        np.log(np.quantile(rates.clumping, POINTS)), log_k, mass.sum(axis=(0, 1)).cumsum()
    )
    assert clumping == pytest.approx(POINTS, abs=0.08)


@pytest.mark.parametrize(
    ("seasons", "mean", "k"), [(1, 0.1, 0.6), (4, 1.0, 0.3), (48, 0.5, 0.6), (12, 3.0, 3.0)]
)
def test_proposals_are_near_the_posterior(seasons: int, mean: float, k: float) -> None:
    """Pareto k of the weights below its limit of 0.7 (Vehtari et al. 2024), in any size."""
    rng = np.random.default_rng(6)
    cells = [(season, month, 0.0) for season in range(seasons) for month in (5, 6, 7)]
    group = np.repeat(np.arange(len(cells)), 5)
    level = mean * np.exp(rng.normal(0, 0.8, seasons))[group // 3]
    fish = rng.negative_binomial(k, k / (k + level)).astype(float)
    design = Design.of(days(fish, cells, group), fish)
    log_weight = _proposed(design, approximate(design), 4_000, rng)[2]
    _, pareto_k = array_stats.psislw(-(log_weight - log_weight.max()), axis=-1)
    assert pareto_k < 0.7
    weight = np.exp(log_weight - log_weight.max())
    assert weight.sum() ** 2 / (weight**2).sum() > 400


def test_a_lake_with_few_pulls_takes_from_the_others() -> None:
    rng = np.random.default_rng(7)
    group = np.concatenate([np.repeat(np.arange(6), 30), [6]])
    fish = np.append(rng.negative_binomial(2.0, 0.5, 180), 0).astype(float)
    rates = fit_rates(days(fish, [(s, 6, 0.0) for s in range(7)], group), fish, seed=8)
    alone = fit_rates(days([0.0]), np.zeros(1), seed=8)
    with_others = np.quantile(rates.by_season()[:, 6], POINTS)
    assert with_others[0] > 20 * np.quantile(alone.per_pull(), POINTS[0])
    assert with_others[1] == pytest.approx(2.0, rel=0.5)


def test_an_effect_of_mesh_and_month_is_found_again() -> None:
    rng = np.random.default_rng(9)
    cells = [(0, month, mesh) for month in (5, 6, 7) for mesh in (-1.0, 0.0, 1.0)]
    group = np.repeat(np.arange(9), 40)
    months = np.array([0.5, 0.0, -0.5])
    level = np.array([3.0 * np.exp(months[m - 5] - 0.8 * mesh) for _, m, mesh in cells])[group]
    fish = rng.negative_binomial(1.5, 1.5 / (1.5 + level)).astype(float)
    rates = fit_rates(days(fish, cells, group), fish, seed=10)
    low, _, high = np.quantile(rates.coefficients[:, 1], POINTS)
    assert low < -0.8 < high
    assert high < 0.0
    may_to_july = rates.coefficients[:, 2] - rates.coefficients[:, 4]
    low, _, high = np.quantile(may_to_july, POINTS)
    assert low < 1.0 < high
    # A month without a pull is less certain than those with.
    known = np.log(rates.of_pull(0, 6, 0.0, rng)).std()
    assert np.log(rates.of_pull(0, 12, 0.0, rng)).std() > 1.2 * known
    assert np.log(rates.of_pull(None, 6, 0.0, rng)).std() > 2.0 * known


@pytest.mark.parametrize("pulls", [5, 14, 30, 167])
def test_upper_bounds_of_a_species_never_seen(pulls: int) -> None:
    """Exact bound and rule of three (Hanley and Lippman-Hand 1983, JAMA 249:1743–1745).

    They give 3/14 for none of 14 (value from memory), beside the exact 0.193.
    """
    ours = most_pulls_with(pulls)
    exact = stats.binomtest(0, pulls).proportion_ci(0.90, method="exact").high
    assert ours == pytest.approx(exact, rel=1e-9)
    assert ours < 3 / pulls
    if pulls >= 30:
        assert ours == pytest.approx(3 / pulls, rel=0.06)
    if pulls == 14:
        assert ours == pytest.approx(0.193, abs=5e-4)
    for k in (0.1, 0.6, 5.0):
        mean = most_per_pull(pulls, k)
        assert stats.nbinom.pmf(0, pulls * k, k / (k + mean)) == pytest.approx(0.05, rel=1e-9)
    assert most_per_pull(pulls, 1e7) == pytest.approx(-np.log(0.05) / pulls, rel=1e-5)
    assert most_per_pull(pulls) > most_per_pull(pulls, 1e7)


def test_intervals_hold_what_they_promise() -> None:
    """Sixty campaigns of three lakes, seeds (99, number); target 80 to 98 %, as in RESULTS.md."""
    held = []
    for number in range(60):
        rng = np.random.default_rng((99, number))
        cells = [(season, month, 0.0) for season in range(3) for month in (5, 6, 7)]
        group = np.repeat(np.arange(9), 8)
        level = np.exp(rng.normal(0, 0.5, 3))[:, None] * np.exp(rng.normal(0, 0.3, 3))
        mean = 0.6 * level.ravel()[group]
        fish = rng.negative_binomial(0.6, 0.6 / (0.6 + mean)).astype(float)
        rates = fit_rates(days(fish, cells, group), fish, seed=number)
        low, _, high = np.quantile(rates.by_season(), POINTS, axis=0)
        true = 0.6 * level.mean(axis=1)
        held += ((low <= true) & (true <= high)).tolist()
    assert 0.80 <= np.mean(held) <= 0.98
