"""Comparison of lakes: the effect of partial pooling on each, and their order."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from fishdown import intervals
from fishdown.intervals import named_points
from fishdown.posterior.quantities import Quantity, quantities
from fishdown.statements.probability import probability_below
from fishdown.words import likelihood_words

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.posterior.quality import Quality
    from fishdown.typing import FloatArray

COMPARISON_COLUMNS = (
    "lake", "season", "quantity", "unit", "median", "low", "high", "alone_median", "alone_low",
    "alone_high", "narrower", "gate", "alone_gate"
)  # fmt: skip
PAIR_COLUMNS = (
    "quantity", "lake", "other", "probability_larger", "mc_error", "words", "gate"
)  # fmt: skip
DECREASE = "biomass_decrease"
COMPARED: dict[str, Quantity] = {
    name: quantities()[name]
    for name in ("catchability_at_reference", "temperature_effect", "removed_share", "mean_weight")
} | {DECREASE: Quantity("reduction of biomass density by netting", "kg/ha", "kg ha-1")}
_POINTS = ("low", "median", "high")
_NOT_FITTED = "not fitted separately"


def comparison(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """Tabulate the quantities compared between lakes, beside each lake's separate fit.

    Parameters
    ----------
    fit : FittedCampaign
        With ``compare_lakes`` the lakes were also fitted separately, see `fishdown.fit`.
    despite_gate : bool
        Fill in what a failed gate would withhold.

    Returns
    -------
    pandas.DataFrame
        Columns `COMPARISON_COLUMNS`, one row a lake and quantity of `COMPARED`, for the lake's last
        netted season. Intervals are equal-tailed and hold 90 %. ``narrower`` is the share by which
        pooling has narrowed the interval, negative where it widened. Numbers are missing where a
        gate failed, a quantity cannot be estimated, or the lakes were not fitted separately.
    """
    alone = fit.tree["alone"].dataset if "alone" in fit.tree.children else None
    rows, shrunk = [], _shrunk(fit.campaign)
    for lake, season in fit.campaign.last_seasons.items():
        failure = fit.failure(season)
        alone_failure = _NOT_FITTED if alone is None else str(alone["failure"].values[season])
        for name, quantity in COMPARED.items():
            draws = _draws(fit.quantities, name, season, shrunk[season])
            if draws is None:
                continue
            row: dict[str, Any] = {
                "lake": lake,
                "season": str(fit.campaign.seasons["label"].values[season]),
                "quantity": name,
                "unit": quantity.unit,
                "gate": failure or "passed",
                "alone_gate": alone_failure or "passed",
            }
            if not failure or despite_gate:
                row |= named_points("{}", draws)
            withheld = bool(failure or alone_failure) and not despite_gate
            if alone is not None and name in alone and not withheld:
                low, median, high = (float(x) for x in alone[name].values[season])
                row |= {"alone_low": low, "alone_median": median, "alone_high": high}
            if "low" in row and "alone_low" in row and row["alone_high"] > row["alone_low"]:
                width = row["alone_high"] - row["alone_low"]
                row["narrower"] = 1.0 - (row["high"] - row["low"]) / width
            rows.append(row)
    return pd.DataFrame(rows, columns=list(COMPARISON_COLUMNS))


def lake_pairs(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """State the probability that one lake exceeds another.

    Parameters
    ----------
    fit : FittedCampaign
    despite_gate : bool
        Fill in what a failed gate would withhold.

    Returns
    -------
    pandas.DataFrame
        Columns `PAIR_COLUMNS`, one row a quantity of `COMPARED` and pair of lakes, in their last
        netted seasons. ``probability_larger`` is P(lake > other), never 0 or 1, with its
        Monte-Carlo standard error; missing where the gate of either lake failed.
    """
    rows = []
    seasons, shrunk = fit.campaign.last_seasons, _shrunk(fit.campaign)
    for name in COMPARED:
        drawn = {
            lake: _draws(fit.quantities, name, season, shrunk[season])
            for lake, season in seasons.items()
        }
        told = [lake for lake, draws in drawn.items() if draws is not None]
        for lake, other in combinations(told, 2):
            failures = [
                f"{place}: {fit.failure(seasons[place])}"
                for place in (lake, other)
                if fit.failure(seasons[place])
            ]
            row: dict[str, Any] = {
                "quantity": name,
                "lake": lake,
                "other": other,
                "gate": "; ".join(failures) or "passed",
            }
            if not failures or despite_gate:
                probability, error = probability_below(drawn[other] - drawn[lake], 0.0)
                row |= {
                    "probability_larger": probability,
                    "mc_error": error,
                    "words": likelihood_words(probability),
                }
            rows.append(row)
    return pd.DataFrame(rows, columns=list(PAIR_COLUMNS))


def intervals_alone(quantities: xr.Dataset, quality: Quality, campaign: Campaign) -> xr.Dataset:
    """Return the intervals of separate fits of each lake, as `comparison` shows them.

    Parameters
    ----------
    quantities : xarray.Dataset
        Draws of the reported quantities, dimensions (chain, draw, season).
    campaign : Campaign
        Of these seasons.

    Returns
    -------
    xarray.Dataset
        The quantities of `COMPARED` that were fitted, dimensions (season, point); ``failure``
        (season), the reason why a season's numbers are withheld, empty where they are not.
    """
    count, shrunk = quantities.sizes["season"], _shrunk(campaign)
    found: dict[str, Any] = {}
    for name, quantity in COMPARED.items():
        drawn = [_draws(quantities, name, season, shrunk[season]) for season in range(count)]
        if all(draws is None for draws in drawn):
            continue
        points = [
            np.full(len(_POINTS), np.nan) if draws is None else np.quantile(draws, intervals.POINTS)
            for draws in drawn
        ]
        label = {
            "units": quantity.cf_unit,
            "long_name": f"{quantity.meaning}, separate fit of each lake",
        }
        found[name] = (("season", "point"), np.stack(points), label)
    failures = np.array([quality.failure(season) for season in range(count)], dtype=np.str_)
    found["failure"] = ("season", failures, {"long_name": "why the numbers must be withheld"})
    return xr.Dataset(found, coords={"season": quantities["season"].values, "point": list(_POINTS)})


def _shrunk(campaign: Campaign) -> FloatArray:
    """Return each season's area at its first pull over that at its last, shape (season,)."""
    found: FloatArray = (
        campaign.seasons["area_before"].values / campaign.seasons["area_after"].values
    )
    return found


def _draws(quantities: xr.Dataset, name: str, season: int, shrunk: float) -> Any:
    """Return the draws of one season, shape (chain, draw), or None if it is not estimated."""
    if name == DECREASE:
        before, after = (
            _draws(quantities, f"biomass_{when}", season, shrunk) for when in ("before", "after")
        )
        # By netting, not by water that rose or fell: both at the area at the last pull.
        return None if before is None or after is None else before * shrunk - after
    if name not in quantities:
        return None
    draws = quantities[name].isel(season=season)
    return draws.values if bool(draws.notnull().all()) else None
