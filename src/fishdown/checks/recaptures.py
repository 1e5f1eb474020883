"""Total recaptures: posterior predictive check of the recaptures of each season."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.tails import Statistic, judged
from fishdown.posterior.replicates import recaptures_given_catches

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.checks.result import CheckResult
    from fishdown.posterior.at_draws import DrawnLakes

NAME = "total recaptures"


def total_recaptures(
    campaign: Campaign,
    lakes: DrawnLakes,
    rng: np.random.Generator,
    more: Callable[[], DrawnLakes] | None = None,
) -> CheckResult | None:
    """Compare the recaptures of each season with replicated totals, given the observed catches.

    Parameters
    ----------
    campaign : Campaign
    lakes : DrawnLakes
    rng : numpy.random.Generator
    more : callable, optional
        The lakes by many more draws, for the most extreme seasons.

    Returns
    -------
    CheckResult or None
        None where no catch was examined for marks.
    """
    looks = lakes.data.counts.examined

    def statistic(season: int, drawn: DrawnLakes) -> Statistic:
        anew = recaptures_given_catches(season, drawn, rng).sum(axis=1)
        observed = float(looks.recaptured[looks.season == season].sum())
        return Statistic(season, observed, anew.astype(float))

    found = [statistic(season, lakes) for season in np.unique(looks.season).tolist()]
    again = None if more is None else lambda season: statistic(season, more())
    return judged(NAME, "fish", campaign, found, "recaptures", again=again)
