"""The quality gate: what passes, what fails and why."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import xarray as xr
from fake_fits import independent

from fishdown.posterior.quality import Quality, judge


def judged(divergences: int = 0, **draws: np.ndarray[Any, Any]) -> Quality:
    """Judge draws of one season, shape (chain, draw)."""
    shape = next(iter(draws.values())).shape
    diverging = np.zeros(shape, dtype=bool)
    diverging.flat[:divergences] = True
    quantities = xr.Dataset(
        {name: (("chain", "draw", "season"), array[..., None]) for name, array in draws.items()}
    )
    return judge(quantities, xr.Dataset({"diverging": (("chain", "draw"), diverging)}))


def figures(
    rhat: float = 1.0, bulk: float = 4000.0, tail: float = 4000.0, divergences: int = 0
) -> Quality:
    def beside(good: float, value: float) -> xr.Dataset:
        return xr.Dataset({"good": ("season", [good]), "fish": ("season", [value])})

    return Quality(beside(1.0, rhat), beside(4000.0, bulk), beside(4000.0, tail), divergences)


def autoregressive(correlation: float, shape: tuple[int, int], seed: int) -> np.ndarray[Any, Any]:
    steps = independent(shape, seed) * np.sqrt(1.0 - correlation**2)
    draws = np.empty(shape)
    draws[:, 0] = steps[:, 0] / np.sqrt(1.0 - correlation**2)
    for i in range(1, shape[1]):
        draws[:, i] = correlation * draws[:, i - 1] + steps[:, i]
    return draws


def test_independent_draws_pass() -> None:
    quality = judged(fish=independent())
    assert quality.passed
    assert quality.failure(0) == ""
    assert quality.entry()["passed"] is True


# Limits of Vehtari et al. 2021: R-hat at most 1.01, effective sample sizes at least 400.
@pytest.mark.parametrize(
    "quality",
    [figures(), figures(rhat=1.01), figures(bulk=400.0), figures(tail=400.0)],
    ids=["well inside", "R-hat", "bulk ESS", "tail ESS"],
)
def test_on_the_limit_passes(quality: Quality) -> None:
    assert quality.passed


@pytest.mark.parametrize(
    ("quality", "reason"),
    [
        (figures(divergences=1), "1 divergent transition"),
        (figures(divergences=12), "12 divergent transitions"),
        (figures(rhat=1.010001), "R-hat of fish is 1.011, above 1.01"),
        (figures(rhat=1.25), "R-hat of fish is 1.250, above 1.01"),
        (figures(bulk=399.99), "bulk ESS of fish is 399, below 400"),
        (figures(tail=12.7), "tail ESS of fish is 12, below 400"),
        (figures(rhat=math.nan), "R-hat of fish is not defined, above 1.01"),
        (figures(bulk=math.nan), "bulk ESS of fish is not defined, below 400"),
    ],
)
def test_each_alone_fails_with_its_reason(quality: Quality, reason: str) -> None:
    assert not quality.passed
    assert quality.failure(0) == reason


def test_all_reasons_are_said_at_once() -> None:
    reason = figures(rhat=1.2, bulk=30.0, tail=20.0, divergences=3).failure(0)
    assert reason == (
        "3 divergent transitions; R-hat of fish is 1.200, above 1.01; "
        "bulk ESS of fish is 30, below 400; tail ESS of fish is 20, below 400"
    )


def test_the_worst_is_named_and_the_others_counted() -> None:
    values = xr.Dataset({"a": 1.02, "b": 1.3, "c": 1.0, "d": 1.05})
    fine = xr.full_like(values, 4000.0)
    quality = Quality(values.expand_dims(season=1), fine, fine, 0)
    assert quality.failure(0) == ("R-hat of b is 1.300, above 1.01 (2 other quantities fail too)")


def test_chains_in_different_places() -> None:
    draws = independent((4, 1000))
    draws[3] += 1.5
    quality = judged(fish=draws, weight=independent(seed=2))
    assert quality.failure(0).startswith("R-hat of fish is 1.")
    assert "weight" not in quality.failure(0)


def test_slow_chains() -> None:
    """For an autoregressive chain the effective size is n (1 − ρ) / (1 + ρ): here 8,000 / 39."""
    quality = judged(fish=autoregressive(0.95, (8, 1000), seed=3))
    assert float(quality.ess_bulk["fish"].item()) == pytest.approx(8000 / 39, rel=0.25)
    assert "bulk ESS of fish is " in quality.failure(0)


def test_divergences_are_counted() -> None:
    quality = judged(divergences=3, fish=independent())
    assert quality.entry()["divergences"] == 3
    assert quality.failure(0) == "3 divergent transitions"


def test_a_constant_passes() -> None:
    """A share of nothing, when nothing was removed, is 0 in every draw."""
    quality = judged(fish=independent(), removed_share=np.zeros((4, 1000)))
    assert quality.passed
    assert quality.entry()["largest_rhat"] < 1.01
    assert quality.entry()["smallest_ess_bulk"] > 400


def test_chains_that_never_move_fail() -> None:
    stuck = np.repeat(np.array([[1.0], [2.0], [3.0], [4.0]]), 1000, axis=1)
    assert not judged(fish=stuck).passed


def test_numbers_that_are_none_fail() -> None:
    draws = independent()
    draws[0, 0] = math.nan
    assert not judged(fish=draws).passed


def test_a_quantity_of_all_lakes_fails_every_season() -> None:
    seasons = xr.Dataset({"fish": ("season", [1.0, 1.0])})
    fine = xr.Dataset({"fish": ("season", [4000.0, 4000.0]), "schooling": 4000.0})
    quality = Quality(seasons.assign(schooling=1.1), fine, fine, 0)
    assert quality.failure(0) == quality.failure(1) == "R-hat of schooling is 1.100, above 1.01"
