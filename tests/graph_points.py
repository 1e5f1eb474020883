"""The graph's own values at random points, without sampling."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

import fishdown
from fishdown.models.data import model_data


def values_of_graph(
    campaign: fishdown.Campaign, spec: fishdown.ModelSpec, points: int = 3, seed: int = 5
) -> tuple[xr.Dataset, dict[str, np.ndarray]]:
    """Evaluate all variables and potentials around the starting point.

    Returns
    -------
    posterior : xarray.Dataset
        Free and derived variables, dimensions (chain, draw, …) as a sampler lays them down.
    potentials : dict of str to ndarray
        Values at each point.
    """
    from fishdown.models.graph import build

    model = build(spec, model_data(campaign, spec), campaign.coords)
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
