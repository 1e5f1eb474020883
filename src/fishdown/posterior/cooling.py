"""Relative catchability at any water temperature, draw by draw."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.parts.temperature import TEMPERATURE, at_temperatures
from fishdown.posterior.pull_hazard import log_effect

if TYPE_CHECKING:
    from collections.abc import Sequence

    import xarray as xr

    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray, IntArray


def relative_hazard(fit: FittedCampaign, temperatures: Sequence[float] | FloatArray) -> FloatArray:
    """Return the hazard at given temperatures, relative to that at the reference temperature.

    Nothing keeps it from extrapolating: outside the temperatures of a lake's own pulls the model's
    shape, the other lakes and the priors answer.

    Parameters
    ----------
    temperatures : array_like, shape (temperature,)
        °C.

    Returns
    -------
    ndarray, shape (draw, lake, temperature)
        Factors, draws of all chains one behind the other; 1 throughout for a model without an
        effect of temperature.
    """
    at = np.asarray(temperatures, dtype=float)
    lakes = fit.campaign.lakes.sizes["lake"]
    posterior = fit.tree["posterior"].dataset
    log_factor = log_relative_hazard(
        posterior, fit.spec, np.tile(at, lakes)[None], np.repeat(np.arange(lakes), len(at))
    )
    return np.exp(log_factor).reshape(-1, lakes, len(at))


def log_relative_hazard(
    posterior: xr.Dataset, spec: ModelSpec, temperature: FloatArray, lake: IntArray
) -> FloatArray:
    """Return the effect of temperature on the log-hazard.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …).
    temperature : ndarray, shape (draw or 1, point)
        °C.
    lake : ndarray of int, shape (point,)
        Position of each point's lake.

    Returns
    -------
    ndarray, shape (draw, point)
    """
    if spec.part("temperature") == TEMPERATURE.default:
        return np.zeros((1, temperature.shape[1]))
    return log_effect(posterior, spec, TEMPERATURE, at_temperatures(temperature, lake))
