"""Temperature–catchability curves: draws of catchability at any water temperature."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.posterior.cooling import log_relative_hazard

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray


def catchability_at(fit: FittedCampaign, season: int, temperature: FloatArray) -> FloatArray:
    """Return draws of catchability in a season at given temperatures.

    That of the season's pulls on average: all that a model knows of them but temperature (their
    nets, earlier pulls, rest, mesh, bait) is averaged on the log scale.

    Parameters
    ----------
    fit : FittedCampaign
        Whose model has a catchability.
    temperature : ndarray, shape (point,)
        °C.

    Returns
    -------
    ndarray, shape (draw, point)
        Probability that one pull takes a given fish.
    """
    posterior = fit.tree["posterior"].dataset
    lake = int(fit.campaign.seasons["lake_index"].values[season])
    at_reference = fit.quantities["catchability_at_reference"].isel(season=season).values
    log_hazard = np.log(-np.log1p(-at_reference.reshape(-1, 1)))
    log_hazard = log_hazard + log_relative_hazard(
        posterior, fit.spec, temperature[None], np.full(len(temperature), lake)
    )
    return -np.expm1(-np.exp(log_hazard + fit.other_effects[season]))
