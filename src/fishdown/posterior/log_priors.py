"""What the priors of a model file say of each draw, apart from the records.

The graph joins both in one density over the sampler's own working variables; here each prior is
taken by itself, over its parameter as the model file states it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.models.data import ModelData
    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray


def log_priors(few: xr.Dataset, spec: ModelSpec, data: ModelData) -> dict[str, FloatArray]:
    """Return the log-density of every prior of a model file at each draw.

    Log-normal priors are taken as normal densities of the logarithm, and logit-normal ones of the
    logit, so that a power of the prior is the same prior, wider or narrower around the same median.

    Parameters
    ----------
    few : xarray.Dataset
        Draws of the model's variables, dimensions (sample, …).
    spec : ModelSpec
    data : ModelData
        Of the campaign that was fitted.

    Returns
    -------
    dict of str to ndarray, shape (sample,)
        By parameter; over lakes or seasons that have a value each, the sum. Priors of what these
        lakes have no use for (an exchange without connected waters) are left out.
    """
    found = {}
    for name, prior in spec.priors.items():
        if name == "density":
            values = densities(few, data)
        else:
            try:
                values = values_of(few, name)
            except KeyError:
                continue
        density = _natural_log_density(prior, values)
        found[name] = density.reshape(len(density), -1).sum(axis=1)
    return found


def densities(few: xr.Dataset, data: ModelData) -> FloatArray:
    """Return the draws of the densities that have a prior of their own, fish/ha.

    Every season's; where years are linked, that of each lake's first.
    """
    area = data.area[data.lake_of_season]
    starts = np.arange(len(area)) if data.winters is None else data.winters.starts
    found: FloatArray = few["abundance"].values[:, starts] / area[starts]
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
    # The smooth curve's straight part has the prior of the temperature effect, and lakes without
    # fish that eat the young that of recruits.
    for found in (f"{name}_linear_typical", f"{name}_linear", f"{name}_typical", f"{name}_open"):
        if found in few:
            return few[found].values
    values: FloatArray = few[name].values
    return values


def _natural_log_density(prior: Prior, values: FloatArray) -> FloatArray:
    density: FloatArray = prior.log_density(values)
    match prior.family:
        case "lognormal":
            return density + np.log(values)
        case "logitnormal":
            return density + np.log(values) + np.log1p(-values)
        case _:
            return density
