"""Open lakes: fish that die and immigrate, against a differential equation and SciPy."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import values_of_graph
from scipy import integrate, special, stats

import fishdown
from fishdown.checks.effective_marks_alone import prior_of_effective_marks
from fishdown.errors import ModelFileError
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.open_lake.present import (
    OpenLake,
    shortfall_log_density,
    ways_correction,
)
from fishdown.models.parts.open_lake.times import DAYS_OF_YEAR, Spell, of_ends, of_pulls
from fishdown.models.spec import model_folder, parse_model
from fishdown.posterior.pointwise import pull_log_densities
from fishdown.posterior.quantities import reported_quantities

CATCHES, SEEN = [40, 31, 25, 9, 12, 30], [4, 2, 3, 0, 1, 5]
DAYS = [0, 1, 20, 21, 60, 61]


@pytest.fixture(scope="module")
def campaign(shared_folder_of: Callable[..., Path]) -> fishdown.Campaign:
    pulls = daily_pulls("Alder", CATCHES, recaptured=SEEN)
    first = np.datetime64("2024-06-01")
    for pull, day in zip(pulls, DAYS, strict=True):
        pull["date"] = str(first + np.timedelta64(day, "D"))
    return fishdown.read(
        shared_folder_of(
            lakes=[
                {"lake": "Alder", "area_ha": 20, "connected": "yes"},
                {"lake": "Birch", "area_ha": 20, "connected": "no"},
            ],
            pulls=[*pulls, *daily_pulls("Birch", CATCHES, recaptured=SEEN)],
            marked=[
                {"date": date, "lake": lake, "batch": batch, "mark": "fin_clip", "released": n}
                for lake, date, batch, n in (
                    ("Alder", "2024-05-02", "early", 30),
                    ("Alder", "2024-05-22", "late", 60),
                    ("Birch", "2024-05-02", "all", 60),
                )
            ],
        )
    )


def spec_for(campaign: fishdown.Campaign, **parts: str) -> fishdown.ModelSpec:
    return fitting_spec(campaign, fishdown.read_model("one_lake").with_parts(**parts))[0]


def test_fish_present_follow_the_differential_equation() -> None:
    """dN/dt = a N₀ − m N between pulls, by SciPy; deaths of immigrants are left out."""
    m, a, start = 0.26, 0.2, 5_000.0
    days, taken = np.array([0, 10, 40, 41, 90]), np.array([300, 200, 150, 400, 100])
    years = days / DAYS_OF_YEAR
    fish, expected = start, [start]
    for (before, now), catch in zip(itertools.pairwise(years), taken, strict=False):
        fish -= catch
        solved = integrate.solve_ivp(
            lambda _, n: a * start - m * n, (before, now), [fish], rtol=1e-10, atol=1e-8
        )
        fish = float(solved.y[0, -1])
        expected.append(fish)
    gone = np.cumsum(taken) - taken
    went = np.where(gone > 0, np.cumsum(taken * years) - taken * years, 0) / np.maximum(gone, 1)
    spell = Spell(years, years, np.where(gone > 0, years - went, 0.0))
    found = OpenLake(m, a).present(start, gone, spell)
    too_many = (found - expected) / (0.5 * m * a * years**2 * start + 0.01)
    assert ((too_many > -0.1) & (too_many < 1.1)).all()
    assert found == pytest.approx(expected, rel=0.003)
    assert OpenLake().present(start, gone, spell) == pytest.approx(start - gone)
    assert OpenLake(m).present(start, gone, spell)[-1] < found[-1] < start - gone[-1]


@pytest.mark.parametrize("share", [0.95, 0.99, 1.0, 1.15])
def test_binomial_coefficients_of_fish_present(share: float) -> None:
    """Against SciPy's ln Γ, however large a part of the fish the catch is."""
    closed, caught = 2_000.0, np.array([0.0, 1.0, 40.0, 300.0, 1_900.0])

    def log_choose(fish: float) -> np.ndarray:
        left = special.gammaln(fish - caught + 1) + special.gammaln(caught + 1)
        return np.asarray(special.gammaln(fish + 1) - left)

    expected = log_choose(share * closed) - log_choose(closed)
    found = ways_correction(caught, share * closed, closed)
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-7)
    assert found[0] == 0.0


def test_times_come_from_the_dates(campaign: fishdown.Campaign) -> None:
    spec = spec_for(campaign, pooling="none")
    data = model_data(campaign, spec).times
    alder = slice(0, 6)
    assert data.pull_years[alder] * DAYS_OF_YEAR == pytest.approx(DAYS)
    assert data.pull_open_years[alder] * DAYS_OF_YEAR == pytest.approx(DAYS)
    assert not data.pull_open_years[6:].any()
    assert data.examined_open_years * DAYS_OF_YEAR == pytest.approx([*DAYS, *[0] * 6])
    gone = np.array(CATCHES)
    for pull in range(1, 6):
        went = np.average(DAYS[:pull], weights=gone[:pull])
        assert data.pull_gone_years[pull] * DAYS_OF_YEAR == pytest.approx(DAYS[pull] - went)
    end = of_ends(campaign)
    assert end.gone_years[0] * DAYS_OF_YEAR == pytest.approx(61 - np.average(DAYS, weights=gone))
    assert end.years * DAYS_OF_YEAR == pytest.approx([61, 5])
    # 30 marks wait for 30 days, 60 for 10.
    assert data.marked_years * DAYS_OF_YEAR == pytest.approx([(30 * 30 + 60 * 10) / 90, 30])


def test_marks_count_for_fewer_the_longer_they_wait(campaign: fishdown.Campaign) -> None:
    waiting, _ = values_of_graph(campaign, spec_for(campaign))
    at_once, _ = values_of_graph(campaign, spec_for(campaign, natural_deaths="none"))
    rate = waiting["natural_mortality"].values[0, :, None]
    expected = np.exp(-rate * np.array([500 / 30, 30]) / DAYS_OF_YEAR)
    factors = ("clip_retention", "post_release_survival")
    for posterior, share in ((waiting, expected), (at_once, 1.0)):
        product = np.prod([posterior[name].values[0] for name in factors], axis=0)
        product = product * posterior["capture_odds_ratio"].values[0] * share
        assert posterior["effective_marks"].values[0] == pytest.approx(product)


def test_the_prior_of_effective_marks_has_the_same_deaths() -> None:
    spec, kinds = fishdown.read_model("one_lake"), np.array([1.0, 0.0, 0.0])
    alive = prior_of_effective_marks(kinds, spec, 0.5) / prior_of_effective_marks(kinds, spec, 0.0)
    expected = np.exp(-0.5 * spec.priors["natural_mortality"].quantile(np.array([0.9, 0.5, 0.1])))
    assert np.quantile(alive, [0.1, 0.5, 0.9]) == pytest.approx(expected, rel=0.003)


def test_catches_and_recaptures_are_of_the_fish_present(campaign: fishdown.Campaign) -> None:
    """Binomial catches and hypergeometric recaptures by SciPy, in a lake that is open."""
    parts = {"catch": "chance", "nights": "alike", "nets": "alike", "first_pulls": "alike"}
    spec = spec_for(campaign, **parts, drift="none", temperature="none", weights="none")
    posterior, _ = values_of_graph(campaign, spec)
    posterior["clumping"] = posterior["clumping"] * 0 + 1e-6
    posterior["abundance"] = posterior["abundance"].round()
    found = pull_log_densities(posterior, campaign, spec)
    rate, arriving = (posterior[name].values[0] for name in ("natural_mortality", "immigration"))
    gone = np.cumsum(CATCHES) - CATCHES
    marks = 90 - (np.cumsum(SEEN) - SEEN)
    spell = of_pulls(campaign).at(slice(0, 6))
    for draw in range(3):
        fish = posterior["abundance"].values[0, draw, 0]
        present = OpenLake(rate[draw], arriving[draw]).present(fish, gone, spell)
        q = -np.expm1(-posterior["area_fished_ha"].values[0, draw, 0] / 20.0)
        # SciPy takes whole fish.
        low, high = np.floor(present), np.ceil(present)
        of_low, of_high = (stats.binom.logpmf(CATCHES, n, q) for n in (low, high))
        part = np.where(high > low, present - low, 0.0)
        expected = of_low + part * (of_high - of_low)
        assert found["catch"].values[0, draw, :6] == pytest.approx(expected, rel=1e-4)
        counted = fish * (1 + arriving[draw] * np.array(DAYS) / DAYS_OF_YEAR) - gone
        odds = posterior["capture_odds_ratio"].values[0, draw, 0]
        there = posterior["effective_marks"].values[0, draw, 0] / odds
        # Of the marks not seen yet, by Bayes: those lost are never seen.
        escaped = there * (1.0 - gone / fish) ** odds
        visible = escaped / (1.0 - there + escaped)
        q = CATCHES / (fish - gone)
        caught = visible * odds * q / (1.0 - q + odds * q)
        ratio = caught / (1.0 - caught) * (1.0 - q) / q
        expected = [
            stats.nchypergeom_fisher.logpmf(R, M + round(n - v * M), M, C, of_mark)
            for R, n, M, v, C, of_mark in zip(
                SEEN, counted, marks, visible, CATCHES, ratio, strict=True
            )
        ]
        assert found["recaptures"].values[0, draw, :6] == pytest.approx(expected, rel=0.01)


def test_pull_by_pull_adds_up_to_the_graph(campaign: fishdown.Campaign) -> None:
    spec = spec_for(campaign, weights="none")
    posterior, potentials = values_of_graph(campaign, spec)
    records = ("counting", "catches", "recaptures")
    total = sum(potentials[name] for name in records)
    found = pull_log_densities(posterior, campaign, spec)
    by_pull = (found["catch"] + found["recaptures"]).sum("pull").values[0]
    # Both leave out a constant.
    assert np.diff(by_pull) == pytest.approx(np.diff(total), abs=1e-6)


def test_what_is_left_has_lost_the_dead_and_gained_the_arrivals(
    campaign: fishdown.Campaign,
) -> None:
    spec = spec_for(campaign)
    posterior, _ = values_of_graph(campaign, spec)
    found = reported_quantities(posterior, campaign, spec)
    rates = OpenLake(posterior["natural_mortality"], posterior["immigration"])
    before = found["abundance_before"]
    left = rates.present(before, sum(CATCHES), of_ends(campaign).over("season"))
    assert found["abundance_after"].values == pytest.approx(left.values, abs=0.5)
    # Nobody arrives in the lake without connected waters.
    assert (found["abundance_after"] <= before - sum(CATCHES)).isel(season=1).all()


def test_immigration_is_of_connected_lakes_only(folder_of: Callable[..., Path]) -> None:
    closed = fishdown.read(
        folder_of(
            lakes=[{"lake": "Alder", "area_ha": 20}],
            pulls=daily_pulls("Alder", CATCHES, recaptured=SEEN),
            marked=[{"date": "2024-05-01", "lake": "Alder", "batch": "all", "mark": "fin_clip",
                     "released": 60}],
        )
    )  # fmt: skip
    spec, notes = fitting_spec(closed, fishdown.read_model("one_lake"))
    assert spec.part("immigration") == "none"
    assert spec.part("natural_deaths") == "steady"
    assert not [note for note in notes if "immigra" in note]


def test_choices_that_do_not_go_together_are_refused() -> None:
    text = (model_folder() / "one_lake.toml").read_text(encoding="utf-8")
    with pytest.raises(ModelFileError, match='write marks = "effective"'):
        parse_model(text.replace('marks = "effective"', 'marks = "shed"'), "mine")
    with pytest.raises(ModelFileError, match='needs recaptures = "clumped"'):
        parse_model(text.replace('recaptures = "clumped"', 'recaptures = "random"'), "mine")


def test_catches_alone_leave_immigration_out(campaign: fishdown.Campaign) -> None:
    spec = spec_for(campaign, evidence="depletion")
    posterior, _ = values_of_graph(campaign, spec)
    assert "immigration" not in posterior
    assert "natural_mortality" in posterior


def test_a_catch_of_more_than_is_there_costs_what_it_is_short_of() -> None:
    caught = np.array([100.0, 100.0, 100.0, 0.0])
    cost = shortfall_log_density(caught, np.array([400.0, 99.5, 98.0, 0.0]))
    np.testing.assert_allclose(cost, [0.0, 0.0, -0.5, 0.0])
    # Deaths that leave nothing for most pulls cost more than the catches could gain.
    assert shortfall_log_density(50.0, -2_000.0) < -1e6


def test_deaths_that_empty_the_lake_before_the_catches_are_all_but_impossible(folder_of) -> None:
    pulls = daily_pulls("Alder", [40, 31, 25, 28, 22, 19, 30, 12], start="2024-06-01")
    for day, pull in enumerate(pulls):
        pull["date"] = f"2024-{6 + day // 2:02d}-{1 + 14 * (day % 2):02d}"
    campaign = fishdown.read(folder_of(lakes=[{"lake": "Alder", "area_ha": 12}], pulls=pulls))
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    posterior, _ = values_of_graph(campaign, spec, points=1)
    gone = float(campaign.seasons["gone"][0])

    def catches(mortality: float, fish: float) -> float:
        known = {"natural_mortality": mortality, "abundance": fish}
        at = posterior.assign({name: posterior[name] * 0.0 + one for name, one in known.items()})
        return float(pull_log_densities(at, campaign, spec)["catch"].sum())

    # As many at first as the taken ones on average must have been alive, and no more.
    years = model_data(campaign, spec).times
    mean = float((years.end_years - years.end_gone_years)[0])
    assert catches(30.0, gone * np.exp(30.0 * mean) + 1.0) < catches(0.1, 900.0) - 200.0
