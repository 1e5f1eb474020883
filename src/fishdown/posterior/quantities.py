"""The reported quantities, computed from the draws of the free variables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from fishdown.models.ledger import HALF_FISH
from fishdown.models.measured import weight_origins

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
        In the standard terms of the field; the netCDF long name.
    unit : str
        As people read it.
    cf_unit : str
        As netCDF readers parse it (UDUNITS).
    """

    meaning: str
    unit: str
    cf_unit: str


# Common to all lakes of a campaign: reported as they are, without a season.
COMMON = (
    "schooling",
    "reach",
    "marks_kept",
    "clip_kept",
    "tag_kept",
    "marking_survival",
    "marked_odds",
    "clumping",
    "survival",
    "marks_over_winter",
    "recruit_variation",
    "young_eaten_effect",
    "process_error",
    "exchange",
    "outside_density",
    "season_spread",
    "net_spread",
    "mesh_effect",
    "later_pulls",
    "rest_loss",
    "rest_recovery",
    "bait_start",
    "bait_build_up",
    "length_exponent",
)

QUANTITIES: dict[str, Quantity] = {
    "abundance_before": Quantity("fish in the lake before the first pull", "fish", "count"),
    "abundance_after": Quantity("fish in the lake after the last pull", "fish", "count"),
    "removed_share": Quantity("share of the lake's fish that netting removed", "share", "1"),
    "density_before": Quantity("fish per hectare before the first pull", "fish/ha", "ha-1"),
    "density_after": Quantity("fish per hectare after the last pull", "fish/ha", "ha-1"),
    "catchability_at_reference": Quantity(
        "catchability: probability that one pull takes a given fish, at the reference temperature",
        "per pull",
        "1",
    ),
    "temperature_effect": Quantity(
        "catchability ratio for 10 °C of cooling below the reference temperature",
        "ratio per 10 °C of cooling",
        "1",
    ),
    "threshold_temperature": Quantity(
        "water temperature at which catchability is half of its warm-water value",
        "°C",
        "degree_Celsius",
    ),
    "reach": Quantity("proportion of the fish vulnerable to the gear", "share", "1"),
    "marks_kept": Quantity(
        "mark retention and detection: share of the marks detected at the first pull", "share", "1"
    ),
    "clip_kept": Quantity(
        "probability that a fin clip is retained and detected at a recapture", "share", "1"
    ),
    "tag_kept": Quantity(
        "probability that a tag is retained and read at a recapture", "share", "1"
    ),
    "marking_survival": Quantity(
        "post-release survival of marked fish, beyond recorded deaths",
        "share",
        "1",
    ),
    "marked_odds": Quantity("capture odds ratio, marked to unmarked fish", "odds ratio", "1"),
    "clumping": Quantity(
        "variation between pulls of the share of marked fish caught, beyond that of all fish",
        "coefficient of variation",
        "1",
    ),
    "survival": Quantity("survival of fish from one season to the next", "share", "1"),
    "marks_over_winter": Quantity(
        "mark retention over winter, of surviving marked fish", "share", "1"
    ),
    "recruits": Quantity(
        "recruitment: young fish that join the stock in a year", "fish/ha a year", "ha-1 year-1"
    ),
    "recruit_variation": Quantity(
        "variation of a lake's recruitment from year to year", "coefficient of variation", "1"
    ),
    "young_eaten_effect": Quantity(
        "recruitment ratio with abundant egg and fry predators to without", "ratio", "1"
    ),
    "process_error": Quantity(
        "process error of abundance from year to year", "log standard deviation", "1"
    ),
    "exchange": Quantity(
        "share of a connected lake's fish exchanged with other waters in a year", "share", "1"
    ),
    "outside_density": Quantity("fish density of connected waters", "fish/ha", "ha-1"),
    "season_spread": Quantity(
        "spread of catchability between seasons of a lake", "log standard deviation", "1"
    ),
    "net_spread": Quantity(
        "spread of catchability between nets of a lake", "log standard deviation", "1"
    ),
    "mesh_effect": Quantity(
        "catchability ratio for a doubling of mesh size", "ratio per doubling", "1"
    ),
    "later_pulls": Quantity(
        "catchability ratio of a net's later pulls to its first pull of a season", "ratio", "1"
    ),
    "rest_loss": Quantity(
        "share of catchability lost by a net that is pulled again at once", "share", "1"
    ),
    "rest_recovery": Quantity(
        "time constant of net recovery (days until that loss falls to 37 %)", "days", "d"
    ),
    "bait_start": Quantity(
        "catchability of a net without bait, as a share of its full catchability", "share", "1"
    ),
    "bait_build_up": Quantity(
        "time constant of baiting (days until the shortfall is 37 %)", "days", "d"
    ),
    "schooling": Quantity(
        "variation between pulls of the share of fish caught",
        "coefficient of variation",
        "1",
    ),
    "mean_weight": Quantity("mean weight of a fish", "kg", "kg"),
    "length_exponent": Quantity("exponent of the weight–length relationship", "exponent", "1"),
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
        Those of `COMMON` have no season. NaN where a quantity cannot be estimated: the biomass of a
        season without information on mean weight, see `fishdown.models.measured.weight_origins`.
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
    before = _whole_fish(posterior["abundance"], gone)
    found: dict[str, xr.DataArray] = {
        "abundance_before": before,
        "abundance_after": before - gone,
        "removed_share": xr.DataArray(removed, dims="season") / np.maximum(before, 1.0),
        "density_before": before / area,
        "density_after": (before - gone) / area,
    }
    if "catchability" in posterior:
        found["catchability_at_reference"] = posterior["catchability"].isel(lake=season_lake)
    elif "cleared_ha" in posterior:
        cleared = posterior["cleared_ha"].isel(lake=season_lake)
        found["catchability_at_reference"] = xr.apply_ufunc(_taken, cleared / area)
    by_lake = ("temperature_effect", "threshold_temperature", "recruits")
    found |= {name: posterior[name].isel(lake=season_lake) for name in by_lake if name in posterior}
    found |= {name: posterior[name] for name in COMMON if name in posterior}
    if spec.part("weights") == "measured":
        weight = posterior["mean_weight"]
        # Informed by neither its fish nor another season or lake, it would repeat the prior.
        told = np.array(weight_origins(campaign, spec)) != "nothing"
        weight = weight.where(xr.DataArray(told, dims="season"))
        found["mean_weight"] = weight
        found["biomass_before"] = before * weight / area
        found["biomass_after"] = (before - gone) * weight / area
    dataset = xr.Dataset(
        {name: array.drop_vars("lake", errors="ignore") for name, array in found.items()}
    )
    dataset = dataset.transpose("chain", "draw", ...)
    for name, array in dataset.data_vars.items():
        quantity = QUANTITIES[str(name)]
        array.attrs.update(units=quantity.cf_unit, long_name=quantity.meaning)
    return dataset


def _whole_fish(abundance: xr.DataArray, gone: xr.DataArray) -> xr.DataArray:
    """Return the whole numbers of fish that the sampler's continuous ones stand for.

    Each stands for the stretch of half a fish to either side, so that the sampler may be half a
    fish below what was caught; a lake never holds fewer than were taken out of it.
    """
    nearest = abundance.copy(data=np.floor(abundance.values + HALF_FISH))
    return nearest.clip(min=gone.copy(data=np.ceil(gone.values)))


def _taken(hazard: FloatArray) -> FloatArray:
    """Probability that a pull of this hazard takes a given fish."""
    taken: FloatArray = -np.expm1(-hazard)
    return taken
