"""Catches high or low several pulls or nights in a row, in lakes known for certain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from graph_points import values_of_graph
from known_lakes import assert_calibrated, lakes_of, with_catches

import fishdown
from fishdown.checks.codes import Found
from fishdown.checks.runs import autocorrelation, normal_scores, runs_of_nights, runs_of_pulls
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.pull_table import by_night
from fishdown.posterior.at_draws import DrawnLakes
from fishdown.posterior.other_nights import hazard_on_other_nights
from fishdown.posterior.pull_hazard import pull_hazard
from fishdown.posterior.replicates import catches_given_past
from fishdown.worlds import LakeTruth, World, simulate

FISH, HAZARD = 5_000.0, 0.02
PONDS = (
    LakeTruth("Alder", 20.0, 5_000, area_fished_ha=20.0 * HAZARD),
    LakeTruth("Birch", 60.0, 5_000, area_fished_ha=60.0 * HAZARD),
)
CHECKS = (runs_of_pulls, runs_of_nights)


@pytest.fixture(scope="module")
def campaign() -> fishdown.Campaign:
    return simulate(World(PONDS, rounds=10, days_between=7.0), np.random.default_rng(1))[0]


@pytest.fixture(scope="module")
def lakes(campaign: fishdown.Campaign) -> DrawnLakes:
    return lakes_of(campaign, FISH, HAZARD)


def nights_of(lakes: DrawnLakes) -> np.ndarray:
    """Return the position of each pull's night in its season."""
    night = by_night(lakes.data.pulls)[1]
    season = lakes.data.catches.season
    first = np.array([night[season == one].min() for one in (0, 1)])
    found: np.ndarray = night - first[season]
    return found


@pytest.mark.parametrize("check", CHECKS)
def test_false_alarms_are_as_rare_as_stated(
    check: object, campaign: fishdown.Campaign, lakes: DrawnLakes
) -> None:
    rng = np.random.default_rng(3)
    assert callable(check)
    drawn = catches_given_past(lakes, rng)
    observed = catches_given_past(lakes_of(campaign, FISH, HAZARD, 200), rng)
    tries = iter(observed)
    assert_calibrated(lambda: check(campaign, with_catches(lakes, next(tries)), drawn, rng))


def test_waves_over_nights_are_noticed_by_both(
    campaign: fishdown.Campaign, lakes: DrawnLakes
) -> None:
    rng = np.random.default_rng(4)
    drawn = catches_given_past(lakes, rng)
    wave = 1.0 + 0.5 * np.sin(2.0 * np.pi * nights_of(lakes) / 10.0)
    waves = with_catches(lakes, (drawn.mean(axis=0) * wave).round())
    for check in CHECKS:
        result = check(campaign, waves, drawn, rng)
        assert result is not None
        assert result.outcome == "not passed"
        assert result.said.code is Found.CATCHES_IN_RUNS


@pytest.mark.parametrize("check", CHECKS)
def test_pulls_and_nights_that_alternate_are_no_runs(
    check: object, campaign: fishdown.Campaign, lakes: DrawnLakes
) -> None:
    rng = np.random.default_rng(5)
    assert callable(check)
    drawn = catches_given_past(lakes, rng)
    turn = np.arange(drawn.shape[1]) if check is runs_of_pulls else nights_of(lakes)
    caught = (drawn.mean(axis=0) * np.where(turn % 2, 1.5, 0.5)).round()
    result = check(campaign, with_catches(lakes, caught), drawn, rng)
    assert result is not None
    assert result.outcome == "passed"
    assert (result.table["observed"] < -0.5).all()
    assert " predicted −" in result.sentence
    assert "(upper tail more than 99 %" in result.sentence


def test_nights_drawn_anew_are_allowed_to_differ(
    campaign: fishdown.Campaign, lakes: DrawnLakes
) -> None:
    """What runs by night in one model is what another one expects."""
    rng = np.random.default_rng(6)
    night = by_night(lakes.data.pulls)[1]

    def nightly(count: int) -> np.ndarray:
        step = rng.normal(0.0, 0.8, (count, night.max() + 1))[:, night]
        differing = replace(lakes_of(campaign, FISH, HAZARD, count), hazard=HAZARD * np.exp(step))
        found: np.ndarray = catches_given_past(differing, rng)
        return found

    observed = with_catches(lakes, nightly(1)[0])
    alike = runs_of_pulls(campaign, observed, catches_given_past(lakes, rng), rng)
    differ = runs_of_pulls(campaign, observed, nightly(400), rng)
    assert alike is not None
    assert alike.outcome == "not passed"
    assert alike.said.code is Found.CATCHES_IN_RUNS
    assert differ is not None
    assert differ.outcome == "passed"


def test_one_pull_a_night_and_short_seasons_are_left_out() -> None:
    campaign, _ = simulate(World(PONDS, nets=1, rounds=5), np.random.default_rng(7))
    lakes = lakes_of(campaign, FISH, HAZARD)
    rng = np.random.default_rng(8)
    drawn = catches_given_past(lakes, rng)
    assert runs_of_nights(campaign, lakes, drawn, rng) is None
    assert runs_of_pulls(campaign, lakes, drawn, rng) is not None
    short, _ = simulate(World(PONDS, nets=2, rounds=3), np.random.default_rng(7))
    few = lakes_of(short, FISH, HAZARD)
    assert runs_of_nights(short, few, catches_given_past(few, rng), rng) is None


def test_autocorrelation_by_hand() -> None:
    assert autocorrelation(np.array([1.0, -1.0, 1.0, -1.0])) == pytest.approx(-0.75)
    rows = autocorrelation(np.array([[1.0, 2.0, 3.0], [5.0, 5.0, 5.0]]))
    np.testing.assert_allclose(rows, [0.0, 0.0])


def test_scores_are_standard_normal_with_and_without_ties() -> None:
    rng = np.random.default_rng(9)
    observed, anew = normal_scores(np.full(50, 2.0), np.full((2_000, 50), 2), rng)
    assert anew.std() == pytest.approx(1.0, abs=0.01)
    assert np.abs(observed).mean() < 1.5
    highest, _ = normal_scores(np.array([9.0]), np.arange(9)[:, None], rng)
    assert highest[0] == pytest.approx(1.6449, abs=1e-3)


def test_other_nights_differ_as_the_model_has_it(campaign: fishdown.Campaign) -> None:
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake").with_parts(weights="none"))
    values, _ = values_of_graph(campaign, spec, points=1)
    few = values.stack(sample=("chain", "draw"), create_index=False).isel(sample=[0] * 4_000)
    few = few.transpose("sample", ...)
    data = model_data(campaign, spec)
    rng = np.random.default_rng(10)
    night = by_night(data.pulls)[1]
    season = data.catches.season

    def log_ratio(night_spread: float, drift_size: float) -> np.ndarray:
        told = few.assign(
            night_spread=xr.full_like(few["night_spread"], night_spread),
            drift_size=xr.full_like(few["drift_size"], drift_size),
            drift_level=xr.zeros_like(few["drift_level"]),
        )
        still = told.assign(
            night_spread=xr.zeros_like(told["night_spread"]),
            drift_size=xr.zeros_like(told["drift_size"]),
        )
        fixed = pull_hazard(still, spec, data.area, data.catches.lake, data.effects)
        found: np.ndarray = np.log(hazard_on_other_nights(told, spec, data, rng) / fixed)
        return found

    np.testing.assert_allclose(log_ratio(1e-12, 1e-12), 0.0, atol=1e-9)
    nights = log_ratio(0.4, 1e-12)
    first = np.unique(night, return_index=True)[1]
    np.testing.assert_allclose(nights, nights[:, first][:, night], atol=1e-9)
    assert nights.std() == pytest.approx(0.4, rel=0.02)
    assert np.abs(np.corrcoef(nights[:, first].T) - np.eye(len(first))).max() < 0.08
    drifting = log_ratio(1e-12, 0.3)
    # Less its mean over the pulls of each season, so that it moves no season's level.
    for one in (0, 1):
        np.testing.assert_allclose(drifting[:, season == one].mean(axis=1), 0.0, atol=1e-9)
    assert 0.05 < drifting.std() < 0.3
    in_a_row = np.corrcoef(drifting[:, first[0]], drifting[:, first[1]])[0, 1]
    assert in_a_row > 0.5
