"""One graph for catches with and without their marks, and with nets and nights to spare."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from messy_models import ROBUST, specification
from messy_worlds import campaign_of
from scipy import stats

import fishdown
from fishdown.checks.evidence import catches_alone
from fishdown.models.data import by_catches_alone, fitting_spec, model_data, step_coords
from fishdown.models.graph import build

OWN = {"net": 4, "night": 10, "stretch": 1}
ROOMY = {"net": 8, "night": 12, "stretch": 1}
Points = list[dict[str, np.ndarray]]


def log_densities(model: Any, points: Points) -> np.ndarray:
    """Return the log-density at points, of which each may have more coordinates and steps."""
    from pytensor.compile.mode import Mode

    shapes = {name: np.shape(value) for name, value in model.initial_point().items()}
    evaluate = model.compile_fn(
        model.logp(sum=False), inputs=model.value_vars, mode=Mode(linker="py", optimizer=None)
    )
    found = []
    for point in points:
        own = {name: point[name][tuple(map(slice, shape))] for name, shape in shapes.items()}
        found.append(sum(np.sum(term) for term in evaluate(own)))
    return np.array(found)


def points_of(model: Any) -> Points:
    start, rng = model.initial_point(), np.random.default_rng(17)
    return [
        {name: value + rng.normal(0.0, 0.2, np.shape(value)) for name, value in start.items()}
        for _ in range(4)
    ]


def robust(lakes: int) -> tuple[fishdown.Campaign, fishdown.ModelSpec]:
    campaign, _ = campaign_of("a mixture", lakes, np.random.default_rng(6))
    return campaign, fitting_spec(campaign, specification(ROBUST, 1 if lakes == 1 else 6))[0]


@pytest.mark.parametrize("lakes", [1, 2])
def test_without_marks_the_graph_is_that_of_the_catches_alone(lakes: int) -> None:
    campaign, spec = robust(lakes)
    data = by_catches_alone(model_data(campaign, spec), campaign, spec)
    assert data is not None
    both = build(spec, data, campaign.coords)
    alone = catches_alone(spec)
    catches = build(alone, model_data(campaign, alone), campaign.coords)
    shared = set(catches.initial_point())
    # What only marks inform stays where it is, and adds the same everywhere.
    first, *others = points_of(both)
    points = [first, *({**first, **{name: one[name] for name in shared}} for one in others)]
    apart = log_densities(both, points) - log_densities(catches, points)
    np.testing.assert_allclose(apart, apart[0], rtol=1e-10)
    informed = build(spec, model_data(campaign, spec), campaign.coords)
    told = log_densities(informed, points) - log_densities(catches, points)
    assert np.ptp(told) > 1.0


@pytest.mark.parametrize("model", ["careful_marks", "many_years", "marks_only"])
def test_marks_that_are_more_than_their_recaptures_stay(model: str) -> None:
    campaign, _ = robust(1)
    spec, _ = fitting_spec(campaign, fishdown.read_model(model))
    assert (by_catches_alone(model_data(campaign, spec), campaign, spec) is None) == (
        model != "many_years"
    )


def test_nets_and_nights_to_spare_keep_to_their_priors() -> None:
    campaign, spec = robust(1)
    data = model_data(campaign, spec)
    own = step_coords(data, spec)
    roomy = step_coords(data, spec, to_spare=True)
    assert {dim: len(labels) for dim, labels in own.items()} == OWN
    assert {dim: len(labels) for dim, labels in roomy.items()} == ROOMY
    assert all(roomy[dim][: len(labels)] == labels for dim, labels in own.items())
    plain = build(spec, data, campaign.coords)
    spare = build(spec, data, {**campaign.coords, **roomy})
    points = points_of(spare)
    steps = [np.concatenate([point["net_step"][4:], point["night_step"][10:]]) for point in points]
    np.testing.assert_allclose(
        log_densities(spare, points) - log_densities(plain, points),
        [stats.norm.logpdf(each).sum() for each in steps],
        rtol=1e-9,
    )
