"""Bands of the empirical distribution: by brute force, and against ArviZ's own."""

from __future__ import annotations

import numpy as np
import pytest
from arviz_stats.ecdf_utils import get_pointwise_confidence_band, simulate_confidence_bands

from fishdown.checks.uniform import coverage, evenness, inner_points, simultaneous_band


@pytest.mark.parametrize("count", [7, 40, 250])
def test_coverage_equals_that_of_even_numbers(count: int) -> None:
    low, high = simultaneous_band(count, 0.9)
    points = inner_points(count)
    rng = np.random.default_rng(count)
    tries = 4_000
    numbers = np.sort(rng.uniform(size=(tries, count)), axis=1)
    found = np.array([np.searchsorted(row, points, side="right") for row in numbers])
    inside = ((low <= found) & (found <= high)).all(axis=1).mean()
    exact = coverage(count, points, low, high)
    assert exact >= 0.9
    # Three standard errors of the share of tries.
    assert inside == pytest.approx(exact, abs=3.0 * np.sqrt(0.1 * 0.9 / tries))


def test_one_point_is_a_binomial_count() -> None:
    # At ½ alone, two numbers lie 0, 1 or 2 below it, with 1/4, 1/2, 1/4.
    half = np.array([0.5])
    assert coverage(2, half, np.array([1]), np.array([1])) == pytest.approx(0.5)
    assert coverage(2, half, np.array([0]), np.array([1])) == pytest.approx(0.75)


@pytest.mark.parametrize("count", [30, 100])
def test_band_equals_arviz(count: int) -> None:
    # ArviZ 1.3 finds the same band by simulation (Säilynoja et al. 2022, algorithm 1).
    points = inner_points(count)
    rng = np.random.default_rng(1)
    pointwise = simulate_confidence_bands(count, 1, points, 0.95, 4_000, rng)
    theirs = get_pointwise_confidence_band(pointwise, count, points)
    for mine, other in zip(simultaneous_band(count, 0.95), theirs, strict=True):
        assert np.abs(mine - count * other).max() <= 1.0 + 1e-9


def test_even_and_uneven_numbers() -> None:
    rng = np.random.default_rng(2)
    alarms = [not evenness(rng.uniform(size=60), 0.95).even for _ in range(400)]
    assert np.mean(alarms) < 0.05 + 3.0 * np.sqrt(0.05 * 0.95 / 400)
    assert not evenness(rng.beta(2.0, 2.0, size=300), 0.95).even
    assert not evenness(rng.uniform(size=60) ** 2, 0.95).even
