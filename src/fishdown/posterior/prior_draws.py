"""Draws from the priors of a model, before any fish was caught.

PyMC draws what has a distribution of its own in the graph. What the sampler reaches by a
coordinate without one (abundance, and catchability where its prior is on a lake's own) is drawn
from the model file's prior. The records set no bound here: a draw may hold fewer fish than were
caught later.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from fishdown.models.data import model_data
from fishdown.models.parts import derived_quantities, parameters
from fishdown.models.parts.years.forward import follow
from fishdown.posterior.quantities import reported_quantities

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, Numbers

DRAWS = 1_000
# What netting leaves has no prior before netting.
_AFTER_NETTING = (
    "abundance_after", "removed_share", "density_after", "mean_weight_left", "mean_weight_removed",
    "biomass_after"
)  # fmt: skip


def prior_draws(
    campaign: Campaign, spec: ModelSpec, *, draws: int = DRAWS, seed: int
) -> xr.Dataset:
    """Draw parameters and abundance from the priors.

    Parameters
    ----------
    draws, seed : int
        How many, and the seed of the random numbers.

    Returns
    -------
    xarray.Dataset
        Dimensions (chain, draw, …), one chain. The names and dimensions are those of a posterior,
        without the sampler's working variables. Where years are linked, abundance follows from the
        season before less the fish that the records say were removed.
    """
    from fishdown.models.graph import build

    data = model_data(campaign, spec)
    graph = build(spec, data, campaign.coords)
    rng = np.random.default_rng(seed)
    found = _drawn_by_pymc(graph, draws, seed)
    found["abundance"] = _abundance(spec, data, found, draws, rng)
    if "catchability" in found:
        size = (draws, len(data.area))
        found["catchability"] = spec.priors["catchability"].draw(rng, size)
    return xr.Dataset(
        {
            name: (("chain", "draw", *(graph.named_vars_to_dims.get(name) or ())), values[None])
            for name, values in found.items()
        },
        coords={**campaign.coords, "chain": [0], "draw": np.arange(draws)},
    )


def prior_quantities(prior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> xr.Dataset:
    """Derive the reported quantities before netting from draws of the priors.

    Parameters
    ----------
    prior : xarray.Dataset
        From `prior_draws`.

    Returns
    -------
    xarray.Dataset
        As `reported_quantities`, less what netting leaves.
    """
    seasons = campaign.seasons
    nothing = {name: 0.0 * seasons[name] for name in ("gone", "moved_error")}
    untouched = seasons.assign(nothing)
    found = reported_quantities(prior, replace(campaign, seasons=untouched), spec)
    return found.drop_vars(_AFTER_NETTING, errors="ignore")


def _drawn_by_pymc(graph: Any, draws: int, seed: int) -> dict[str, FloatArray]:
    """Draw every parameter in the graph, the improper coordinates held where the sampler starts."""
    import pymc as pm
    import pytensor.tensor as pt
    from pymc.distributions.shape_utils import change_dist_size
    from pytensor.graph.replace import graph_replace, vectorize_graph
    from pytensor.graph.traversal import ancestors

    flat = {
        free: pt.as_tensor(graph.rvs_to_initial_values[free])
        for free in graph.free_RVs
        if isinstance(free.owner.op, pm.Flat.rv_type)
    }
    known = {*parameters(), *derived_quantities(), "abundance"}
    wanted = [
        node
        for node in (*graph.free_RVs, *graph.deterministics)
        if node.name.removesuffix("_typical").removesuffix("_linear") in known and node not in flat
    ]
    # They no more than shift what is walked over; no parameter depends on them.
    held = graph_replace(wanted, flat, strict=False)
    # All draws at once: those of what depends on nothing random, and the rest follows. What
    # depended on a coordinate that is held is a copy of the free variable, under its name.
    names = {free.name for free in graph.free_RVs}
    random = {one for one in ancestors(held) if one.name in names}
    first = [one for one in random if random.isdisjoint(ancestors(one.owner.inputs))]
    many = {free: change_dist_size(free, (draws,), expand=True) for free in first}
    values = pm.draw(vectorize_graph(held, replace=many), random_seed=seed, mode="FAST_COMPILE")
    return {node.name: drawn for node, drawn in zip(wanted, values, strict=True)}


def _abundance(
    spec: ModelSpec,
    data: ModelData[Numbers],
    values: dict[str, FloatArray],
    draws: int,
    rng: np.random.Generator,
) -> FloatArray:
    area = data.area[data.lake_of_season]
    fish: FloatArray = spec.priors["density"].draw(rng, (draws, len(area))) * area
    if data.winters is None:
        return fish
    return follow(fish, values, data.winters, data.lake_of_season, rng)
