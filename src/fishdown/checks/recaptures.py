"""Total recaptures: posterior predictive check of the recaptures of each season."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.tails import Statistic, judged

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.checks.result import CheckResult
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import IntArray

NAME = "total recaptures"


def total_recaptures(
    campaign: Campaign,
    lakes: DrawnLakes,
    anew: Callable[[int], IntArray],
    more: Callable[[int], IntArray] | None = None,
) -> CheckResult | None:
    """Compare the recaptures of each season with replicated totals, given the observed catches.

    Parameters
    ----------
    anew : callable
        The replicated recaptures of a season, by its position: `replicated_recaptures`.
    more : callable, optional
        The same by many more draws, for the most extreme seasons.

    Returns
    -------
    CheckResult or None
        None where no catch was examined for marks.
    """
    looks = lakes.data.counts.examined

    def statistic(season: int, drawn: IntArray) -> Statistic:
        observed = float(looks.recaptured[looks.season == season].sum())
        return Statistic(season, observed, drawn.sum(axis=1).astype(float))

    found = [statistic(season, anew(season)) for season in np.unique(looks.season).tolist()]
    again = None if more is None else lambda season: statistic(season, more(season))
    return judged(NAME, "fish", campaign, found, "recaptures", again=again)
