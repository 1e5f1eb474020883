"""Honest campaigns of schooling fish, to count the false alarms of the rule on far-off catches.

Written down before the first run. A campaign is 1–3 lakes of 1–2 seasons. A season has 200–20,000
fish and 6–40 pulls by 1–4 nets; a pull takes 0.2–10 % in the mean (both even in logarithms), a net
differs by 30 % (standard deviation of logarithms), and the share falls evenly to between a third
and all of it as the water cools. The share of a single pull is beta with concentration 60, so that
schools come and go. Target: a warning in at most 2 % of campaigns.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fishdown.records.rules_plausible import far_above_neighbours

Array = np.ndarray[Any, np.dtype[np.float64]]
TARGET = 0.02


def season(rng: np.random.Generator, concentration: float, least_share: float = 0.002) -> Array:
    """Draw the catches of one season in time order."""
    left = int(np.exp(rng.uniform(np.log(200), np.log(20_000))))
    share = np.exp(rng.uniform(np.log(least_share), np.log(0.1)))
    pulls, nets = int(rng.integers(6, 41)), int(rng.integers(1, 5))
    net = np.exp(rng.normal(0.0, 0.3, nets))
    cooling = np.linspace(1.0, rng.uniform(1 / 3, 1.0), pulls)
    caught = np.zeros(pulls)
    for pull in range(pulls):
        mean = min(share * net[pull % nets] * cooling[pull], 0.9)
        taken = rng.beta(concentration * mean, concentration * (1.0 - mean))
        caught[pull] = rng.binomial(left, taken)
        left -= int(caught[pull])
    return caught


def false_alarms(campaigns: int, concentration: float, seed: int) -> float:
    """Return the share of honest campaigns with a warning."""
    rng = np.random.default_rng(seed)
    alarms = 0
    for _ in range(campaigns):
        seasons = int(rng.integers(1, 4)) * int(rng.integers(1, 3))
        alarms += any(far_above_neighbours(season(rng, concentration)) for _ in range(seasons))
    return alarms / campaigns


def found_slips(seasons: int, concentration: float, seed: int, least_share: float = 0.03) -> float:
    """Return the share of catches of 5 fish or more found after a digit too many was written."""
    rng = np.random.default_rng(seed)
    found = tried = 0
    while tried < seasons:
        caught = season(rng, concentration, least_share)
        some = np.flatnonzero(caught >= 5)
        if not len(some):
            continue
        place = int(rng.choice(some))
        caught[place] *= 10
        tried += 1
        found += place in far_above_neighbours(caught)
    return found / seasons
