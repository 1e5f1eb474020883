"""The hazard of every pull, and the fish it met, draw by draw.

The graph itself is asked: it is built again from the records and evaluated at the draws of its free
variables, all at once and without compiling. So the hazard is exact for every part a model may
have, and a saved posterior need not carry pulls × draws of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.errors import FitError
from fishdown.models.data import model_data

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray


@dataclass(frozen=True)
class DrawnLakes:
    """The lakes as the draws of a posterior have them.

    Attributes
    ----------
    data : ModelData
        The records as the model saw them; "pull" counts only the pulls whose catch speaks.
    hazard : ndarray, shape (draw, pull)
        h; no pulls when only the marks speak.
    reachable : ndarray, shape (draw, season)
        Fish before the first pull that nets can reach.
    share : ndarray, shape (draw, season)
        Share of the marks released alive that counts.
    schooling : ndarray, shape (draw,), or None
        Coefficient of variation of the share that a pull takes; None when fish come by chance.
    mean_weight : ndarray, shape (draw, season), or None
        kg; None when no fish was weighed.
    weight_variation : ndarray, shape (draw,), or None
        Coefficient of variation of single weights.
    """

    data: ModelData
    hazard: FloatArray
    reachable: FloatArray
    share: FloatArray
    schooling: FloatArray | None = None
    mean_weight: FloatArray | None = None
    weight_variation: FloatArray | None = None

    @property
    def before(self) -> FloatArray:
        """Fish within reach before each pull, shape (draw, pull)."""
        fish: FloatArray = self.reachable[:, self.data.pull_season] - self.data.gone_before
        return fish


def thinned(posterior: xr.Dataset, most: int) -> xr.Dataset:
    """Return at most so many draws, evenly spaced over all chains.

    Parameters
    ----------
    posterior : xarray.Dataset
        Dimensions (chain, draw, …).
    most : int

    Returns
    -------
    xarray.Dataset
        Dimensions (sample, …).
    """
    joined = posterior.stack(sample=("chain", "draw"), create_index=False)
    joined = joined.transpose("sample", ...).drop_vars(("chain", "draw"), errors="ignore")
    count = joined.sizes["sample"]
    if count <= most:
        return joined
    return joined.isel(sample=np.linspace(0, count - 1, most).round().astype(np.int64))


def drawn_lakes(
    posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec, *, most: int
) -> DrawnLakes:
    """Evaluate hazards and fish within reach at draws of a posterior.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the free variables, dimensions (chain, draw, …).
    campaign : Campaign
    spec : ModelSpec
        The model as it was fitted.
    most : int
        Draws to use, at most.

    Returns
    -------
    DrawnLakes

    Raises
    ------
    FitError
        If the posterior lacks a free variable of the model.
    """
    few = thinned(posterior, most)
    data = model_data(campaign, spec)
    abundance: FloatArray = few["abundance"].values
    share = few["share_of_marks"].values if "share_of_marks" in few else np.ones_like(abundance)
    reach = few["reach"].values[:, None] if "reach" in few else 1.0
    optional = ("schooling", "mean_weight", "weight_variation")
    return DrawnLakes(
        data=data,
        hazard=_hazard(few, campaign, spec, data),
        reachable=abundance * reach,
        share=share,
        **{name: few[name].values for name in optional if name in few},
    )


def _hazard(few: xr.Dataset, campaign: Campaign, spec: ModelSpec, data: ModelData) -> FloatArray:
    if spec.part("evidence") == "marks":
        return np.zeros((few.sizes["sample"], 0))
    from fishdown.models.graph import HAZARD, build

    graph = build(spec, data, campaign.coords)
    hazard = at_draws(graph, graph["catches"], HAZARD, few)
    # A model in which nothing that is drawn touches a pull has one hazard for all draws.
    return np.broadcast_to(hazard, (few.sizes["sample"], hazard.shape[-1]))


def at_draws(graph: Any, descendant: Any, name: str, few: xr.Dataset) -> FloatArray:
    """Evaluate part of a graph at draws of its free variables, without compiling.

    Parameters
    ----------
    graph : pymc.Model
    descendant : tensor
        What the wanted variable leads to, or the variable itself.
    name : str
        Of the wanted variable.
    few : xarray.Dataset
        Draws of the free variables, dimensions (sample, …).

    Returns
    -------
    ndarray, shape (sample, …)

    Raises
    ------
    FitError
        If a free variable is missing.
    """
    import pytensor
    import pytensor.tensor as pt
    from pytensor.graph.replace import vectorize_graph
    from pytensor.graph.traversal import ancestors

    wanted = next(node for node in ancestors([descendant]) if node.name == name)
    missing = sorted(free.name for free in graph.free_RVs if free.name not in few)
    if missing:
        raise FitError(f"the posterior holds no draws of {', '.join(missing)}; fit again")
    fed = [pt.tensor(free.name, shape=(None, *free.type.shape)) for free in graph.free_RVs]
    many = vectorize_graph(wanted, dict(zip(graph.free_RVs, fed, strict=True)))
    function = pytensor.function(fed, many, mode="FAST_COMPILE", on_unused_input="ignore")
    found: FloatArray = function(*(few[free.name].values for free in graph.free_RVs))
    return found
