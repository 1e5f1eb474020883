"""Densities of weights and lengths against SciPy, and against sums over single fish."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from fishdown.models.parts.weights.densities import (
    ORDER,
    lengths_log_density,
    log_weight_of_condition,
    power_sums,
    sum_of_powers,
    variation_with_scatter,
    weight_log_density_at_length,
    weights_log_density,
)


def test_three_sums_equal_scipys_gamma_density() -> None:
    weights = np.random.default_rng(3).gamma(4.0, 0.6, 37)
    for mean, variation in ((2.4, 0.5), (1.1, 0.2), (6.0, 1.3)):
        shape = 1.0 / variation**2
        expected = stats.gamma(shape, scale=mean / shape).logpdf(weights).sum()
        found = weights_log_density(
            len(weights), weights.sum(), np.log(weights).sum(), mean, variation
        )
        assert found == pytest.approx(expected, rel=1e-12)


def test_most_likely_mean_is_the_sample_mean() -> None:
    weights = np.array([0.4, 0.5, 0.6, 4.0, 5.2])  # two year classes: nothing like a gamma
    means = np.linspace(0.5, 6.0, 5_501)
    density = weights_log_density(len(weights), weights.sum(), np.log(weights).sum(), means, 0.9)
    assert means[density.argmax()] == pytest.approx(weights.mean(), abs=1e-3)


def test_sums_about_the_means_equal_scipys_regression_density() -> None:
    rng = np.random.default_rng(5)
    x, lake = rng.normal(0.1, 0.2, 50), rng.integers(0, 2, 50)
    y = 0.8 + 2.9 * x + rng.normal(0.0, 0.1, 50)
    intercept, exponent, scatter = np.array([0.75, 0.9]), 3.1, 0.14
    sums = [np.zeros(2), np.zeros(2), np.zeros((3, 2))]
    expected = np.zeros(2)
    pairs = np.zeros(2)
    for place in (0, 1):
        mine = lake == place
        pairs[place] = mine.sum()
        sums[0][place], sums[1][place] = x[mine].mean(), y[mine].mean()
        off = np.stack([x[mine] - x[mine].mean(), y[mine] - y[mine].mean()])
        sums[2][:, place] = (off[0] @ off[0], off[0] @ off[1], off[1] @ off[1])
        middle = intercept[place] + exponent * x[mine]
        expected[place] = stats.norm(middle, scatter).logpdf(y[mine]).sum()
    found = weight_log_density_at_length(pairs, *sums, intercept, exponent, scatter)
    assert found == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize("exponent", [2.5, 2.9, 3.0, 3.26, 3.5])
def test_sums_of_powers_equal_the_sum_over_single_fish(exponent: float) -> None:
    rng = np.random.default_rng(8)
    x = rng.uniform(-np.log(5.0), np.log(5.0), 400)
    season = rng.integers(0, 3, 400)
    sums = power_sums(x, season, 4)
    assert sums.shape == (ORDER + 1, 4)
    found = sum_of_powers(sums, exponent)
    expected = np.bincount(season, np.exp(exponent * x), 4)
    assert found == pytest.approx(expected, rel=1e-5)
    assert found[3] == 0.0


def test_sums_of_powers_stay_positive_for_any_exponent() -> None:
    sums = power_sums(np.array([-2.0, 1.5]), np.array([0, 1]), 2)
    for exponent in (-50.0, 0.0, 9.0, 60.0):
        assert (sum_of_powers(sums, exponent) > 0).all()


X = np.array([-0.4, -0.1, 0.05, 0.3])


def density_of_lengths(x: np.ndarray, beta: float, b: float, mean: float, v: float) -> float:
    sums = power_sums(x, np.zeros(len(x), int), 1)[:, 0]
    return float(lengths_log_density(len(x), x.sum(), sums, beta, b, mean, v))


def test_density_of_lengths_is_scipys_gamma_of_the_weights_they_stand_for() -> None:
    beta, b, mean, v = np.log(2.1), 2.95, 2.4, 0.5
    z = np.exp(beta + b * X)
    shape = v**-2
    # dz/dx = b z
    expected = (stats.gamma(shape, scale=mean / shape).logpdf(z) + np.log(b * z)).sum()
    assert density_of_lengths(X, beta, b, mean, v) == pytest.approx(expected, rel=1e-9)


def test_mean_weight_of_the_lengths_is_the_mean() -> None:
    """Brute force, on a grid of the length of a fish and the scatter of its weight."""
    alpha, scatter, b, mean, v = np.log(2.1), 0.2, 3.0, 2.4, 0.5
    x, e = np.linspace(-4.0, 1.6, 4_001), np.linspace(-1.6, 1.6, 401)
    one_each = power_sums(x, np.arange(len(x)), len(x))
    beta = alpha + 0.5 * scatter**2
    density = np.exp(lengths_log_density(1.0, x, one_each, beta, b, mean, v))
    together = density[:, None] * stats.norm(0.0, scatter).pdf(e)
    weight = np.exp(alpha + b * x[:, None] + e)

    def integral(values: np.ndarray) -> float:
        return float(integrate.simpson(integrate.simpson(values, e), x))

    assert integral(together) == pytest.approx(1.0, abs=1e-6)
    assert integral(together * weight) == pytest.approx(mean, rel=1e-5)
    variance = integral(together * (weight - mean) ** 2)
    assert np.sqrt(variance) / mean == pytest.approx(variation_with_scatter(v, scatter), rel=1e-4)


def test_most_likely_mean_is_the_mean_of_the_weights_at_length() -> None:
    means = np.linspace(1.0, 4.0, 3_001)
    sums = power_sums(X, np.zeros(4, int), 1)[:, 0]
    density = lengths_log_density(4, X.sum(), sums, np.log(2.1), 2.95, means, 0.5)
    assert means[density.argmax()] == pytest.approx(np.exp(np.log(2.1) + 2.95 * X).mean(), abs=1e-3)


def test_condition_is_fultons_factor() -> None:
    # 10⁵ × 2,500 g / (560 mm)³ = 1.4236
    log_weight = log_weight_of_condition(np.log(1e5 * 2500 / 560**3), np.log(560.0))
    assert np.exp(log_weight) == pytest.approx(2.5)
