"""Mean weights by date and by catch, at draws whose distribution is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from known_lakes import assert_calibrated

import fishdown
from fishdown.checks.codes import Found
from fishdown.checks.result import CheckResult
from fishdown.checks.weights import weights_by_catch, weights_by_date
from fishdown.posterior.weight_replicates import Weighed, weighed_again
from fishdown.worlds import LakeTruth, World, simulate

DRAWS = 400
FISH, MEAN, VARIATION, ALIKE = 5_000, 2.5, 0.4, 0.1
PONDS = (LakeTruth("Alder", 20.0, FISH, mean_weight=MEAN),)


def known(draws: int = DRAWS, **changed: float) -> xr.Dataset:
    """Make draws of a posterior that knows everything for certain."""
    values = {
        "weight_variation": VARIATION,
        "weight_pull_spread": ALIKE,
        "weight_trend": 0.0,
        "net_selectivity": 1.0,
        "electrofishing_selectivity": 1.0,
        "length_scatter": 0.1,
        **changed,
    }
    of_season = {"mean_weight": MEAN, "abundance": float(FISH)}
    return xr.Dataset(
        {name: ("sample", np.full(draws, value)) for name, value in values.items()}
        | {n: (("sample", "season"), np.full((draws, 1), v)) for n, v in of_season.items()}
    )


def model(**parts: str) -> fishdown.ModelSpec:
    return fishdown.read_model("one_lake").with_parts(**({"lengths": "none"} | parts))


@pytest.fixture(scope="module")
def campaign() -> fishdown.Campaign:
    world = World(PONDS, rounds=10, days_between=7.0, weighed=150)
    return simulate(world, np.random.default_rng(1))[0]


def weighed_as(weighed: Weighed, log_mean: np.ndarray) -> Weighed:
    return replace(weighed, log_mean=log_mean)


def test_replicates_have_the_stated_mean_and_spread(campaign: fishdown.Campaign) -> None:
    rng = np.random.default_rng(2)
    found = weighed_again(known(40_000), campaign, model(), rng)
    fish = campaign.fish["weight"].values
    assert found.days.max() == 59.0
    sizes = len(fish) / len(found.season)
    assert np.average(np.exp(found.log_mean)) == pytest.approx(fish.mean(), rel=0.1)
    np.testing.assert_allclose(np.exp(found.drawn).mean(axis=0), MEAN, rtol=0.01)
    # Of independent factors of mean 1: the mean of as many gamma weights, and what fish share.
    variation = np.exp(found.drawn).std(axis=0) / MEAN
    expected = np.sqrt((1.0 + VARIATION**2 / sizes) * (1.0 + ALIKE**2) - 1.0)
    assert variation.mean() == pytest.approx(expected, rel=0.05)


def test_expectations_are_those_of_the_model(campaign: fishdown.Campaign) -> None:
    rng = np.random.default_rng(3)
    told = known(3, weight_trend=0.06, net_selectivity=1.2, electrofishing_selectivity=0.9)
    found = weighed_again(told, campaign, model(), rng)
    pulls = campaign.season_pulls(0)
    dates = pulls["date"].values.astype("datetime64[D]")
    days = (dates - dates[0]).astype(float)
    for which in np.flatnonzero(found.days >= 0.0):
        # The net that was weighed from is one of that day.
        gone = pulls["gone_before"].values[days == found.days[which]]
        left = np.log1p(-gone / FISH)
        expected = np.log(1.2 * MEAN) + 0.06 * found.days[which] / 30.0 + 0.2 * left
        assert np.abs(expected - found.expected[0, which]).min() < 1e-9
    alike = weighed_again(told, campaign, model(weighed="at_random"), rng)
    np.testing.assert_allclose(alike.expected, np.log(MEAN))
    assert alike.drawn.std() < found.drawn.std()


def test_scatter_about_length_and_lakes_of_their_own_variation() -> None:
    ponds = (*PONDS, replace(PONDS[0], name="Birch"))
    world = World(ponds, rounds=10, weighed=40)
    campaign, _ = simulate(world, np.random.default_rng(8))
    told = known(20_000).isel(season=[0, 0]).drop_vars("weight_variation")
    by_lake = np.tile([0.2, 0.6], (20_000, 1))
    told = told.assign(
        weight_variation=(("sample", "lake"), by_lake),
        length_scatter=0.0 * told["length_scatter"] + 0.3,
    )
    parts = {"lengths": "log_log", "weighed": "at_random"}
    found = weighed_again(told, campaign, model(**parts), np.random.default_rng(9))
    # Of a product of independent numbers of mean 1, one of them log-normal.
    single = np.sqrt((1.0 + np.array([0.2, 0.6]) ** 2) * np.exp(0.3**2) - 1.0)
    for season in (0, 1):
        mine = found.of_season(season)
        fish = 40 / len(mine.season)
        variation = np.exp(mine.drawn).std(axis=0) / MEAN
        assert variation.mean() == pytest.approx(single[season] / np.sqrt(fish), rel=0.05)


@pytest.mark.parametrize("check", [weights_by_date, weights_by_catch])
def test_false_alarms_are_as_rare_as_stated(
    check: Callable[[fishdown.Campaign, Weighed], CheckResult | None], campaign: fishdown.Campaign
) -> None:
    rng = np.random.default_rng(4)
    # All tries share the replicates, so that these must be many.
    drawn = weighed_again(known(4_000), campaign, model(), rng)
    tries = iter(weighed_again(known(200), campaign, model(), rng).drawn)
    assert_calibrated(lambda: check(campaign, weighed_as(drawn, next(tries))))


@pytest.mark.parametrize(
    ("change", "code"), [(0.25, Found.FISH_HEAVIER_LATER), (-0.25, Found.FISH_LIGHTER_LATER)]
)
def test_weights_that_change_are_noticed(
    change: float, code: Found, campaign: fishdown.Campaign
) -> None:
    rng = np.random.default_rng(5)
    drawn = weighed_again(known(), campaign, model(), rng)
    grown = np.log(MEAN) + change * drawn.days / 30.0
    result = weights_by_date(campaign, weighed_as(drawn, grown))
    assert result is not None
    assert result.outcome == "not passed"
    assert result.said.code is code
    # What is said is the change itself, in %.
    assert result.table["observed"].item() == pytest.approx(100.0 * np.expm1(change))
    # A model that expects it does not wonder.
    told = weighed_again(known(weight_trend=change), campaign, model(), rng)
    result = weights_by_date(campaign, weighed_as(told, grown))
    assert result is not None
    assert result.outcome == "passed"


def test_catches_that_differ_are_noticed(campaign: fishdown.Campaign) -> None:
    rng = np.random.default_rng(6)
    drawn = weighed_again(known(), campaign, model(), rng)
    turns = np.where(np.arange(len(drawn.days)) % 2, 0.35, -0.35)
    result = weights_by_catch(campaign, weighed_as(drawn, np.log(MEAN) + turns))
    assert result is not None
    assert result.outcome == "not passed"
    assert result.said.code is Found.WEIGHTS_DIFFER
    alike = weights_by_catch(campaign, weighed_as(drawn, 0.0 * turns))
    assert alike is not None
    assert alike.outcome == "passed"


def test_one_weighing_has_nothing_to_compare(campaign: fishdown.Campaign) -> None:
    drawn = weighed_again(known(), campaign, model(), np.random.default_rng(7))
    one = Weighed(drawn.season[:1], drawn.days[:1], drawn.log_mean[:1], drawn.expected[:, :1],
                  drawn.drawn[:, :1])  # fmt: skip
    assert weights_by_date(campaign, one) is None
    assert weights_by_catch(campaign, one) is None
