"""Additional removal needed for a given probability of being below the threshold."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.statements.probability import says

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

WANTED = (0.80, 0.90, 0.95)
COLUMNS = (
    "lake",
    "season",
    "wanted_probability",
    "fish",
    "fish_mc_error",
    "kg",
    "kg_mc_error",
)


def removals(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """Tabulate the additional removal needed after the last pull, in fish and kilograms.

    Removing x fish leaves N − x; the least x with P((N − x) w/A < threshold) ≥ p is the p-quantile
    of N − threshold·A/w (N fish, w their mean weight, A the lake's area), and likewise in kg.

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
            stay = fit.campaign.seasons.isel(season=season)
            withheld = bool(fit.failure(season)) and not despite_gate
            lake = fit.campaign.lakes.isel(lake=int(stay["lake_index"]))
            area, threshold = float(lake["area"]), float(lake["threshold"])
            quantities = fit.quantities.isel(season=season)
            surplus_kg = (quantities["biomass_after"].values - threshold) * area
            surplus_fish = surplus_kg / quantities["mean_weight"].values
            for wanted in WANTED:
                row: dict[str, object] = {
                    "lake": str(stay["lake"].values),
                    "season": str(stay["label"].values),
                    "wanted_probability": wanted,
                }
                for unit, surplus in (("fish", surplus_fish), ("kg", surplus_kg)):
                    least = (np.nan, np.nan) if withheld else _least(surplus, wanted)
                    row[unit], row[f"{unit}_mc_error"] = least
                rows.append(row)
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _least(surplus: FloatArray, wanted: float) -> tuple[float, float]:
    """Return the quantile and its Monte-Carlo standard error, both truncated at 0."""
    from arviz_stats.base import array_stats

    quantile = float(np.quantile(surplus, wanted))
    error = float(array_stats.mcse(surplus, method="quantile", prob=wanted))
    return max(0.0, quantile), (max(0.0, quantile + error) - max(0.0, quantile - error)) / 2.0
