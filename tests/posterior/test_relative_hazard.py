"""The effect of temperature from draws, against the graph's own value."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from graph_points import values_of_graph

import fishdown
from fishdown import Fit
from fishdown.models.data import fitting_spec
from fishdown.posterior.cooling import relative_hazard
from fishdown.worlds import LakeTruth, World, simulate

LAKES = (LakeTruth("Alder", 20.0, 2_000), LakeTruth("Birch", 45.0, 3_000))


@pytest.fixture(scope="module")
def campaign() -> fishdown.Campaign:
    return simulate(World(LAKES, rounds=4, nets=1), np.random.default_rng(2))[0]


def fit_of(campaign: fishdown.Campaign, name: str, **parts: str) -> tuple[Fit, xr.Dataset]:
    spec, _ = fitting_spec(campaign, fishdown.read_model(name).with_parts(**parts))
    posterior, _ = values_of_graph(campaign, spec)
    tree = xr.DataTree.from_dict({"posterior": posterior})
    return Fit(campaign, spec, tree, {}), posterior


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("one_lake", {}),
        ("pooled_lakes", {}),
        ("smooth_cooling", {}),
        ("smooth_cooling", {"pooling": "none"}),
        (
            "detailed_nets",
            {
                "nets": "alike",
                "nights": "alike",
                "drift": "none",
                "first_pulls": "alike",
                "mesh": "none",
                "rest": "none",
                "bait": "none",
            },
        ),
    ],
)
def test_ten_degrees_colder_is_the_graphs_own_value(
    campaign: fishdown.Campaign, name: str, parts: dict[str, Any]
) -> None:
    fit, posterior = fit_of(campaign, name, **parts)
    found = relative_hazard(fit, [10.0, 20.0, 26.0])
    own = posterior["temperature_effect"].values[0]
    assert found.shape == (3, 2, 3)
    assert found[:, :, 0] == pytest.approx(own, rel=1e-10)
    assert found[:, :, 1] == pytest.approx(np.ones((3, 2)), rel=1e-12)
    assert (np.abs(np.log(found[:, :, 2])) > 1e-6).all()


def test_no_effect_without_temperature(campaign: fishdown.Campaign) -> None:
    fit, _ = fit_of(campaign, "pooled_lakes", temperature="none")
    assert (relative_hazard(fit, [5.0]) == 1.0).all()
