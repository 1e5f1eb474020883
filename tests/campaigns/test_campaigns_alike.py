"""Fish of one catch are alike: tagged trout of Mack Creek, reach by reach, twelve years.

Gregory & Arismendi 2020 (CC0), `tests/published/SOURCES.md`. From two of the six reaches of a year
the mean weight in all six is to be told. Stated before the first run: 90 % intervals that take the
fish for independent hold it in fewer than 80 % of all pairs of reaches; those that let the fish of
a reach be alike, in 85 % or more. (Found: 72 % and 98 %; the second is above 90 % because the two
reaches are among the six.)
"""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pytest
from campaigns_by_lake import published_rows
from scipy import special

import fishdown
from fishdown.models.parts.weights.densities import alike_log_factor, weights_log_density

Reach = tuple[int, float, float]  # fish, Σ W in g, Σ ln W


@pytest.fixture(scope="module")
def years() -> list[list[Reach]]:
    """Return the sums of every reach, year by year."""
    weights: dict[str, dict[tuple[str, str], list[float]]] = {}
    for row in published_rows("and_mack_pit_weights.csv"):
        place = row["section"], row["reach"]
        grams = weights.setdefault(row["year"], {}).setdefault(place, [])
        grams.append(float(row["weight_g"]))
    found = [
        [(len(w), sum(w), float(np.log(w).sum())) for w in reaches.values()]
        for reaches in weights.values()
    ]
    assert len(found) == 12
    assert all(len(reaches) == 6 for reaches in found)
    return found


def log_density(reaches: list[Reach], mean: Any, variation: float, spread: Any) -> Any:
    """Log-density of the fish of some reaches at mean weights, shape (spread, mean)."""
    total: Any = 0.0
    for fish, grams, logs in reaches:
        total = total + weights_log_density(fish, grams, logs, mean, variation)
        if spread is not None:
            shapes, load = fish / variation**2, grams / (variation**2 * mean)
            total = total + alike_log_factor(shapes, load, spread[:, None])
    return total


def middle(grid: np.ndarray, log_posterior: np.ndarray) -> tuple[float, float]:
    below = np.cumsum(special.softmax(log_posterior))
    low, high = (float(grid[np.searchsorted(below, share)]) for share in (0.05, 0.95))
    return low, high


def test_intervals_hold_the_mean_once_fish_of_a_reach_may_be_alike(
    years: list[list[Reach]],
) -> None:
    means = np.exp(np.linspace(np.log(3.0), np.log(60.0), 1_501))  # g; flat in the logarithm
    # Variation of single fish about their reach: the most likely one of all years.
    grid = np.linspace(0.3, 1.2, 91)
    fitting = [
        sum(
            float(weights_log_density(n, total, logs, total / n, v))
            for reaches in years
            for n, total, logs in reaches
        )
        for v in grid
    ]
    variation = float(grid[int(np.argmax(fitting))])
    spreads = np.exp(np.linspace(np.log(0.005), np.log(1.0), 61))
    prior = fishdown.read_model("pooled_lakes").priors["weight_pull_spread"]
    log_spread = prior.log_density(spreads) + np.log(spreads)
    for reaches in years:
        log_spread = log_spread + special.logsumexp(
            log_density(reaches, means, variation, spreads), axis=1
        )
    held = {"independent": 0, "alike": 0}
    pairs = 0
    for reaches in years:
        truth = sum(total for _, total, _ in reaches) / sum(n for n, _, _ in reaches)
        for pair in combinations(reaches, 2):
            pairs += 1
            alone = log_density(list(pair), means, variation, None)
            # The spread as all years know it.
            alike = special.logsumexp(
                log_density(list(pair), means, variation, spreads)
                + special.log_softmax(log_spread)[:, None],
                axis=0,
            )
            for name, posterior in (("independent", alone), ("alike", alike)):
                low, high = middle(means, posterior)
                held[name] += low <= truth <= high
    assert pairs == 180
    assert held["independent"] < 0.80 * pairs, held
    assert held["alike"] >= 0.85 * pairs, held
    best = spreads[int(np.argmax(log_spread))]
    assert 0.03 < best < 0.5
