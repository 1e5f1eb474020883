"""Variation between pulls that changes with catchability, against SciPy and Poisson schools."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import hazards_of_graph, values_of_graph
from scipy import stats
from textbook import textbook

import fishdown
from fishdown.models.data import fitting_spec
from fishdown.models.parts.scatter import scattered
from fishdown.posterior.at_draws import drawn_lakes, thinned
from fishdown.posterior.pointwise import pull_log_densities

CATCHES = [40, 31, 25, 9, 12, 30]


@pytest.fixture(scope="module")
def campaign(shared_folder_of: Callable[..., Path]) -> fishdown.Campaign:
    pulls = daily_pulls("Alder", CATCHES, water_temp_c=[22, 21, 17, 12, 9, 20])
    return fishdown.read(shared_folder_of(lakes=[{"lake": "Alder", "area_ha": 20}], pulls=pulls))


def test_independent_schools_vary_by_the_root() -> None:
    """A pull takes K schools, K Poisson: the coefficient of variation is that of K."""
    schools = np.array([8.0, 4.0, 1.0])
    expected = stats.poisson.std(schools) / stats.poisson.mean(schools)
    found = scattered(expected[0], np.log(schools / schools[0]), -0.5)
    assert found == pytest.approx(expected)
    assert scattered(0.7, np.log(schools), 0.0) == pytest.approx(0.7)


def test_catches_are_beta_binomial_of_that_variation(campaign: fishdown.Campaign) -> None:
    alike = {"nights": "alike", "drift": "none", "nets": "alike", "first_pulls": "alike"}
    asked = textbook(scatter="with_catchability", **alike)
    spec = fitting_spec(campaign, asked)[0]
    posterior, potentials = values_of_graph(campaign, spec)
    few = thinned(posterior, 3)
    hazard = hazards_of_graph(few, campaign, spec)
    before = posterior["abundance"].values[0] - (np.cumsum(CATCHES) - CATCHES)
    base = posterior["area_fished_ha"].values[0] / 20.0
    exponent = posterior["scatter_exponent"].values[0][:, None]
    variation = posterior["schooling"].values[0] * (hazard / base) ** exponent
    assert drawn_lakes(posterior, campaign, spec).schooling == pytest.approx(variation)
    q = -np.expm1(-hazard)
    a, b = (1 - q) / variation**2, (1 - q) ** 2 / (q * variation**2)
    found = pull_log_densities(posterior, campaign, spec)["catch"].values[0]
    low, high = np.floor(before), np.ceil(before)
    of_low, of_high = (stats.betabinom.logpmf(CATCHES, n, a, b) for n in (low, high))
    expected = of_low + (before - low) * (of_high - of_low)
    assert found == pytest.approx(expected, rel=1e-4)
    total = potentials["catches"] + potentials["counting"]
    assert np.diff(total) == pytest.approx(np.diff(expected.sum(axis=1)), rel=1e-3)


def test_without_temperature_nothing_tells_of_it(folder_of: Callable[..., Path]) -> None:
    pulls = daily_pulls("Alder", CATCHES)
    plain = fishdown.read(folder_of(lakes=[{"lake": "Alder", "area_ha": 20}], pulls=pulls))
    assert fitting_spec(plain, fishdown.read_model("one_lake"))[0].part("scatter") == "same"
