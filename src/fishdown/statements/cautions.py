"""What a verdict takes on trust: assumptions that its records do not bear out, unchecked marks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.blind_spot import EASIER_WORDS, LOST_WORDS, biomass_if, blind_spot
from fishdown.intervals import low_median_high
from fishdown.posterior.prior_share import MUCH
from fishdown.statements.probability import probability_below, says
from fishdown.words import amount, likelihood_words, part_words, percent

if TYPE_CHECKING:
    from fishdown.posterior.fit import Fit


def caution(fit: Fit, season: int, when: str) -> str:
    """Say what a verdict takes on trust.

    That abundance is much as it was assumed beforehand, and what the verdict would be if the marks
    of a season misled unseen.

    Parameters
    ----------
    fit : Fit
    season : int
    when : {"before", "after"}
        Netting.

    Returns
    -------
    str
        Empty where the records tell the abundance, and the catches can check the marks or no
        marks are trusted (see `fishdown.checks.blind_spot`).
    """
    return f"{_assumed(fit, season)} {_on_marks(fit, season, when)}".strip()


def _assumed(fit: Fit, season: int) -> str:
    """Say how much of the uncertainty about abundance is the priors', where that is much."""
    if "told" not in fit.tree.children:
        return ""
    told = fit.tree["told"].dataset.isel(season=season)
    share, error = float(told["prior_share"]), float(told["mc_error"])
    if share < MUCH:
        return ""
    part = part_words(share)
    return (
        f"These records tell little of how many fish there were: {part} of the uncertainty "
        f"({percent(share)}, give or take {percent(error)}) is what was assumed beforehand about "
        "fish and nets."
    )


def _on_marks(fit: Fit, season: int, when: str) -> str:
    spot = blind_spot(fit, season)
    if spot is None or not says(fit, f"biomass_{when}", season):
        return ""
    if np.isnan(spot.noticed):
        opening = "no catches are there to check the marks"
    else:
        opening = (
            f"the catches are too vague to check the marks ({LOST_WORDS} of them lost would show "
            f"in {percent(spot.noticed)} of such seasons)"
        )
    return (
        f"This rests on the marks: {opening}. With {LOST_WORDS} of the marks lost, "
        f"{_then(fit, season, when, spot.fewer)}; with marked fish {EASIER_WORDS} easier to "
        f"catch than the others, {_then(fit, season, when, spot.more)}."
    )


def _then(fit: Fit, season: int, when: str, factor: float) -> str:
    """Say what would be left if the lake had held this many times as many fish."""
    lake = int(fit.campaign.seasons["lake_index"].values[season])
    left = biomass_if(fit.quantities.isel(season=season), factor, when)
    low, median, high = low_median_high(left)
    if median == 0.0:
        return "hardly any fish would be left"
    probability, _ = probability_below(left, float(fit.campaign.lakes["threshold"].values[lake]))
    return (
        f"it would be {amount(median)} kg/ha (90 % interval {amount(low)} to {amount(high)}), "
        f"{likelihood_words(probability)} ({percent(probability)}) to be below the threshold"
    )
