"""Assumptions behind a verdict that its records do not support, and marks left untested."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.blind_spot import EASIER_WORDS, LOST_WORDS, biomass_if, blind_spot
from fishdown.intervals import INTERVAL, low_median_high
from fishdown.posterior.codes import FromPrior
from fishdown.posterior.prior_share import MUCH
from fishdown.posterior.quantities import quantities
from fishdown.records.tables import rows_of
from fishdown.sentences import Said
from fishdown.statements.probability import probability_below, says
from fishdown.units import label, shown
from fishdown.words import amount, likelihood_words, percent, percent_with_error

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign

# Identified, if at all, only by mark–recapture and depletion together; with more than this share
# of prior, they say next to nothing of it.
ELUSIVE, NEXT_TO_ALL = ("vulnerable", "mark_retention"), 0.95


def caution(fit: FittedCampaign, season: int, when: str) -> str:
    """State the untested assumptions behind a verdict.

    That is how far abundance rests on the priors, and what the verdict would be if the marks of a
    season were biased without the check noticing.

    Parameters
    ----------
    season : int
    when : {"before", "after"}
        Netting.

    Returns
    -------
    str
        Empty where the records determine abundance, and the catches can test the marks or no
        marks are taken at face value (see `fishdown.checks.blind_spot`).
    """
    return f"{_assumed(fit, season)} {_on_marks(fit, season, when)}".strip()


def _assumed(fit: FittedCampaign, season: int) -> str:
    """State the share of the uncertainty in abundance that the priors determine, if large."""
    if "told" not in fit.tree.children:
        return ""
    told = fit.tree["told"].dataset.isel(season=season)
    share, error = float(told["prior_share"]), float(told["mc_error"])
    if share < MUCH:
        return ""
    return str(Said(FromPrior.MUCH, {"share": share, "shown": percent_with_error(share, error)}))


def of_the_elusive(fit: FittedCampaign) -> list[str]:
    """State how much the prior determines of what marks and catches identify only together."""
    said = []
    table = fit.prior_shares()
    for row in rows_of(table[table["quantity"].isin(ELUSIVE)]):
        meaning = label(quantities()[row.quantity].meaning)
        low, high = fit.spec.priors[row.quantity].interval(INTERVAL)
        values = {
            "quantity": f"{meaning[:1].upper()}{meaning[1:]}",
            "share": row.prior_share,
            "shown": percent_with_error(row.prior_share, row.mc_error),
            "outside": not low <= float(fit.quantities[row.quantity].median()) <= high,
            "nothing": row.prior_share > NEXT_TO_ALL,
        }
        said.append(str(Said(FromPrior.ELUSIVE, values)))
    return said


def _on_marks(fit: FittedCampaign, season: int, when: str) -> str:
    spot = blind_spot(fit, season)
    if spot is None or not says(fit, f"biomass_{when}", season):
        return ""
    if np.isnan(spot.noticed):
        opening = "there are no catches to test the marks against"
    else:
        opening = (
            f"the catches are too uncertain to test the marks (if {LOST_WORDS} of the marks were "
            f"lost, they would show it in {percent(spot.noticed)} of such seasons)"
        )
    return (
        f"This statement relies on the marks: {opening}. If {LOST_WORDS} of the marks were lost, "
        f"{_then(fit, season, when, spot.fewer)}. If marked fish were {EASIER_WORDS} easier to "
        f"catch than unmarked fish, {_then(fit, season, when, spot.more)}."
    )


def _then(fit: FittedCampaign, season: int, when: str, factor: float) -> str:
    """State the biomass density if abundance before netting is multiplied by a factor."""
    area = float(fit.campaign.seasons["area_after"][season])
    left = biomass_if(fit.quantities.isel(season=season), factor, when, area)
    low, median, high = shown(low_median_high(left), "kg/ha")
    if median == 0.0:
        return "the lake would hold hardly any fish"
    probability, _ = probability_below(left, float(fit.campaign.lake_of(season)["threshold"]))
    return (
        f"the lake would hold {amount(median)} {label('kg/ha')} (90 % interval {amount(low)} to "
        f"{amount(high)}), which is {likelihood_words(probability)} ({percent(probability)}) to be "
        "below the threshold"
    )
