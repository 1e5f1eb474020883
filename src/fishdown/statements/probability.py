"""Probability of being below a threshold, and whether a quantity is estimated at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray


def probability_below(draws: FloatArray, threshold: float) -> tuple[float, float]:
    """Estimate P(draw < threshold) and its Monte-Carlo standard error.

    The share of draws is shrunk towards one half by half a draw, so that it is never 0 or 1; the
    error comes from the effective sample size of the indicator, or of the draws themselves when
    all lie on one side.

    Parameters
    ----------
    draws : ndarray, shape (chain, draw)
        kg/ha.
    threshold : float
        kg/ha.
    """
    from arviz_stats.base import array_stats

    below = (draws < threshold).astype(float)
    probability = (below.sum() + 0.5) / (below.size + 1.0)
    varies = 0.0 < below.mean() < 1.0
    effective = float(array_stats.ess(below if varies else draws, method="mean"))
    return float(probability), float(np.sqrt(probability * (1.0 - probability) / effective))


def says(fit: FittedCampaign, name: str, season: int) -> bool:
    """Return whether the fit estimates a quantity in a season."""
    if name not in fit.quantities:
        return False
    array = fit.quantities[name]
    return bool(array.isel(season=season).notnull().all())
