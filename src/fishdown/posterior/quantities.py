"""The reported quantities, computed from the draws of the free variables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.models.parts import derived_quantities, parameters, unreported
from fishdown.models.parts.open_lake.present import RATES, OpenLake
from fishdown.models.parts.open_lake.times import of_ends
from fishdown.models.parts.weights.measured import weight_origins
from fishdown.models.whole_numbers import HALF_FISH
from fishdown.posterior.fish_weights import fish_weights

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.spec import ModelSpec
    from fishdown.typing import FloatArray

# Of what is drawn here, so that a quantity is the same whenever it is worked out.
_SEED = 1


@dataclass(frozen=True)
class Quantity:
    """What a reported quantity is.

    Attributes
    ----------
    meaning : str
        In the standard terms of the field; the netCDF long name.
    unit : str
        As people read it.
    cf_unit : str
        As netCDF readers parse it (UDUNITS).
    """

    meaning: str
    unit: str
    cf_unit: str


_OF_FISH: dict[str, Quantity] = {
    "abundance_before": Quantity("fish in the lake before the first pull", "fish", "count"),
    "abundance_after": Quantity("fish in the lake after the last pull", "fish", "count"),
    "removed_share": Quantity("share of the lake's fish that netting removed", "share", "1"),
    "density_before": Quantity("fish per hectare before the first pull", "fish/ha", "ha-1"),
    "density_after": Quantity("fish per hectare after the last pull", "fish/ha", "ha-1"),
    "catchability_at_reference": Quantity(
        "catchability: probability that a net's first pull of a season takes a given fish, at the "
        "reference temperature",
        "per pull",
        "1",
    ),
}
_OF_BIOMASS: dict[str, Quantity] = {
    "mean_weight": Quantity("mean weight of a fish in the lake before the first pull", "kg", "kg"),
    "mean_weight_left": Quantity(
        "mean weight of a fish in the lake after the last pull", "kg", "kg"
    ),
    "mean_weight_removed": Quantity("mean weight of a fish that netting removed", "kg", "kg"),
    "biomass_before": Quantity("biomass density before the first pull", "kg/ha", "kg ha-1"),
    "biomass_after": Quantity("biomass density after the last pull", "kg/ha", "kg ha-1"),
}


def common() -> tuple[str, ...]:
    """Return the parameters that all lakes share: reported as they are, without a season."""
    known = parameters().items()
    return tuple(name for name, one in known if one.label and one.by_lake is None)


def quantities() -> dict[str, Quantity]:
    """Return everything that can be reported, by name: of seasons, of lakes, of all."""
    of_parts = {
        name: Quantity(one.meaning, one.label, one.unit)
        for name, one in {**parameters(), **derived_quantities()}.items()
        if one.label
    }
    return {**_OF_FISH, **of_parts, **_OF_BIOMASS}


def reported_quantities(posterior: xr.Dataset, campaign: Campaign, spec: ModelSpec) -> xr.Dataset:
    """Derive every reported quantity that the model allows.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the free variables, dimensions (chain, draw, …).

    Returns
    -------
    xarray.Dataset
        Variables of `quantities`, dimensions (chain, draw, season), units and long names set.
        Those of `common` have no season. NaN where a quantity cannot be estimated: the biomass of a
        season without information on mean weight, see
        `fishdown.models.parts.weights.measured.weight_origins`.
    """
    seasons = campaign.seasons
    season_lake = xr.DataArray(seasons["lake_index"].values, dims="season")
    area = xr.DataArray(campaign.lakes["area"].values[season_lake.values], dims="season")
    # The water may have risen or fallen between the two.
    at_first, at_last = (
        xr.DataArray(seasons[f"area_{when}"].values, dims="season") for when in ("before", "after")
    )
    gone = xr.DataArray(seasons["gone"].values, dims="season")
    removed = np.bincount(
        campaign.pulls["season_index"].values,
        weights=campaign.pulls["removed"].values,
        minlength=seasons.sizes["season"],
    )
    before = _whole_fish(posterior["abundance"], gone)
    left = fish_left(before, posterior, campaign)
    after = left.copy(data=np.floor(left.values + HALF_FISH))
    found: dict[str, xr.DataArray] = {
        "abundance_before": before,
        "abundance_after": after,
        "removed_share": xr.DataArray(removed, dims="season") / np.maximum(before, 1.0),
        "density_before": before / at_first,
        "density_after": after / at_last,
    }
    if "catchability" in posterior:
        found["catchability_at_reference"] = posterior["catchability"].isel(lake=season_lake)
    elif "area_fished_ha" in posterior:
        fished = posterior["area_fished_ha"].isel(lake=season_lake)
        found["catchability_at_reference"] = xr.apply_ufunc(_taken, fished / area)
    not_reported = unreported(spec.parts)
    for name in derived_quantities():
        if name in posterior:
            found[name] = posterior[name]
    for name, parameter in parameters().items():
        if parameter.label and name in posterior and name not in not_reported:
            values = posterior[name]
            found[name] = values.isel(lake=season_lake) if "lake" in values.dims else values
    if spec.part("weights") == "measured":
        # Informed by neither its fish nor another season or lake, it would repeat the prior.
        told = np.array(weight_origins(campaign, spec.parts)) != "nothing"
        weights = fish_weights(posterior, before, campaign, spec)
        found |= {
            name: weight.where(xr.DataArray(told, dims="season"))
            for name, weight in weights.items()
        }
        found["biomass_before"] = before * found["mean_weight"] / at_first
        found["biomass_after"] = after * found["mean_weight_left"] / at_last
    dataset = xr.Dataset(
        {name: array.drop_vars("lake", errors="ignore") for name, array in found.items()}
    )
    dataset = dataset.transpose("chain", "draw", ...)
    known = quantities()
    for reported, array in dataset.data_vars.items():
        quantity = known[str(reported)]
        array.attrs.update(units=quantity.cf_unit, long_name=quantity.meaning)
    return dataset


def fish_left(before: xr.DataArray, posterior: xr.Dataset, campaign: Campaign) -> xr.DataArray:
    """Return the fish in each lake after the season's last pull.

    Parameters
    ----------
    before : xarray.DataArray
        Fish before the first pull, with the dimension season.
    posterior : xarray.Dataset
        With the rates at which fish die and immigrate, if the model has them.
    """
    gone = xr.DataArray(campaign.seasons["gone"].values, dims="season")
    rates = OpenLake(*map(posterior.get, RATES))
    left: xr.DataArray = rates.present(before, gone, of_ends(campaign).over("season"))
    error = campaign.seasons["moved_error"].values
    if error.any():
        # How many came or went by estimates is not known to the fish; the catches took the numbers
        # as written.
        noise = np.random.default_rng(_SEED).standard_normal(left.transpose(..., "season").shape)
        left = left + left.transpose(..., "season").copy(data=noise * error)
    return left.clip(min=0.0)


def fish_after_movements(left: FloatArray, campaign: Campaign, season: int) -> FloatArray:
    """Return the fish left when those have come and gone that did so after a season's netting.

    Parameters
    ----------
    left : ndarray
        Draws of the fish after the last pull.
    campaign : Campaign
    season : int
        Position of the season.
    """
    names = ("moved_after", "moved_after_error", "winterkill", "winterkill_error")
    moved, error, killed, killed_error = (float(campaign.seasons[n][season]) for n in names)
    rng = np.random.default_rng(_SEED)
    went = moved + error * rng.standard_normal(left.shape)
    alive = 1.0 - killed - killed_error * rng.standard_normal(left.shape)
    found: FloatArray = np.maximum(left - went, 0.0) * np.clip(alive, 0.0, 1.0)
    return found


def _whole_fish(abundance: xr.DataArray, gone: xr.DataArray) -> xr.DataArray:
    """Return the whole numbers of fish that the sampler's continuous ones stand for.

    Each stands for the stretch of half a fish to either side, so that the sampler may be half a
    fish below what was caught; a lake never holds fewer than were taken out of it.
    """
    nearest = abundance.copy(data=np.floor(abundance.values + HALF_FISH))
    return nearest.clip(min=gone.copy(data=np.ceil(gone.values)))


def _taken(hazard: FloatArray) -> FloatArray:
    """Probability that a pull of this hazard takes a given fish."""
    return -np.expm1(-hazard)
