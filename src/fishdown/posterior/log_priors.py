"""Log-densities of the priors of a model file at each draw, without the records.

The graph joins both in one density over the sampler's own working variables; here each prior is
taken by itself, over its parameter as the model file states it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

if TYPE_CHECKING:
    from fishdown.models.data import ModelData
    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray, Numbers


def log_priors(few: xr.Dataset, spec: ModelSpec, data: ModelData[Numbers]) -> dict[str, FloatArray]:
    """Return the log-density of every prior of a model file at each draw.

    Log-normal priors are taken as normal densities of the logarithm, and those of shares as
    densities of the logit, so that a power of the prior is the same prior, wider or narrower around
    the same median (nearly so for beta distributions).

    Parameters
    ----------
    few : xarray.Dataset
        Draws of the model's variables, dimensions (sample, …).
    data : ModelData
        Of the campaign that was fitted.

    Returns
    -------
    dict of str to ndarray, shape (sample,)
        By parameter; over lakes or seasons that have a value each, the sum. Priors of what these
        lakes have no use for (an exchange without connected waters) are left out.
    """
    return {name: _summed(density) for name, density in _by_place(few, spec, data).items()}


def log_priors_by_season(
    few: xr.Dataset, spec: ModelSpec, data: ModelData[Numbers]
) -> dict[str, FloatArray]:
    """Return the same for the parameters that bear on each season.

    Parameters of other lakes are left out, and of the densities all but the season's own; where
    years are linked, that of the lake's first season.

    Returns
    -------
    dict of str to ndarray, shape (sample, season) or (sample, 1)
        By parameter; one column for what all seasons have in common.
    """
    lake = data.lake_of_season
    starts = _starts(data)
    begins = starts if data.winters is None else starts[np.searchsorted(lake[starts], lake)]
    found = {}
    for name, density in _by_place(few, spec, data).items():
        if name == "density":
            found[name] = density.values[:, begins]
        elif "season" in density.dims:
            found[name] = density.values
        elif "lake" in density.dims:
            found[name] = density.values[:, lake]
        else:
            found[name] = _summed(density)[:, np.newaxis]
    return found


def densities(few: xr.Dataset, data: ModelData[Numbers]) -> FloatArray:
    """Return the draws of the densities that have a prior of their own, fish/ha.

    Every season's; where years are linked, that of each lake's first.
    """
    return _density(few, data).values[:, _starts(data)]


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
    return _variable(few, name).values


def _variable(few: xr.Dataset, name: str) -> xr.DataArray:
    # The smooth curve's straight part has the prior of the temperature effect.
    for found in (f"{name}_linear_typical", f"{name}_linear", f"{name}_typical"):
        if found in few:
            return few[found]
    return few[name]


def _by_place(
    few: xr.Dataset, spec: ModelSpec, data: ModelData[Numbers]
) -> dict[str, xr.DataArray]:
    """Return the log-density of every prior, lakes and seasons apart, dimensions (sample, …)."""
    found = {}
    for name, prior in spec.priors.items():
        try:
            values = _density(few, data) if name == "density" else _variable(few, name)
        except KeyError:
            continue
        found[name] = values.copy(data=_natural_log_density(prior, values.values))
    without_prior = np.setdiff1d(np.arange(len(data.lake_of_season)), _starts(data))
    found["density"][:, without_prior] = 0.0
    return found


def _density(few: xr.Dataset, data: ModelData[Numbers]) -> xr.DataArray:
    """Return fish/ha in every season, dimensions (sample, season)."""
    return few["abundance"] / xr.DataArray(data.area[data.lake_of_season], dims="season")


def _starts(data: ModelData[Numbers]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the seasons whose density has a prior of its own, by position."""
    if data.winters is None:
        return np.arange(len(data.lake_of_season))
    return np.asarray(data.winters.starts, dtype=np.int64)


def _summed(density: xr.DataArray) -> FloatArray:
    return density.values.reshape(len(density), -1).sum(axis=1)


def natural_scale(prior: Prior, values: FloatArray) -> FloatArray:
    """Return values on the scale on which their prior is closest to normal."""
    match prior.family:
        case "lognormal":
            return np.log(values)
        case "logitnormal" | "beta":
            return np.log(values) - np.log1p(-values)
        case _:
            return values


def _natural_log_density(prior: Prior, values: FloatArray) -> FloatArray:
    density: FloatArray = prior.log_density(values)
    match prior.family:
        case "lognormal":
            return density + np.log(values)
        case "logitnormal" | "beta":
            return density + np.log(values) + np.log1p(-values)
        case _:
            return density
