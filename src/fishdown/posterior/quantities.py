"""The reported quantities, computed from the draws of the free variables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray


@dataclass(frozen=True)
class Quantity:
    """What a reported quantity is.

    Attributes
    ----------
    meaning : str
        In the words of the trade; the netCDF long name.
    unit : str
        As people read it.
    cf_unit : str
        As netCDF readers parse it (UDUNITS).
    """

    meaning: str
    unit: str
    cf_unit: str


QUANTITIES: dict[str, Quantity] = {
    "abundance_before": Quantity("fish in the lake before the first pull", "fish", "count"),
    "abundance_after": Quantity("fish in the lake after the last pull", "fish", "count"),
    "removed_share": Quantity("share of the lake's fish that netting removed", "share", "1"),
    "density_before": Quantity("fish per hectare before the first pull", "fish/ha", "ha-1"),
    "density_after": Quantity("fish per hectare after the last pull", "fish/ha", "ha-1"),
    "catchability_at_reference": Quantity(
        "probability that one pull takes a given fish, at the reference temperature",
        "per pull",
        "1",
    ),
    "temperature_effect": Quantity(
        "what is left of catchability 10 °C below the reference temperature",
        "factor per 10 °C colder",
        "1",
    ),
    "schooling": Quantity(
        "coefficient of variation, from pull to pull, of the share that a pull takes",
        "coefficient of variation",
        "1",
    ),
    "mean_weight": Quantity("mean weight of a fish", "kg", "kg"),
    "biomass_before": Quantity("biomass density before the first pull", "kg/ha", "kg ha-1"),
    "biomass_after": Quantity("biomass density after the last pull", "kg/ha", "kg ha-1"),
}


def reported_quantities(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> xr.Dataset:
    """Derive every reported quantity that the model allows.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the free variables, dimensions (chain, draw, …).
    campaign : Campaign
    spec : ModelSpec
        The model as it was fitted.

    Returns
    -------
    xarray.Dataset
        Variables of `QUANTITIES`, dimensions (chain, draw, season), units and long names set.
        ``schooling``, common to all lakes, has no season.
    """
    seasons = campaign.seasons
    season_lake = xr.DataArray(seasons["lake_index"].values, dims="season")
    area = xr.DataArray(campaign.lakes["area"].values[season_lake.values], dims="season")
    gone = xr.DataArray(seasons["gone"].values, dims="season")
    removed = np.bincount(
        campaign.pulls["season_index"].values,
        weights=campaign.pulls["removed"].values,
        minlength=seasons.sizes["season"],
    )
    before = posterior["abundance"]
    found: dict[str, xr.DataArray] = {
        "abundance_before": before,
        "abundance_after": before - gone,
        "removed_share": xr.DataArray(removed, dims="season") / before,
        "density_before": before / area,
        "density_after": (before - gone) / area,
    }
    if "catchability" in posterior:
        found["catchability_at_reference"] = posterior["catchability"].isel(lake=season_lake)
    elif "cleared_ha" in posterior:
        cleared = posterior["cleared_ha"].isel(lake=season_lake)
        found["catchability_at_reference"] = xr.apply_ufunc(_taken, cleared / area)
    if "temperature_effect" in posterior:
        found["temperature_effect"] = posterior["temperature_effect"].isel(lake=season_lake)
    if "schooling" in posterior:
        found["schooling"] = posterior["schooling"]
    if spec.part("weights") == "measured":
        found["mean_weight"] = posterior["mean_weight"]
        found["biomass_before"] = before * posterior["mean_weight"] / area
        found["biomass_after"] = (before - gone) * posterior["mean_weight"] / area
    dataset = xr.Dataset(
        {name: array.drop_vars("lake", errors="ignore") for name, array in found.items()}
    )
    for name, array in dataset.data_vars.items():
        quantity = QUANTITIES[str(name)]
        array.attrs.update(units=quantity.cf_unit, long_name=quantity.meaning)
    return dataset


def _taken(hazard: FloatArray) -> FloatArray:
    """Probability that a pull of this hazard takes a given fish."""
    taken: FloatArray = -np.expm1(-hazard)
    return taken
