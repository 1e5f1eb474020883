"""What is prior in an answer: against normal distributions, where it is known exactly."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from fake_fits import independent
from scipy import stats
from scipy.special import expit, logit

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.priors import Prior
from fishdown.posterior.log_priors import log_priors_by_season, natural_scale
from fishdown.posterior.prior_share import mostly_prior, prior_share
from fishdown.worlds import LakeTruth, World, simulate

SIZE = (4, 5_000)


def test_the_priors_weight_in_the_normal_case() -> None:
    """Prior N(0, 2²), five readings of sd 3: weight (1/4)/(1/4 + 5/9), posterior N(., 36/29)."""
    draws = independent(SIZE, middle=1.7, spread=np.sqrt(36.0 / 29.0))
    share, error = prior_share(draws, stats.norm.logpdf(draws, 0.0, 2.0))
    assert share == pytest.approx((1 / 4) / (1 / 4 + 5 / 9), abs=4 * error)
    assert 0.001 < error < 0.02


def test_it_sees_through_a_product() -> None:
    """Only x + y is told: x is narrower than its prior, by that of y, and not by any record."""
    x_sd, y_sd, told_sd = 1.5, 1.2, 0.1
    precision = np.array([[x_sd**-2, 0.0], [0.0, y_sd**-2]]) + told_sd**-2
    rng = np.random.default_rng(5)
    x, y = np.moveaxis(rng.multivariate_normal([0.4, -0.3], np.linalg.inv(precision), SIZE), -1, 0)
    log_prior = stats.norm.logpdf(x, 0.0, x_sd) + stats.norm.logpdf(y, 0.0, y_sd)
    share, error = prior_share(x, log_prior)
    assert share == pytest.approx(1.0, abs=max(4 * error, 0.02))
    assert x.var() / x_sd**2 < 0.5  # and so the ratio of variances is taken in
    # Each identified on its own: the prior determines hardly any of it.
    told, error = prior_share(y, np.zeros(SIZE) + stats.norm.logpdf(y, 0.0, 100.0))
    assert told == pytest.approx(0.0, abs=4 * error + 1e-3)


def test_what_does_not_vary_has_no_prior_in_it() -> None:
    assert prior_share(np.zeros(SIZE), independent(SIZE)) == (0.0, 0.0)


def test_each_prior_has_the_scale_on_which_it_is_closest_to_normal() -> None:
    draws = independent((4, 50))
    for prior, values, wanted in (
        (Prior("normal", (0.0, 1.0)), draws, draws),
        (Prior("lognormal", (1.0, 1.0)), np.exp(draws), draws),
        (Prior("logitnormal", (0.5, 1.0)), expit(draws), draws),
        (Prior("beta", (8.0, 2.0)), expit(draws), logit(expit(draws))),
    ):
        np.testing.assert_allclose(natural_scale(prior, values), wanted, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("model", ["one_lake", "many_years"])
def test_each_season_has_the_priors_of_its_own_lake(model: str) -> None:
    lakes = tuple(LakeTruth(name, area, 2_000) for name, area in (("Alder", 25.0), ("Birch", 80.0)))
    world = World(lakes, rounds=2, years=2 if model == "many_years" else 1)
    campaign, _ = simulate(world, np.random.default_rng(6))
    spec, _ = fitting_spec(campaign, fishdown.read_model(model))
    data = model_data(campaign, spec)
    lake = data.lake_of_season
    rng = np.random.default_rng(2)
    few = xr.Dataset(
        {
            "abundance": (("sample", "season"), rng.lognormal(8.0, 0.5, (20, len(lake)))),
            "area_fished_ha": (("sample", "lake"), rng.lognormal(0.0, 0.5, (20, 2))),
            "schooling": (("sample", "lake"), rng.lognormal(-0.5, 0.5, (20, 2))),
            "net_spread": ("sample", rng.lognormal(-1.0, 0.5, 20)),
        }
    )

    def scipys(name: str, values: np.ndarray) -> np.ndarray:
        median, log_sd = spec.priors[name].numbers
        return stats.norm.logpdf(np.log(values), np.log(median), log_sd)

    found = log_priors_by_season(few, spec, data)
    assert set(found) == {"density", "area_fished_ha", "schooling", "net_spread"}
    # With linked years the density of a lake's first season alone has a prior of its own.
    first = np.array([np.flatnonzero(lake == one)[0] for one in lake])
    density = few["abundance"].values / data.area[lake]
    np.testing.assert_allclose(found["density"], scipys("density", density)[:, first])
    np.testing.assert_allclose(
        found["area_fished_ha"], scipys("area_fished_ha", few["area_fished_ha"].values)[:, lake]
    )
    np.testing.assert_allclose(
        found["schooling"], scipys("schooling", few["schooling"].values)[:, lake]
    )
    np.testing.assert_allclose(
        found["net_spread"], scipys("net_spread", few["net_spread"].values)[:, None]
    )


def test_words_only_where_it_is_sure() -> None:
    def said(share: float, error: float) -> str:
        told = xr.Dataset({"prior_share": ("season", [share]), "mc_error": ("season", [error])})
        return mostly_prior(told, 0)

    assert said(0.9, 0.06) == said(0.75, 0.0) == ""
    assert "(95 ± 3 %)" in said(0.95, 0.03)
