"""Catchability in the graph: the logarithm of each lake's hazard before all effects."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt
from scipy.special import betaln

from fishdown.models.coordinates import TypicalCatch
from fishdown.models.variables import from_prior, shared_from_prior
from fishdown.models.whole_numbers import at_least_one

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import Numbers


def log_base_hazard(
    spec: ModelSpec, data: ModelData[Numbers], nodes: ModelData[Any], fish: Any, effects: Any
) -> Any:
    """Return the logarithm of each lake's hazard before all effects, shape (lake,).

    Parameters
    ----------
    spec : ModelSpec
    data, nodes : ModelData
        As arrays, and as nodes of the graph.
    fish, effects : tensor, shape (pull,)
        Vulnerable fish before each pull, and what is added to the logarithm of its hazard.
    """
    walk = TypicalCatch(pt.log(_mean_by_lake(fish, nodes, none=1.0)), _mean_by_lake(effects, nodes))
    if spec.part("catchability") == "per_lake":
        return _of_share(spec, data, walk)
    return _of_area(spec, nodes, walk)


def _of_share(spec: ModelSpec, data: ModelData[Numbers], walk: TypicalCatch) -> Any:
    """Return it when the prior is on catchability itself."""
    caught = np.bincount(data.catches.lake, data.catches.caught, len(data.area))
    pulls = np.bincount(data.catches.lake, minlength=len(data.area))
    start = np.log(caught / np.maximum(pulls, 1) + 1.0)
    log_hazard = walk.reached(pm.Flat("log_typical_catch", dims="lake", initval=start))
    hazard = pt.exp(log_hazard)
    share = pm.Deterministic("catchability", -pt.expm1(-hazard), dims="lake")
    a, b = spec.priors["catchability"].numbers
    # Beta density of q = 1 − exp(−h), times dq/d(ln h) = h exp(−h); ln(1 − q) is −h.
    log_density = (a - 1.0) * pt.log(share) - b * hazard + log_hazard - betaln(a, b)
    pm.Potential("catchability_prior", log_density.sum())
    return log_hazard


def _of_area(spec: ModelSpec, nodes: ModelData[Any], walk: TypicalCatch) -> Any:
    """Return it when the prior is on the effective area fished per pull."""
    prior = spec.priors["area_fished_ha"]
    median, log_sd = prior.numbers
    log_area = pt.log(nodes.area)
    if spec.part("pooling") == "none":
        centre: Any = np.log(median)
        spread: Any = log_sd
    else:
        exponent = shared_from_prior("area_exponent", spec.priors["area_exponent"])
        spread = from_prior("lake_spread", spec.priors["lake_spread"])
        # The area fished per pull is the same in every lake when the exponent is 1.
        centre = pt.log(from_prior("area_fished_ha_typical", prior))
        centre = centre + (1.0 - exponent) * (log_area - log_area.mean())
    # Centred: a lake's own pulls carry far more information on it than the other lakes. Given
    # abundance, the prior of the typical catch is that of the area fished, shifted.
    moved = walk.walked(centre - log_area)
    log_hazard = walk.reached(pt.log(pm.LogNormal("typical_catch", moved, spread, dims="lake")))
    pm.Deterministic("area_fished_ha", pt.exp(log_hazard + log_area), dims="lake")
    return log_hazard


def _mean_by_lake(values: Any, nodes: ModelData[Any], none: float = 0.0) -> Any:
    """Return the mean over each lake's pulls, and `none` for a lake without any."""
    lake, counted = nodes.catches.lake, nodes.catches.on_record
    nought = pt.zeros_like(nodes.area)
    pulls = pt.inc_subtensor(nought[lake], counted)
    some = at_least_one(pulls)
    total = pt.inc_subtensor(nought[lake], counted * values)
    return (total + none * (1.0 - some)) / (pulls + 1.0 - some)
