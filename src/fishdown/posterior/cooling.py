"""Relative catchability at any water temperature, draw by draw."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.models.smooth import smooth_curve
from fishdown.models.temperature import cooling_effect, threshold_effect

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
    fit : FittedCampaign
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
    spec : ModelSpec
        The model as it was fitted.
    temperature : ndarray, shape (draw or 1, point)
        °C.
    lake : ndarray of int, shape (point,)
        Position of each point's lake.

    Returns
    -------
    ndarray, shape (draw, point)
    """
    reference = spec.reference_temperature
    match spec.part("temperature"):
        case "log_linear":
            effect = np.log(stacked(posterior["temperature_effect"]))[:, lake]
            added = cooling_effect(temperature, effect, reference)
        case "threshold_curve":
            threshold = stacked(posterior["threshold_temperature"])[:, lake]
            width = stacked(posterior["threshold_width"])[:, None]
            added = threshold_effect(temperature, threshold, width, reference)
        case "smooth":
            slope = np.log(stacked(posterior["temperature_effect_linear"]))[:, lake]
            shape = [
                stacked(posterior[name])
                for name in ("smooth_amplitude", "smooth_scale", "smooth_step")
            ]
            curve = smooth_curve(temperature, *shape)
            at_reference = smooth_curve(np.array([[reference]]), *shape)
            added = cooling_effect(temperature, slope, reference) + curve - at_reference
        case _:
            draws = posterior.sizes["chain"] * posterior.sizes["draw"]
            added = np.zeros((draws, temperature.shape[1]))
    log_factor: FloatArray = added
    return log_factor


def stacked(draws: xr.DataArray) -> FloatArray:
    """Stack the draws of all chains, shape (draw, …)."""
    values = draws.transpose("chain", "draw", ...).values
    laid: FloatArray = values.reshape(-1, *values.shape[2:])
    return laid
