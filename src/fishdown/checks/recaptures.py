"""Total recaptures: whether as many marked fish came up as the fit would have it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.replay import recaptures_given_catches
from fishdown.checks.tails import Statistic, judged

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.checks.result import CheckResult
    from fishdown.posterior.at_draws import DrawnLakes

NAME = "total recaptures"


def total_recaptures(
    campaign: Campaign, lakes: DrawnLakes, rng: np.random.Generator
) -> CheckResult | None:
    """Hold the recaptures of each season against totals drawn given the real catches.

    Parameters
    ----------
    campaign : Campaign
    lakes : DrawnLakes
    rng : numpy.random.Generator

    Returns
    -------
    CheckResult or None
        None where no season has marks that were looked for.
    """
    looks = lakes.data.counts.examined
    found = []
    for season in np.unique(looks.season):
        drawn = recaptures_given_catches(int(season), lakes, rng).sum(axis=1)
        observed = float(looks.recaptured[looks.season == season].sum())
        found.append(Statistic(int(season), observed, drawn.astype(float)))
    return judged(NAME, "fish", campaign, found, "recaptures") if found else None
