"""Additional removal needed for a given probability of being below the threshold."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.posterior.fish_weights import selectivity_of
from fishdown.statements.probability import says

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

WANTED = (0.80, 0.90, 0.95)
COLUMNS = (
    "lake", "season", "wanted_probability", "fish", "fish_mc_error", "kg", "kg_mc_error"
)  # fmt: skip


def removals(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """Tabulate the additional removal needed after the last pull, in fish and kilograms.

    Removing x of N fish leaves biomass B (1 − x/N)^s, with s the mean weight of the fish caught
    relative to those in the lake; the least x with P(B (1 − x/N)^s < threshold) ≥ p is the
    p-quantile of N (1 − (threshold/B)^(1/s)), and of B − threshold in kg/ha. (With s = 1 the
    former is N − threshold/w, with w = B/N.)

    Parameters
    ----------
    fit : FittedCampaign
    despite_gate : bool
        Fill in what a failed gate would withhold.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`; 0 where no further removal is needed. ``fish_mc_error`` and
        ``kg_mc_error`` are Monte-Carlo standard errors. Empty without weights.
    """
    rows = []
    for season in range(fit.campaign.seasons.sizes["season"]):
        if says(fit, "biomass_after", season):
            withheld = bool(fit.failure(season)) and not despite_gate
            lake = fit.campaign.lake_of(season)
            area = float(fit.campaign.seasons["area_after"][season])
            threshold = float(lake["threshold"])
            quantities = fit.quantities.isel(season=season)
            surplus_kg = (quantities["biomass_after"].values - threshold) * area
            surplus_fish = _surplus_fish(quantities, threshold * area, area)
            for wanted in WANTED:
                row: dict[str, object] = {
                    **fit.campaign.place(season),
                    "wanted_probability": wanted,
                }
                for unit, surplus in (("fish", surplus_fish), ("kg", surplus_kg)):
                    least = (np.nan, np.nan) if withheld else _least(surplus, wanted)
                    row[unit], row[f"{unit}_mc_error"] = least
                rows.append(row)
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _surplus_fish(quantities: xr.Dataset, threshold_kg: float, area: float) -> FloatArray:
    """Return draws of the fish to be removed to reach the threshold; negative if none need be."""
    weight = quantities["mean_weight_left"].values
    fish = quantities["biomass_after"].values * area / weight
    selectivity = selectivity_of(quantities)
    # Fish, by mean weight; an empty lake lacks as many as the threshold is worth.
    allowed = threshold_kg / weight
    share_left = allowed / np.maximum(fish, allowed)
    surplus: FloatArray = np.where(
        fish > allowed, fish * (1.0 - share_left ** (1.0 / selectivity)), fish - allowed
    )
    return surplus


def _least(surplus: FloatArray, wanted: float) -> tuple[float, float]:
    """Return the quantile and its Monte-Carlo standard error, both truncated at 0."""
    from arviz_stats.base import array_stats

    quantile = float(np.quantile(surplus, wanted))
    error = float(array_stats.mcse(surplus, method="quantile", prob=wanted))
    return max(0.0, quantile), (max(0.0, quantile + error) - max(0.0, quantile - error)) / 2.0
