"""Free variables of a graph, made from the priors of a model file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

if TYPE_CHECKING:
    from fishdown.models.part import ByLake
    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec


def from_prior(name: str, prior: Prior, dims: str | None = None) -> Any:
    """Add a free variable with a prior of a model file to the graph."""
    # As arrays: plain numbers may be narrowed to single precision, and ln Γ of them with it.
    first, second = (np.asarray(number) for number in prior.numbers)
    match prior.family:
        case "lognormal":
            return pm.LogNormal(name, mu=np.log(first), sigma=second, dims=dims)
        case "normal":
            return pm.Normal(name, mu=first, sigma=second, dims=dims)
        case "logitnormal":
            middle = np.log(first) - np.log1p(-first)
            # PyMC's default would sample the proportion without a transformation.
            free = pm.distributions.transforms.logodds
            return pm.LogitNormal(name, mu=middle, sigma=second, dims=dims, default_transform=free)
        case _:
            return pm.Beta(name, alpha=first, beta=second, dims=dims)


def shared_from_prior(name: str, prior: Prior) -> Any:
    """Return the same, made once for all parts of the graph that take it."""
    model = pm.modelcontext(None)
    return model[name] if name in model.named_vars else from_prior(name, prior)


def in_each_lake(spec: ModelSpec, parameter: str, by_lake: ByLake, name: str) -> Any:
    """Add a parameter with a value for each lake, about a typical one if lakes are pooled.

    Parameters
    ----------
    spec : ModelSpec
    parameter : str
        Of the model file.
    by_lake : ByLake
    name : str
        Of the variable in the graph.

    Returns
    -------
    tensor, shape (lake,)
    """
    apart = None if spec.part("pooling") == "none" else between_lakes(spec, by_lake, f"{name}_step")
    return about_typical(spec, parameter, by_lake, name, apart)


def between_lakes(spec: ModelSpec, by_lake: ByLake, steps: str) -> Any:
    """Add how far each lake is from a typical one, shape (lake,)."""
    spread = from_prior(by_lake.spread, spec.priors[by_lake.spread])
    # Non-centred: a season's records carry little information on its own lake's value.
    return spread * pm.Normal(steps, dims="lake")


def about_typical(
    spec: ModelSpec, parameter: str, by_lake: ByLake, name: str, apart: Any | None
) -> Any:
    """Add a parameter with a value for each lake, so far from a typical one, or by itself."""
    prior = spec.priors[parameter]
    if apart is None:
        return from_prior(name, prior, dims="lake")
    typical = from_prior(f"{name}_typical", prior)
    match by_lake.scale:
        case "level":
            values = typical + apart
        case "logit":
            values = pt.sigmoid(pt.log(typical) - pt.log1p(-typical) + apart)
        case _:
            values = pt.exp(pt.log(typical) + apart)
    return pm.Deterministic(name, values, dims="lake")
