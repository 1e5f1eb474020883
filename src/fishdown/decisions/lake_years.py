"""One lake of a fit as the projection takes it: its fish, their rates, the young to be expected."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.projection import Stock
from fishdown.decisions.rates import EFFECT
from fishdown.decisions.recruitment import CHANCE, COMPENSATION, SHAPE, SIZE, strong_years
from fishdown.decisions.years_words import STRONG
from fishdown.models.parts.years.transition import replaced
from fishdown.posterior.quantities import fish_after_movements
from fishdown.statements.probability import says

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.decisions.rates import Rates
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray


def replacement_of(fit: FittedCampaign, found: Rates, lake: int) -> FloatArray | None:
    """Return the recruits' ratio to the natural deaths at the lake's level, if a prior's alone."""
    if found.origins["recruits"] != "prior":
        return None
    deaths = replaced(found.survival[..., lake], found.level[..., lake])
    ratio: FloatArray = average_recruits(fit, found, lake, "open") / deaths
    return ratio


def stock_of(
    fit: FittedCampaign,
    found: Rates,
    lake: int,
    season: int,
    steps: FloatArray,
    used: Sequence[str] = (),
) -> Stock:
    """Return a lake at the end of its last season, and what drives it.

    Parameters
    ----------
    steps : ndarray
        As in `Stock`.
    used : sequence of str
        Which of `fishdown.decisions.recruitment.OPTIONAL` are used.
    """
    place = fit.campaign.lakes.isel(lake=lake)
    before, after = (
        fit.quantities[f"abundance_{when}"].isel(season=season).values
        for when in ("before", "after")
    )
    fish = fish_after_movements(after, fit.campaign, season)
    told = says(fit, "mean_weight_left", season)
    weight = (
        fit.quantities["mean_weight_left"].isel(season=season).values if told else fish * np.nan
    )
    # The lake's own weight is that before its first netting on record.
    first = int(np.flatnonzero(fit.campaign.seasons["lake_index"].values == lake)[0])
    weighed = first if says(fit, "mean_weight", first) else season
    own = fit.quantities["mean_weight"].isel(season=weighed).values if told else weight
    connected = float(place["connected"])
    return Stock(
        fish=np.maximum(fish, 0.0),
        weight=weight,
        own_weight=own,
        growth=found.draws["growth"],
        young_weight=found.draws["young_weight"],
        area=float(fit.campaign.seasons["area_after"][season]),
        survival=found.survival[..., lake],
        winter_spread=found.draws["winter_spread"],
        recruit_variation=found.draws["recruit_variation"],
        process_error=found.draws["process_error"],
        exchange=connected * found.draws["exchange"],
        outside_fish=connected * found.draws["outside_ratio"] * found.level[..., lake],
        steps=steps,
        level=found.level[..., lake],
        netted=np.clip(1.0 - after / before, 0.0, 1.0),
        stock_shape=found.draws[SHAPE] if SHAPE in used else None,
        compensation=found.draws[COMPENSATION] if COMPENSATION in used else None,
    )


def average_recruits(fit: FittedCampaign, found: Rates, lake: int, scenario: str) -> FloatArray:
    """Return the recruits of an average year at the lake's level, fish, shape (chain, draw)."""
    usual = float(fit.campaign.lakes["area"][lake])
    young: FloatArray = found.recruits[..., lake] * usual
    return young * found.draws[EFFECT] if scenario == "eaten" else young


def young_of(
    average: FloatArray, found: Rates, scenario: str, years: int, luck: np.random.Generator
) -> FloatArray:
    """Return the recruits to be expected in each year, fish, shape (year, chain, draw).

    Parameters
    ----------
    average : ndarray, shape (chain, draw)
        From `average_recruits`.
    luck : numpy.random.Generator
        Of strong years.
    """
    young = np.repeat(average[None], years, axis=0)
    if scenario == "strong-year":
        young[0] *= STRONG
    elif scenario == "strong-years":
        young *= strong_years(found.draws[CHANCE], found.draws[SIZE], years, luck)
    return young
