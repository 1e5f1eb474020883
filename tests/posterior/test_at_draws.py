"""What the records say of each draw, against the graph as the sampler compiles it."""

from __future__ import annotations

import numpy as np
import pytest
from graph_points import hazards_of_graph, values_of_graph

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.models.spec import model_names
from fishdown.posterior.at_draws import RECORDS, drawn_lakes, likelihood_of, thinned
from fishdown.posterior.log_priors import log_priors
from fishdown.posterior.pointwise import pull_log_densities
from fishdown.worlds import LakeTruth, World, simulate

LAKES = (LakeTruth("Alder", 20.0, 1_500), LakeTruth("Birch", 60.0, 3_000))
OF_PULLS = ("counting", "catches", "recaptures")
OF_UNKNOWNS = {
    "abundance_prior",
    "catchability_prior",
    "marks_by_chance",
    "marks_over_winters",
    "years",
}


@pytest.fixture(scope="module")
def campaign() -> fishdown.Campaign:
    world = World(LAKES, years=2, rounds=3, only_length=10, batches=("both", "fin_clip"))
    return simulate(world, np.random.default_rng(1))[0]


@pytest.mark.parametrize("name", model_names())
def test_records_at_draws_are_the_graphs(campaign: fishdown.Campaign, name: str) -> None:
    spec, _ = fitting_spec(campaign, fishdown.read_model(name))
    data = model_data(campaign, spec)
    graph = build(spec, data, campaign.coords)
    posterior, potentials = values_of_graph(campaign, spec, graph=graph)
    few = thinned(posterior, 10)
    expected = sum(values for part, values in potentials.items() if part in RECORDS)
    np.testing.assert_allclose(likelihood_of(graph)(few), expected, rtol=1e-9)
    # Pull by pull, each given those before it, they are the same.
    pulls = pull_log_densities(posterior, campaign, spec)
    total = (pulls["catch"] + pulls["recaptures"]).sum("pull").values[0]
    assert total == pytest.approx(sum(potentials.get(one, 0.0) for one in OF_PULLS), rel=1e-10)
    # Whatever a model adds to its density is known to be of records or of unknowns.
    assert set(potentials) <= RECORDS | OF_UNKNOWNS
    lakes = drawn_lakes(posterior, campaign, spec, most=10)
    assert lakes.hazard.shape == (3, len(data.catches.caught))
    np.testing.assert_allclose(
        lakes.hazard, hazards_of_graph(few, campaign, spec, graph), rtol=1e-9
    )
    assert lakes.share.shape == (3, len(data.counts.group_season))
    assert lakes.carried.shape == lakes.vulnerable_fish.shape == (3, 4)
    assert (lakes.carried.any(), spec.part("years")) in {(True, "linked"), (False, "apart")}
    known = log_priors(few, spec, data)
    # Neither lake has connected waters, or fish that eat the young.
    assert set(spec.priors) - set(known) <= {"exchange", "outside_ratio", "young_eaten_effect"}
    assert all(values.shape == (3,) for values in known.values())


def test_with_linked_years_only_first_seasons_have_the_prior(campaign: fishdown.Campaign) -> None:
    spec, _ = fitting_spec(campaign, fishdown.read_model("many_years"))
    posterior, _ = values_of_graph(campaign, spec)
    few = thinned(posterior, 10)
    found = log_priors(few, spec, model_data(campaign, spec))["density"]
    median, log_sd = spec.priors["density"].numbers
    off = np.log(few["abundance"].values[:, [0, 2]] / [20.0, 60.0] / median) / log_sd
    expected = -0.5 * off**2 - np.log(log_sd * np.sqrt(2.0 * np.pi))
    np.testing.assert_allclose(found, expected.sum(axis=1))
