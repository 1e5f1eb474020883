"""The verdict on each season: the probability that the lake is below its threshold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.intervals import low_median_high, named_points
from fishdown.models.parts.weights.measured import weight_origins
from fishdown.statements.cautions import caution
from fishdown.statements.on_the_day import at_area
from fishdown.statements.probability import probability_below, says
from fishdown.statements.uncertainty import uncertainty
from fishdown.units import label, shown, shown_in
from fishdown.words import amount, counted, likelihood_words, percent

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign

COLUMNS = (
    "lake", "season", "when", "area_ha", "threshold_kg_per_ha", "biomass_median_kg_per_ha",
    "biomass_low_kg_per_ha", "biomass_high_kg_per_ha", "probability_below", "mc_error", "words",
    "gate", "statement", "caution", "effective_marks_low", "effective_marks_median",
    "effective_marks_high", "share_from_marks", "share_from_weights", "share_from_counts",
    "probability_if_every_mark_counts", "flips_at_effective_marks", "flip_prior_probability",
    "next_measurement", "background"
)  # fmt: skip


def verdicts(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """State the probability that each lake is below its threshold, before and after netting.

    Parameters
    ----------
    fit : FittedCampaign
    despite_gate : bool
        Fill in what a failed gate would withhold; the statement then opens with a warning.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, two rows a season (`when` is ``before`` or ``after``). Intervals are
        equal-tailed and hold 90 %. ``mc_error`` is the Monte-Carlo standard error of the
        probability. Where the gate failed or nothing was weighed, the numbers are missing and the
        statement says why. ``caution`` states the untested assumptions behind the verdict, and is
        empty where there are none. The two rows of a year without netting are alike. The columns
        behind it are of `fishdown.statements.uncertainty`, after netting only, with ``background``
        in words. Sentences are in the units of the campaign, numbers in those of their columns.
    """
    rows = []
    with shown_in(fit.units):
        for season in range(fit.campaign.seasons.sizes["season"]):
            for when in ("before", "after"):
                rows.append(_row(fit, season, when, despite_gate=despite_gate))
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _row(fit: FittedCampaign, season: int, when: str, *, despite_gate: bool) -> dict[str, Any]:
    campaign = fit.campaign
    lake = campaign.lake_of(season)
    threshold = float(lake["threshold"])
    failure = fit.failure(season)
    row: dict[str, Any] = {
        **campaign.place(season),
        "when": when,
        "area_ha": float(campaign.seasons[f"area_{when}"][season]),
        "threshold_kg_per_ha": threshold,
        "gate": failure or "passed",
        "caution": "",
        "next_measurement": "",
        "background": "",
    }
    place = f"{row['lake']} in {row['season']}"
    if failure and not despite_gate:
        return {**row, "statement": f"Withheld for {place}: {failure}."}
    warning = f"WARNING, the gate failed ({failure}): " if failure else ""
    if not says(fit, f"biomass_{when}", season):
        return {**row, "statement": f"{warning}{_fish_only(fit, season, when, place)}"}
    draws = fit.quantities[f"biomass_{when}"].isel(season=season).values
    low, median, high = shown(low_median_high(draws), "kg/ha")
    probability, error = probability_below(draws, threshold)
    words = likelihood_words(probability)
    species = campaign.settings.species
    return {
        **row,
        **named_points("biomass_{}_kg_per_ha", draws),
        "probability_below": probability,
        "mc_error": error,
        "words": words,
        "caution": caution(fit, season, when),
        **(_background(fit, season) if when == "after" else {}),
        "statement": (
            f"{warning}{_held(fit, season, when, place)} {amount(median)} {label('kg/ha')} of "
            f"{species}{at_area(campaign, season, when)} (90 % interval {amount(low)} to "
            f"{amount(high)}); it is {words} ({percent(probability)}) that this is below the "
            f"threshold of {amount(shown(threshold, 'kg/ha'))} {label('kg/ha')}."
            f"{_borrowed(fit, season)}"
        ),
    }


def _background(fit: FittedCampaign, season: int) -> dict[str, Any]:
    found = uncertainty(fit, season)
    if found is None:
        return {}
    ends = ("low", "median", "high")
    return {
        **{
            f"effective_marks_{end}": value
            for end, value in zip(ends, found.effective, strict=True)
        },
        **{f"share_from_{source}": share for source, share in found.shares.items()},
        "probability_if_every_mark_counts": found.if_every_mark_counts,
        "flips_at_effective_marks": found.flips_at,
        "flip_prior_probability": found.flip_prior,
        "next_measurement": found.next_measurement,
        "background": found.sentence(),
    }


def _held(fit: FittedCampaign, season: int, when: str, place: str) -> str:
    if fit.campaign.season_pulls(season).sizes["pull"] == 0:
        return f"{place}, without netting, held"
    return f"{when.capitalize()} netting, {place} held"


def _fish_only(fit: FittedCampaign, season: int, when: str, place: str) -> str:
    draws = fit.quantities[f"abundance_{when}"].isel(season=season).values
    low, median, high = low_median_high(draws)
    reason = (
        "the model does not use weights" if fit.campaign.weighed[season] else "no fish was weighed"
    )
    return (
        f"{_held(fit, season, when, place)} {amount(median)} fish (90 % interval "
        f"{amount(low)} to {amount(high)}); {reason}, so biomass density ({label('kg/ha')}) "
        "cannot be estimated."
    )


def _borrowed(fit: FittedCampaign, season: int) -> str:
    origin = weight_origins(fit.campaign, fit.spec.parts)[season]
    others = fit.spec.part("pooling") == "lakes"
    match origin:
        case "lengths":
            mine = fit.campaign.fish["season_index"].values == season
            count = int(fit.campaign.fish["length"].notnull().values[mine].sum())
            source = f"is predicted from the lengths of {counted(count, 'fish', 'fish')}"
        case "years":
            source = "comes from the lake's other seasons"
            source += " and the other lakes" if others else ""
        case "lakes":
            source = "comes from the other lakes"
        case _:
            return ""
    return f" No fish was weighed here: the mean weight {source}."
