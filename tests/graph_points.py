"""The graph's own values at random points, without sampling."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

import fishdown
from fishdown.models.data import model_data


def walk_to(part: Any, room: Any, lost: Any) -> tuple[Any, Any]:
    """Return the step over a share of marks that leads to a part of its range, by hand.

    Parameters
    ----------
    part : float or ndarray
        0 where as many are lost as can be, 1 where none is.
    room, lost : float or ndarray
        Marks that can be lost and one, and marks that are expected to be.

    Returns
    -------
    step : float or ndarray
    log_slope : float or ndarray
        Logarithm of the part's derivative by the step.
    """
    left = (room - lost - 0.5 + np.sqrt((room - lost - 0.5) ** 2 + 4 * (lost + 1))) / 2
    expected = left / (left + lost + 0.5)
    spread = np.sqrt(lost + 1) / expected
    way, centre = -room * np.log(part) / spread, -room * np.log(expected) / spread
    # d way / d step = −(1 − exp(−way)), and d part / d way = −part × spread / room.
    return centre - np.log(np.expm1(way)), np.log(part * spread / room * -np.expm1(-way))


def values_of_graph(
    campaign: fishdown.Campaign,
    spec: fishdown.ModelSpec,
    points: int = 3,
    seed: int = 5,
    graph: Any = None,
) -> tuple[xr.Dataset, dict[str, np.ndarray]]:
    """Evaluate all variables and potentials around the starting point.

    Of a graph built already, if there is one: building it is most of the time.

    Returns
    -------
    posterior : xarray.Dataset
        Free and derived variables, dimensions (chain, draw, …) as a sampler lays them down.
    potentials : dict of str to ndarray
        Values at each point.
    """
    from fishdown.models.graph import build

    model = graph or build(spec, model_data(campaign, spec), campaign.coords)
    variables = [*model.free_RVs, *model.deterministics]
    outputs = model.replace_rvs_by_values([*variables, *model.potentials])
    evaluate = model.compile_fn(outputs, on_unused_input="ignore", mode="FAST_COMPILE")
    rng = np.random.default_rng(seed)
    start = model.initial_point()
    rows: list[list[Any]] = []
    for _ in range(points):
        moved = {
            name: value + rng.normal(0.0, 0.4, np.shape(value)) for name, value in start.items()
        }
        rows.append(evaluate(moved))
    stacks = [np.array(column) for column in zip(*rows, strict=True)]
    posterior = {}
    for variable, values in zip(variables, stacks, strict=False):
        own = model.named_vars_to_dims.get(variable.name)
        own = own or [f"{variable.name}_{axis}" for axis in range(values.ndim - 1)]
        posterior[variable.name] = (("chain", "draw", *own), values[None])
    potentials = dict(
        zip([one.name for one in model.potentials], stacks[len(variables) :], strict=True)
    )
    return xr.Dataset(posterior), potentials


def hazards_of_graph(
    few: xr.Dataset, campaign: fishdown.Campaign, spec: fishdown.ModelSpec, graph: Any = None
) -> np.ndarray:
    """Evaluate the graph's own hazard of every valid pull at draws, shape (sample, pull)."""
    from pytensor.graph.traversal import ancestors

    from fishdown.models.graph import HAZARD, build
    from fishdown.posterior.at_draws import AtDraws

    if spec.part("evidence") == "marks":
        return np.zeros((few.sizes["sample"], 0))
    graph = graph or build(spec, model_data(campaign, spec), campaign.coords)
    hazard = next(node for node in ancestors([graph["catches"]]) if node.name == HAZARD)
    return AtDraws(graph, hazard)(few)
