"""Fish that came or went other than by the nets: in campaign, likelihood and winter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from field_records import daily_pulls
from graph_points import values_of_graph
from scipy import stats

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.catch import chance_log_density
from fishdown.models.parts.counting.counts import counting_terms
from fishdown.models.parts.counting.season import CountingModel
from fishdown.models.parts.counting.terms import counting_log_density
from fishdown.models.parts.marks.release_groups import groups_of_season
from fishdown.models.parts.years.transition import Transition, after_movements
from fishdown.posterior.pointwise import pull_log_densities
from fishdown.posterior.quantities import fish_after_movements, fish_left


def moved(day: str, movement: str, fish: int | str = "", lake: str = "Alder", **more: object):
    return {"date": day, "lake": lake, "movement": movement, "fish": fish, "share": "",
            "marked": "", "standard_error": "", **more}  # fmt: skip


@pytest.fixture(scope="module")
def campaign(shared_folder_of) -> fishdown.Campaign:
    """Alder, netted in 2021 and 2023; fish come and go in both, and in the years between."""
    return fishdown.read(
        shared_folder_of(
            lakes=[{"lake": "Alder", "area_ha": 20}],
            pulls=[
                *daily_pulls("Alder", [40, 31, 25], recaptured=[4, 2, 3], start="2021-06-01"),
                *daily_pulls("Alder", [30, 12], recaptured=[2, 1], start="2023-06-01"),
            ],
            marked=[{"date": "2021-05-01", "lake": "Alder", "batch": "A", "mark": "fin_clip",
                     "released": 40}],
            movements=[
                moved("2021-06-01", "angled", 10, marked=3),
                moved("2021-06-02", "stocked", 25, standard_error=4),
                moved("2021-06-03", "found_dead", 6, marked=1, standard_error=3),
                moved("2021-12-24", "winterkill", share=0.2, standard_error=0.05),
                moved("2022-03-01", "stocked", 80, standard_error=12),
                moved("2022-08-01", "seined", 30, marked=5),
                moved("2024-01-01", "stocked", 100, standard_error=20),
            ],
        )
    )  # fmt: skip


def test_they_are_among_the_fish_gone_from_the_day_after(campaign) -> None:
    pulls, seasons = campaign.pulls, campaign.seasons
    assert seasons["label"].values.tolist() == ["2021", "2022", "2023"]
    assert pulls["gone_before"].values.tolist() == [0, 40 + 10, 71 + 10 - 25, 0, 30]
    # What happened on the last day counts at the season's end.
    assert seasons["gone"].values.tolist() == [96 + 10 - 25 + 6, 0, 42]
    assert pulls["marks_at_large"].values.tolist() == [40, 33, 31, 22, 20]
    assert seasons["marks_left"].values.tolist() == [40 - 9 - 4, 27, 27 - 5 - 3]
    assert seasons["carried_most"].values.tolist() == [0, 27, 22]


def test_between_the_seasons_they_belong_to_the_one_before(campaign) -> None:
    seasons = campaign.seasons
    assert seasons["moved_error"].values.tolist() == [5, 0, 0]
    assert seasons["moved_after"].values.tolist() == [0, -80 + 30, -100]
    assert seasons["moved_after_error"].values.tolist() == [0, 12, 20]
    assert seasons["marks_moved_after"].values.tolist() == [0, 5, 0]
    np.testing.assert_allclose(seasons["winterkill"], [0.2, 0, 0])
    np.testing.assert_allclose(seasons["winterkill_error"], [0.05, 0, 0])


@pytest.mark.parametrize("N", [300, 512, 4_000])
def test_catches_come_from_the_fish_that_are_there(campaign, N) -> None:
    hazard = np.array([0.08, 0.06, 0.05])
    terms = counting_terms(campaign, 0, CountingModel("depletion"))
    caught, there = np.array([40.0, 31.0, 25.0]), N - np.array([0.0, 50.0, 56.0])
    fish = terms.coefficients @ np.array([N, 1.0, 0.0])
    ours = counting_log_density(fish, terms.offsets, terms.weights).sum() + terms.constant
    ours += chance_log_density(caught, there, hazard).sum()
    expected = stats.binom.logpmf(caught, there, -np.expm1(-hazard)).sum()
    assert ours == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("N", [300, 512, 4_000])
def test_recaptures_come_from_the_marks_that_are_there(campaign, N) -> None:
    terms = counting_terms(campaign, 0, CountingModel("marks"))
    fish = terms.coefficients @ np.array([N - 40.0, 1.0, 0.0])
    ours = counting_log_density(fish, terms.offsets, terms.weights).sum() + terms.constant
    there = N - np.array([0, 50, 56])
    expected = stats.hypergeom.logpmf([4, 2, 3], there, [40, 33, 31], [40, 31, 25]).sum()
    assert ours == pytest.approx(expected, rel=1e-9)


def test_pulls_add_up_to_the_graph(campaign) -> None:
    spec, _ = fitting_spec(campaign, fishdown.read_model("many_years"))
    posterior, potentials = values_of_graph(campaign, spec)
    found = pull_log_densities(posterior, campaign, spec)
    total = (found["catch"] + found["recaptures"]).sum("pull").values[0]
    expected = sum(potentials[one] for one in ("counting", "catches", "recaptures"))
    assert total == pytest.approx(expected, rel=1e-10)


def test_the_next_season_starts_from_what_is_there_then(campaign) -> None:
    """By simulation: an uncertain number moved, an uncertain share killed, binomial survivors."""
    spec, _ = fitting_spec(campaign, fishdown.read_model("many_years"))
    winters = model_data(campaign, spec).linked
    rng, draws = np.random.default_rng(4), 400_000
    killed = rng.normal(0.2, 0.05, draws)
    left = (700.0 - 87.0 - rng.normal(0.0, 5.0, draws)) * (1.0 - killed)
    start = rng.binomial(np.rint(left).astype(int), 0.9)
    there, variance = after_movements(700.0, winters, 0)
    winter = Transition(there, 0.9, 1e-9, 1.0, left_variance=variance)
    assert winter.expected == pytest.approx(start.mean(), rel=1e-3)
    assert np.sqrt(np.expm1(winter.spread**2)) == pytest.approx(
        start.std() / start.mean(), rel=0.01
    )


def test_marks_moved_between_seasons_are_not_carried(campaign) -> None:
    spec, _ = fitting_spec(campaign, fishdown.read_model("many_years"))
    winters = model_data(campaign, spec).linked
    assert winters.marks_gained.tolist() == [27, -5, -3]


def test_an_estimate_widens_what_is_left_and_nothing_else(campaign) -> None:
    before = xr.DataArray(np.full((4, 2_000, 3), 500.0), dims=("chain", "draw", "season"))
    left = fish_left(before, xr.Dataset(), campaign)
    assert float(left[..., 0].mean()) == pytest.approx(500 - 87, abs=0.3)
    assert float(left[..., 0].std()) == pytest.approx(5.0, rel=0.03)
    assert float(left[..., 1].std()) == 0.0
    exact = campaign.seasons.assign(moved_error=0.0 * campaign.seasons["moved_error"])
    known = fish_left(before, xr.Dataset(), replace(campaign, seasons=exact))
    assert float(known[..., 0].std()) == 0.0


def test_years_ahead_begin_with_what_came_after_the_last_season(campaign) -> None:
    left = np.full((4, 2_000), 300.0)
    there = fish_after_movements(left, campaign, 2)
    assert there.mean() == pytest.approx(400.0, abs=1.0)
    assert there.std() == pytest.approx(20.0, rel=0.03)
    killed = fish_after_movements(left, campaign, 0)
    assert killed.mean() == pytest.approx(240.0, abs=1.0)
    assert killed.std() == pytest.approx(15.0, rel=0.03)


def test_marked_fish_that_leave_before_a_season_are_not_at_large_in_it(folder_of) -> None:
    """Found dead before the first season, and before the second when its marking had begun."""
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": "Alder", "area_ha": 20}],
            pulls=[
                *daily_pulls("Alder", [40, 31], recaptured=[4, 2], start="2021-06-01"),
                *daily_pulls("Alder", [30, 12], recaptured=[2, 1], start="2022-06-01"),
            ],
            marked=[
                {"date": day, "lake": "Alder", "batch": day, "mark": "fin_clip", "released": 40}
                for day in ("2021-05-01", "2022-05-01")
            ],
            movements=[
                moved("2021-05-20", "found_dead", 3, marked=3),
                moved("2022-05-20", "found_dead", 5, marked=5),
            ],
        )
    )
    seasons = campaign.seasons
    assert campaign.pulls["marks_at_large"].values.tolist() == [37, 33, 31 + 40 - 5, 64]
    assert seasons["carried_most"].values.tolist() == [0, 31]
    assert seasons["marks_left"].values.tolist() == [31, 31 + 40 - 5 - 3]
    # The fish before a season's first pull are those that are still there.
    assert seasons["gone"].values.tolist() == [71, 42]
    assert seasons["moved_after"].values.tolist() == [5, 0]
    groups = groups_of_season(campaign, 0, apart=False)
    assert (groups.at_start.tolist(), groups.released.tolist()) == ([37], [37])
    assert counting_terms(campaign, 0, CountingModel()).bound == 71 - 6
