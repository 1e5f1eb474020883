"""Mean weight of the fish in each lake before and after netting, and of those that it removed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.models.parts.weights.left import DAYS, log_left, log_weight_change, mass_taken
from fishdown.models.parts.weights.weighings import days_netted

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray

SELECTIVITY = "net_selectivity"
TREND = "weight_trend"


def fish_weights(
    posterior: xr.Dataset, before: xr.DataArray, campaign: Campaign, spec: ModelSpec
) -> dict[str, xr.DataArray]:
    """Return mean weights of each season, kg.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …).
    before : xarray.DataArray
        Whole fish before the first pull, dimensions (chain, draw, season).

    Returns
    -------
    dict of str to xarray.DataArray
        ``mean_weight`` before netting, ``mean_weight_left`` after it, ``mean_weight_removed`` of
        the fish that it took (that the nets would take, where they took none); dimensions
        (chain, draw, season). The three are the same if fish were weighed at random.
    """
    weight = posterior["mean_weight"].transpose("chain", "draw", "season")
    left = removed = weight
    if spec.part("weighed") != "at_random":
        s, trend = posterior[SELECTIVITY], posterior[TREND]
        gone = xr.DataArray(campaign.seasons["gone"].values, dims="season")
        time = xr.DataArray(days_netted(campaign) / DAYS, dims="season")
        share = xr.apply_ufunc(log_left, before, gone)
        left = weight * np.exp(log_weight_change(share, time, s, trend))
        taken = _relative_weight_removed(before, campaign, s.values, trend.values)
        removed = weight * before.copy(data=taken)
    return {"mean_weight": weight, "mean_weight_left": left, "mean_weight_removed": removed}


def _relative_weight_removed(
    before: xr.DataArray, campaign: Campaign, s: FloatArray, trend: FloatArray
) -> FloatArray:
    """Return the mean weight of the fish removed, relative to that in the lake before netting."""
    fish = before.transpose("chain", "draw", "season").values
    first = campaign.seasons["first_day"].values
    found = np.repeat(s[:, :, None], fish.shape[2], axis=2)
    for season in np.unique(campaign.pulls["season_index"].values).tolist():
        pulls = campaign.season_pulls(season)
        taken = pulls["removed"].values
        if not taken.any():
            continue
        time = (pulls["date"].values - first[season]) / np.timedelta64(1, "D") / DAYS
        start, gone = fish[:, :, season, None], pulls["gone_before"].values
        selects, grows = s[:, :, None], trend[:, :, None]
        kg = mass_taken(start - gone, taken, selects)
        kg *= np.exp(log_weight_change(log_left(start, gone), time, selects, grows))
        found[:, :, season] = kg.sum(axis=2) / taken.sum()
    return found


def selectivity_of(quantities: xr.Dataset) -> FloatArray:
    """Return draws of the selectivity of nets, shape (chain, draw).

    1 where the model takes fish to be weighed at random.
    """
    if SELECTIVITY in quantities:
        return quantities[SELECTIVITY].values
    return np.ones((quantities.sizes["chain"], quantities.sizes["draw"]))
