"""A fit against its own records: lots with known distributions, and one small fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from graph_points import values_of_graph
from known_lakes import lakes_of
from scipy import stats

import fishdown
from fishdown import Fit
from fishdown.checks.catches import catch_by_pull
from fishdown.checks.codes import Found
from fishdown.checks.drop import drop_of_catches, second_share
from fishdown.checks.recaptures import total_recaptures
from fishdown.checks.replay import season_anew
from fishdown.checks.result import check_frame
from fishdown.checks.spread import places_among, spread_of_catches
from fishdown.models.data import fitting_spec
from fishdown.posterior.at_draws import drawn_lakes, thinned
from fishdown.posterior.replicates import (
    catches_given_past,
    recaptures_given_catches,
    replicated_recaptures,
    shares,
)
from fishdown.worlds import LakeTruth, World, simulate

DRAWS = 20_000
PONDS = (LakeTruth("Alder", 20.0, 1_500), LakeTruth("Birch", 60.0, 3_000, area_fished_ha=2.0))


@pytest.fixture(scope="module")
def fit() -> Fit:
    world = World(
        PONDS,
        rounds=6,
        net_spread=0.4,
        mesh_effect=0.7,
        rest_loss=0.4,
        bait_start=0.5,
        threshold_temperature=14.0,
    )
    campaign, _ = simulate(world, np.random.default_rng(5))
    settings = fishdown.SamplerSettings(draws=150, tune=200, chains=2, seed=3)
    model = fishdown.read_model("detailed_nets").with_parts(drift="none")
    return fishdown.fit(campaign, model, settings=settings, compare_evidence=False)


def test_hazard_by_draw_is_the_formula(fit: Fit) -> None:
    # Every part at once, written out from models/README.md.
    posterior = fit.tree["posterior"].to_dataset()
    found = drawn_lakes(posterior, fit.campaign, fit.spec, most=10)
    few = thinned(posterior, 10)
    data = found.data
    lake = data.lake_of_season[data.catches.season]
    value = {str(name): array.values for name, array in few.data_vars.items()}

    def feeding(temperature: float | np.ndarray) -> np.ndarray:
        m, w = value["threshold_temperature"][:, lake], value["threshold_width"][:, None]
        return 1.0 / (1.0 + np.exp(-(temperature - m) / w))

    hazard = value["area_fished_ha"][:, lake] / data.area[lake]
    hazard = hazard * feeding(data.effects["temperature"].value) / feeding(20.0)
    hazard = hazard * np.exp(value["net_spread"][:, None] * value["net_step"][:, data.pulls.net])
    day = data.pulls.date.astype("datetime64[D]").astype(int)
    night = np.unique(np.stack([lake, day]), axis=1, return_inverse=True)[1].ravel()
    hazard = hazard * np.exp(value["night_spread"][:, None] * value["night_step"][:, night])
    hazard = hazard * value["mesh_effect"][:, None] ** data.effects["mesh"].doublings
    rest = np.exp(-data.effects["rest"].days / value["rest_recovery"][:, None])
    hazard = hazard * (1.0 - value["rest_loss"][:, None] * rest)
    later = np.where(data.effects["first_pulls"].later > 0, value["later_pulls"][:, None], 1.0)
    hazard = hazard * later
    bait = np.exp(-data.effects["bait"].days / value["bait_build_up"][:, None])
    hazard = hazard * (1.0 - (1.0 - value["bait_start"][:, None]) * bait)
    np.testing.assert_allclose(found.hazard, hazard, rtol=1e-9)
    np.testing.assert_allclose(found.vulnerable_fish, value["abundance"])


def test_shares_have_the_stated_mean_and_spread() -> None:
    rng = np.random.default_rng(1)
    hazard, schooling = 0.02, 0.7
    drawn = shares(np.full(200_000, hazard), np.full(200_000, schooling), rng)
    q = -np.expm1(-hazard)
    variation = schooling * np.sqrt((1 - q) / (1 - q + q * schooling**2))
    assert drawn.mean() == pytest.approx(q, rel=0.01)
    assert drawn.std() / drawn.mean() == pytest.approx(variation, rel=0.01)


def test_lots_have_the_stated_distributions(fit: Fit) -> None:
    campaign = fit.campaign
    q, fish = 0.1, 5_000.0
    lakes = lakes_of(campaign, fish, -np.log1p(-q), DRAWS)
    rng = np.random.default_rng(2)
    pulls = campaign.season_pulls(0)
    gone = pulls["gone_before"].values
    mine = lakes.data.catches.season == 0
    given_past = catches_given_past(lakes, rng)[:, mine]
    np.testing.assert_allclose(given_past.mean(axis=0), q * (fish - gone), rtol=0.01)
    # From the first pull on, each fish is still there with (1 − q) to the number of pulls before.
    anew = season_anew(campaign, 0, lakes, rng)
    expected = fish * q * (1.0 - q) ** np.arange(anew.shape[1])
    np.testing.assert_allclose(anew.mean(axis=0), expected, rtol=0.02)
    drawn = recaptures_given_catches(0, lakes, rng)
    C, M = pulls["caught"].values, pulls["marks_at_large"].values
    law = stats.hypergeom((fish - gone)[C > 0], M[C > 0], C[C > 0])
    np.testing.assert_allclose(drawn.mean(axis=0), law.mean(), atol=5.0 * law.std().max() / 140)


def test_release_groups_and_those_of_earlier_years_come_up(fit: Fit) -> None:
    lakes = lakes_of(fit.campaign, 5_000.0, 0.01, DRAWS)
    lakes = replace(lakes, share=0.5 * lakes.share, carried=lakes.carried + 40.0)
    drawn = recaptures_given_catches(0, lakes, np.random.default_rng(2))
    looks = lakes.data.counts.examined
    mine = looks.season == 0
    # Marks taken out are taken as seen, so that of both kinds they are the fewer that are left.
    # One release group: an entry a catch.
    marked = np.maximum(0.5 * looks.released[mine] + 40.0 - looks.removed[mine], 0.0)
    expected = looks.looked_at[mine] * marked.round() / (5_000.0 - looks.gone_before[mine])
    error = np.sqrt(expected / DRAWS)
    assert (np.abs(drawn.mean(axis=0) - expected) < 5.0 * error + 0.01).all()


def test_a_year_without_netting_is_passed_over() -> None:
    world = World(PONDS, rounds=2, years=3, idle_years=(1,))
    campaign, _ = simulate(world, np.random.default_rng(7))
    spec, _ = fitting_spec(campaign, fishdown.read_model("many_years"))
    posterior, _ = values_of_graph(campaign, spec)
    lakes = drawn_lakes(posterior, campaign, spec, most=3)
    rng = np.random.default_rng(8)
    assert lakes.carried.shape == (3, 6)
    by_pull = catch_by_pull(campaign, lakes, catches_given_past(lakes, rng))
    assert set(by_pull.table["season"]) == {"2025", "2027"}
    for result in (
        drop_of_catches(campaign, lakes, rng),
        total_recaptures(campaign, lakes, replicated_recaptures(lakes, rng)),
    ):
        assert result is not None
        assert set(result.table["season"]) == {"2025", "2027"}


def test_a_lake_too_full_for_an_urn(fit: Fit) -> None:
    lakes = lakes_of(fit.campaign, 4e12, 1e-9, DRAWS)
    drawn = recaptures_given_catches(0, lakes, np.random.default_rng(1))
    assert drawn.sum() == 0


def test_places_are_even_under_the_truth_and_only_then() -> None:
    rng = np.random.default_rng(3)
    truth = stats.betabinom(300, 2.0, 60.0)
    observed = truth.rvs(500, random_state=rng).astype(float)
    drawn = truth.rvs((300, 500), random_state=rng)
    assert stats.kstest(places_among(observed, drawn, rng), "uniform").pvalue > 0.01
    by_chance = stats.binom(300, 2.0 / 62.0).rvs((300, 500), random_state=rng)
    assert stats.kstest(places_among(observed, by_chance, rng), "uniform").pvalue < 1e-6


def test_a_sound_fit_passes(fit: Fit) -> None:
    results = fit.checks()
    assert [result.outcome for result in results] == [*["passed"] * 10, "for information"]
    assert fit.checks() is results
    frame = check_frame(results)
    assert frame["check"].is_unique
    by_pull = results[0].table
    assert len(by_pull) == fit.campaign.pulls.sizes["pull"]
    assert (by_pull["low_fish"] <= by_pull["high_fish"]).all()


def test_records_that_do_not_fit_are_noticed(fit: Fit) -> None:
    posterior = fit.tree["posterior"].to_dataset()
    lakes = drawn_lakes(posterior, fit.campaign, fit.spec, most=400)
    rng = np.random.default_rng(4)
    wrong = replace(lakes, hazard=3.0 * lakes.hazard)
    result = spread_of_catches(wrong, catches_given_past(wrong, rng), rng)
    assert result.outcome == "not passed"
    assert result.said.code is Found.CATCHES_SMALLER
    even = replace(lakes, schooling=np.full(lakes.hazard.shape, 0.05))
    result = spread_of_catches(even, catches_given_past(even, rng), rng)
    assert result.outcome == "not passed"
    assert result.said.code is Found.CATCHES_VARY_MORE
    counts = lakes.data.counts
    fewer = replace(counts.examined, recaptured=(0.3 * counts.examined.recaptured).round())
    data = replace(lakes.data, counts=replace(counts, examined=fewer))
    told = replace(lakes, data=data)
    marks = total_recaptures(fit.campaign, told, replicated_recaptures(told, rng))
    assert marks is not None
    assert marks.outcome == "not passed"
    # Catches that fall twenty-fold, in even proportions, in a lake so full that depletion cannot
    # explain it; its schooling is given, since these pulls tell little of it.
    falling = np.geomspace(400.0, 20.0, int((lakes.data.catches.season == 0).sum())).round()
    caught = np.concatenate([falling, lakes.data.catches.caught[lakes.data.catches.season == 1]])
    full = replace(
        lakes,
        data=replace(lakes.data, catches=replace(lakes.data.catches, caught=caught)),
        vulnerable_fish=1000.0 * lakes.vulnerable_fish,
        hazard=np.full_like(lakes.hazard, 0.01),
        schooling=np.full(lakes.hazard.shape, 0.7),
    )
    drop = drop_of_catches(fit.campaign, full, rng)
    assert drop is not None
    assert drop.outcome == "not passed"
    assert drop.said.code is Found.MOST_EXTREME_SEASON
    assert drop.said.values["season"] == "Alder 2025"


def test_share_of_the_second_half() -> None:
    assert second_share(np.array([30.0, 10.0])) == pytest.approx(25.0)
    assert second_share(np.array([[0.0, 0.0, 0.0], [4.0, 2.0, 2.0]])).tolist() == [
        50.0,
        pytest.approx(100 / 3),
    ]


def test_marks_alone_have_no_catches_to_check(fit: Fit) -> None:
    spec = fishdown.read_model("marks_only").with_parts(weights="none")
    tree = xr.DataTree.from_dict(
        {
            "posterior": fit.tree["posterior"].to_dataset()[["abundance", "log_room"]],
            "quantities": fit.quantities[["abundance_after"]],
        }
    )
    only = Fit(fit.campaign, spec, tree, {"seed": 1})
    assert [result.name for result in only.checks()] == [
        "total recaptures",
        "recaptures by date",
        "recaptures by net",
        "data or prior",
    ]
    short = replace(only, spec=fit.spec)
    with pytest.raises(fishdown.FitError, match=r"no draws of .*fit again"):
        short.checks()
