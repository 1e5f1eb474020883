"""Lakes drawn from the priors, against the graph and against closed forms; nothing is sampled."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from scipy import stats

import fishdown
from fishdown.calibration.design import Design, design_for
from fishdown.calibration.truth import (
    draw_campaign,
    draw_truth,
    effects,
    records_of,
    worth_fitting,
)
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import HAZARD, build
from fishdown.models.spec import model_names
from fishdown.posterior.hazards import at_draws

CATCHES = [name for name in model_names() if name != "marks_only"]


@pytest.mark.parametrize("name", model_names())
def test_the_design_feeds_every_part(name: str) -> None:
    spec = fishdown.read_model(name)
    fitted, notes = fitting_spec(design_for(spec).template(), spec)
    assert notes == ()
    assert fitted == spec


@pytest.mark.parametrize("name", CATCHES)
def test_hazards_are_the_graphs(name: str) -> None:
    spec = fishdown.read_model(name)
    design = design_for(spec)
    template = design.template()
    planned = model_data(template, spec)
    rng = np.random.default_rng(3)
    truth = draw_truth(spec, design, planned, rng)
    graph = build(spec, planned, template.coords)
    # The sampler's working variables for abundance and typical catch may be anything: they shift
    # the hazards of a lake as a whole, and the effects are what tells its pulls apart.
    fed = {}
    for free in graph.free_RVs:
        shape = tuple(free.shape.eval())
        value = truth.values.get(free.name, rng.normal(size=shape))
        value = np.exp(value) if free.name == "typical_catch" else value
        fed[free.name] = np.reshape(value, shape)
    few = xr.Dataset({key: (("sample", *(f"{key}_{i}" for i in range(value.ndim))), value[None])
                      for key, value in fed.items()})  # fmt: skip
    found = np.log(at_draws(graph, graph["catches"], HAZARD, few))
    found = np.broadcast_to(found, (1, len(planned.pull_season)))[0]
    expected = effects(spec, truth.values, planned)
    for lake in range(len(design.areas)):
        mine = planned.pull_season == lake
        np.testing.assert_allclose(
            found[mine] - found[mine][0], expected[mine] - expected[mine][0], atol=1e-9
        )


def test_level_of_the_hazard_and_truncated_abundance() -> None:
    spec = fishdown.read_model("one_lake")
    design = design_for(spec)
    planned = model_data(design.template(), spec)
    rng = np.random.default_rng(4)
    drawn = [draw_truth(spec, design, planned, rng) for _ in range(800)]
    fish = np.array([truth.abundance[0] for truth in drawn])
    assert fish.min() > design.marked - 0.5
    median, log_sd = spec.priors["density"].numbers
    law = stats.lognorm(s=log_sd, scale=median * design.areas[0])
    beyond = law.cdf(design.marked - 0.5)
    assert stats.kstest((law.cdf(fish) - beyond) / (1.0 - beyond), "uniform").pvalue > 0.01
    one = drawn[0]
    level = np.log(one.hazard) - effects(spec, one.values, planned)
    np.testing.assert_allclose(level, np.log(one.values["cleared_ha"][0] / design.areas[0]))


def test_marks_that_count_tie_the_chance_to_abundance() -> None:
    # In a pond that may hold fewer fish than were marked, many marks lost are the likelier story:
    # the chance to be kept is no longer that of its prior.
    spec = fishdown.read_model("lost_marks")
    small = Design((1.0, 1.0, 1.0), (0, 1), (20.0, 20.0), nets=2, marked=60)
    planned = model_data(small.template(), spec)
    rng = np.random.default_rng(5)
    kept = [draw_truth(spec, small, planned, rng).values["marks_kept"][0] for _ in range(250)]
    prior = stats.beta(*spec.priors["marks_kept"].numbers)
    # By hand: the prior, weighted by the probability that three lakes hold their marks.
    grid = np.linspace(0.001, 0.999, 400)
    median, log_sd = spec.priors["density"].numbers
    marks = np.arange(61)
    room = stats.lognorm(s=log_sd, scale=median).sf(marks - 0.5)
    chance = np.array([(stats.binom.pmf(marks, 60, p) * room).sum() for p in grid])
    weight = prior.pdf(grid) * chance**3
    expected = (grid * weight).sum() / weight.sum()
    assert expected < prior.mean() - 0.005
    assert np.mean(kept) == pytest.approx(expected, abs=4.0 * np.std(kept) / np.sqrt(250))


def test_the_books_balance() -> None:
    spec = fishdown.read_model("pooled_lakes")
    design = design_for(spec)
    campaign, truth, tries = draw_campaign(
        spec, design, design.template(), np.random.default_rng(6)
    )
    assert tries >= 1
    assert worth_fitting(campaign, design)
    for season in range(3):
        pulls = campaign.season_pulls(season)
        assert pulls["caught"].values.sum() == campaign.seasons["gone"].values[season]
        assert campaign.seasons["gone"].values[season] <= truth.abundance[season] + 0.5
        left = design.marked - pulls["recaptured"].values.sum()
        assert campaign.seasons["marks_left"].values[season] == left
    assert (model_data(campaign, spec).bound <= truth.reachable - truth.counting + 0.5).all()


def test_fish_that_go_back_are_drawn_from_an_urn() -> None:
    spec = fishdown.read_model("marks_only")
    design = design_for(spec)
    template = design.template()
    planned = model_data(template, spec)
    rng = np.random.default_rng(7)
    truth = draw_truth(spec, design, planned, rng)
    found = [
        records_of(truth, design, template, rng).pulls["recaptured"].values for _ in range(150)
    ]
    assert design.examined is not None
    law = stats.hypergeom(round(truth.abundance[0]), design.marked, design.examined)
    error = law.std() / np.sqrt(np.size(found))
    assert np.mean(found) == pytest.approx(law.mean(), abs=4.0 * error)
