"""What the records say of each draw, and what the priors say of it: two sums, draw by draw.

The graph joins both in one density over the sampler's own working variables. Here they are apart,
each over the parameters as a model file states them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.catch import beta_shape, chance_log_density, schooling_log_density
from fishdown.models.ledger import counting_log_density
from fishdown.models.weights import weights_log_density

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.hazards import DrawnLakes
    from fishdown.typing import FloatArray


def log_likelihood(lakes: DrawnLakes) -> FloatArray:
    """Return the log-probability of all records given each draw.

    Catches, recaptures and weights; which of the marks count is part of the lake, not of the
    records.

    Parameters
    ----------
    lakes : DrawnLakes

    Returns
    -------
    ndarray, shape (draw,)
    """
    data = lakes.data
    unmarked = lakes.reachable - lakes.share * data.marks_at_start
    terms = counting_log_density(
        unmarked[:, data.term_season],
        lakes.share[:, data.term_season],
        data.term_unmarked,
        data.term_marks,
        data.term_offset,
        data.term_weight,
    )
    total: FloatArray = terms.sum(axis=1) + data.constant
    if lakes.hazard.shape[1]:
        before = np.maximum(lakes.before, data.caught)
        if lakes.schooling is None:
            terms = chance_log_density(data.caught, before, lakes.hazard)
        else:
            a, b = beta_shape(lakes.hazard, lakes.schooling[:, None])
            terms = schooling_log_density(data.caught, before, a, b)
        total = total + terms.sum(axis=1)
    if lakes.mean_weight is not None and lakes.weight_variation is not None:
        terms = weights_log_density(
            data.weighed,
            data.weight_total,
            data.weight_total_log,
            lakes.mean_weight,
            lakes.weight_variation[:, None],
        )
        total = total + terms.sum(axis=1)
    return total


def log_priors(few: xr.Dataset, spec: ModelSpec, area: FloatArray) -> dict[str, FloatArray]:
    """Return the log-density of every prior of a model file at each draw.

    Log-normal priors are taken as normal densities of the logarithm, so that a power of the prior
    is the same prior, wider or narrower around the same median.

    Parameters
    ----------
    few : xarray.Dataset
        Draws of the free variables, dimensions (sample, …).
    spec : ModelSpec
    area : ndarray, shape (season,)
        Of each season's lake, ha.

    Returns
    -------
    dict of str to ndarray, shape (sample,)
        By parameter; over lakes or seasons that have a value each, the sum.
    """
    found = {}
    for name, prior in spec.priors.items():
        values = few["abundance"].values / area if name == "density" else values_of(few, name)
        density = _natural_log_density(prior, values)
        found[name] = density.reshape(len(density), -1).sum(axis=1)
    return found


def values_of(few: xr.Dataset, name: str) -> FloatArray:
    """Return the draws of what a prior of a model file is about: with pooled lakes, a typical one.

    Parameters
    ----------
    few : xarray.Dataset
        Dimensions (sample, …).
    name : str
        A parameter other than density.

    Raises
    ------
    KeyError
        If it was not drawn.
    """
    # The smooth curve's straight part has the prior of the temperature effect.
    for stem in (f"{name}_linear", name):
        for found in (f"{stem}_typical", stem):
            if found in few:
                values: FloatArray = few[found].values
                return values
    raise KeyError(name)


def _natural_log_density(prior: Prior, values: FloatArray) -> FloatArray:
    density: FloatArray = prior.log_density(values)
    return density + np.log(values) if prior.family == "lognormal" else density
