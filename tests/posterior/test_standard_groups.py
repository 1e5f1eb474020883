"""Predictions and prior draws against SciPy, and the labels of all groups; nothing is sampled."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
import pytest
import xarray as xr
from graph_points import values_of_graph
from scipy import special, stats

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.posterior.prior_draws import prior_draws, prior_quantities
from fishdown.posterior.standard_groups import standard_groups
from fishdown.worlds import LakeTruth, World, simulate

LAKES = (LakeTruth("Alder", 20.0, 1_500), LakeTruth("Birch", 60.0, 3_000))
COPIES = 20_000


def two_years(**more: Any) -> fishdown.Campaign:
    world = World(LAKES, years=2, rounds=3, batches=("both", "fin_clip"), **more)
    return simulate(world, np.random.default_rng(1))[0]


@pytest.fixture(scope="module")
def campaign() -> fishdown.Campaign:
    return two_years()


@pytest.fixture(autouse=True)
def few_priors(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw few priors beside the groups: those that are looked at are drawn by themselves."""
    few = partial(prior_draws, draws=20)
    monkeypatch.setattr("fishdown.posterior.standard_groups.prior_draws", few)


def fitted_to(
    campaign: fishdown.Campaign, name: str, **parts: str
) -> tuple[fishdown.ModelSpec, xr.Dataset]:
    spec, _ = fitting_spec(campaign, fishdown.read_model(name).with_parts(**parts))
    return spec, values_of_graph(campaign, spec)[0]


@pytest.mark.parametrize(
    "name", ["few_passes", "marks_only", "many_years", "careful_marks", "shy_marks"]
)
def test_every_group_has_labels_and_units(campaign: fishdown.Campaign, name: str) -> None:
    spec, posterior = fitted_to(campaign, name)
    groups = standard_groups(posterior, campaign, spec, seed=1)
    for group in groups.values():
        for array in group.data_vars.values():
            assert {"units", "long_name"} <= set(array.attrs)
    data, observed = model_data(campaign, spec), groups["observed_data"]
    drawn = groups["posterior_predictive"]
    assert set(drawn.data_vars) == set(observed.data_vars)
    assert ("caught" in observed) == (spec.part("evidence") != "marks")
    if "caught" in observed:
        np.testing.assert_array_equal(observed["caught"], data.catches.caught)
        assert observed["pull"].values[0] == "Alder 2025, pull 1"
    for one, array in drawn.data_vars.items():
        assert array.dims[2:] == observed[one].dims
        assert (array >= 0).all()
    constant = groups["constant_data"]
    assert {str(one) for one in constant.data_vars} == set(data.arrays())
    assert constant["area"].coords["lake"].values.tolist() == ["Alder", "Birch"]
    assert constant["area"].attrs["units"] == "ha"
    assert np.isfinite(groups["log_likelihood"]["catch_and_recaptures"]).all()
    assert set(groups["log_prior"].data_vars) <= set(spec.priors)
    # Every parameter of the posterior has a prior of the same shape.
    known = {name for name in spec.priors if name in posterior}
    for parameter in known | {"abundance"}:
        assert groups["prior"][parameter].shape[2:] == posterior[parameter].shape[2:]


def assert_drawn_from(found: np.ndarray, law: Any) -> None:
    """Compare whole numbers with a distribution of SciPy by chi-square, rare ones together."""
    numbers = np.arange(found.max() + 1)
    expected = len(found) * law.pmf(numbers)
    counts = np.bincount(found, minlength=len(numbers))
    common = expected > 5.0
    observed = np.append(counts[common], counts[~common].sum())
    rest = len(found) - expected[common].sum()
    assert stats.chisquare(observed, np.append(expected[common], rest)).pvalue > 0.001


@pytest.mark.parametrize(
    ("catch", "marks"),
    [("schooling", "all_count"), ("chance", "all_count"), ("chance", "effective")],
)
def test_predictions_have_the_stated_distribution(
    campaign: fishdown.Campaign, catch: str, marks: str
) -> None:
    plain = {"temperature": "none", "nets": "alike", "nights": "alike", "drift": "none",
             "first_pulls": "alike", "catch": catch}  # fmt: skip
    plain |= {"marks": marks, "recaptures": "random"}
    spec, posterior = fitted_to(campaign, "one_lake", **plain)
    posterior = posterior.isel(draw=[0] * COPIES)
    posterior["abundance"] = posterior["abundance"].round()
    drawn = standard_groups(posterior, campaign, spec, seed=2)["posterior_predictive"].isel(chain=0)
    one = posterior.isel(chain=0, draw=0)
    pulls = campaign.pulls
    pull = 2
    N = float(one["abundance"][0]) - float(pulls["gone_before"][pull])
    q = 1.0 - np.exp(-float(one["area_fished_ha"][0]) / 20.0)
    law = stats.binom(N, q)
    if catch == "schooling":
        s = float(one["schooling"][0])
        law = stats.betabinom(N, (1.0 - q) / s**2, (1.0 - q) ** 2 / (q * s**2))
    assert_drawn_from(drawn["caught"].values[:, pull], law)
    # Every catch of these first ones was examined.
    M, C = float(pulls["marks_at_large"][pull]), float(pulls["caught"][pull])
    assert drawn["examined"].values[pull] == drawn["pull"].values[pull]
    ratio = float(one["effective_marks"][0]) if marks == "effective" else 1.0
    law = stats.nchypergeom_fisher(int(N), int(M), int(C), ratio)
    assert_drawn_from(drawn["recaptured"].values[:, pull], law)


def test_predictions_follow_from_the_seed(campaign: fishdown.Campaign) -> None:
    spec, posterior = fitted_to(campaign, "one_lake")
    first, again, other = (
        standard_groups(posterior, campaign, spec, seed=seed) for seed in (1, 1, 2)
    )
    for name in ("posterior_predictive", "prior", "prior_quantities"):
        assert first[name].identical(again[name])
        assert not first[name].equals(other[name])


def of_priors(
    campaign: fishdown.Campaign, name: str, **parts: str
) -> tuple[fishdown.ModelSpec, xr.Dataset]:
    spec, _ = fitting_spec(campaign, fishdown.read_model(name).with_parts(**parts))
    return spec, prior_draws(campaign, spec, draws=1_000, seed=3).isel(chain=0)


def assert_standard_normal(found: xr.DataArray | np.ndarray) -> None:
    assert stats.kstest(np.ravel(found), "norm").pvalue > 0.001


def test_priors_are_those_of_the_model_file(campaign: fishdown.Campaign) -> None:
    spec, prior = of_priors(campaign, "one_lake")
    area = {"lake": [20.0, 60.0], "season": [20.0, 20.0, 60.0, 60.0]}
    for name, values in (
        ("density", prior["abundance"] / area["season"]),
        ("area_fished_ha", prior["area_fished_ha"]),
        ("schooling", prior["schooling"]),
    ):
        median, log_sd = spec.priors[name].numbers
        assert_standard_normal(np.log(values / median) / log_sd)
    spec, prior = of_priors(campaign, "few_passes")
    a, b = spec.priors["catchability"].numbers
    assert stats.kstest(prior["catchability"].values[:, 0], stats.beta(a, b).cdf).pvalue > 0.001


def test_pooled_lakes_lie_about_a_typical_one(campaign: fishdown.Campaign) -> None:
    _, prior = of_priors(campaign, "pooled_lakes")
    tilt = xr.DataArray(np.log([20.0, 60.0]) - np.log([20.0, 60.0]).mean(), dims="lake")
    centre = np.log(prior["area_fished_ha_typical"]) + (1.0 - prior["area_exponent"]) * tilt
    assert_standard_normal((np.log(prior["area_fished_ha"]) - centre) / prior["lake_spread"])


def test_a_year_follows_from_the_one_before() -> None:
    campaign = two_years()
    spec, prior = of_priors(campaign, "many_years")
    gone = campaign.seasons["gone"].values
    first, second = prior["abundance"].values[:, 0], prior["abundance"].values[:, 1]
    # The luck of the winter is not kept: the distribution is a mixture over it.
    phi, b = (prior[name].values[:, 0] for name in ("survival", "replacement"))
    c = prior["recruit_variation"].values
    young = b * (1.0 - phi) * first
    step = np.random.default_rng(4).normal(size=(2_000, len(first)))
    lives = special.expit(special.logit(phi) + prior["winter_spread"].values * step)
    left = np.maximum(first - gone[0], 0.0)
    mean = lives * left + young
    variance = lives * (1.0 - lives) * left + young + (c * young) ** 2
    spread = np.sqrt(np.log1p(variance / mean**2) + prior["process_error"].values ** 2)
    place = stats.norm.cdf((np.log(second / mean) + 0.5 * spread**2) / spread).mean(axis=0)
    assert stats.kstest(place, "uniform").pvalue > 0.001
    median, log_sd = spec.priors["density"].numbers
    assert_standard_normal(np.log(first / 20.0 / median) / log_sd)


def test_prior_quantities_are_those_before_netting(campaign: fishdown.Campaign) -> None:
    spec, _ = fitting_spec(campaign, fishdown.read_model("pooled_lakes"))
    prior = prior_draws(campaign, spec, draws=200, seed=3)
    found = prior_quantities(prior, campaign, spec)
    assert not {"abundance_after", "removed_share", "biomass_after"} & set(found.data_vars)
    np.testing.assert_allclose(found["abundance_before"], prior["abundance"], atol=0.5)
