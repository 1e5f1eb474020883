"""Decline of catches in the season: posterior predictive check of its size."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.replay import season_anew
from fishdown.checks.tails import Statistic, judged

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.checks.result import CheckResult
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import FloatArray

NAME = "first half to second half"


def drop_of_catches(
    campaign: Campaign,
    lakes: DrawnLakes,
    rng: np.random.Generator,
    more: Callable[[], DrawnLakes] | None = None,
) -> CheckResult | None:
    """Compare the decline of catches from first to second half with replicated seasons.

    Parameters
    ----------
    more : callable, optional
        The lakes by many more draws, for the most extreme seasons.

    Returns
    -------
    CheckResult or None
        None where no season has two valid pulls.
    """
    data = lakes.data

    def statistic(season: int, drawn: DrawnLakes) -> Statistic:
        caught = data.catches.caught[data.catches.season == season]
        anew = season_anew(campaign, season, drawn, rng).astype(float)
        return Statistic(season, float(second_share(caught)), second_share(anew))

    pulls = np.bincount(data.catches.season, minlength=campaign.seasons.sizes["season"])
    fish = np.bincount(data.catches.season, data.catches.caught, len(pulls))
    found = [
        statistic(season, lakes) for season in np.flatnonzero((pulls > 1) & (fish > 0)).tolist()
    ]
    what = "share of the catch in the second half of the pulls"
    again = None if more is None else lambda season: statistic(season, more())
    return judged(NAME, "%", campaign, found, what, again=again)


def second_share(caught: FloatArray) -> FloatArray:
    """Return the mean catch of the second half as % of the sum of both halves' means.

    Parameters
    ----------
    caught : ndarray, shape (…, pull)
        In time order; the middle pull of an odd number counts with the second half.

    Returns
    -------
    ndarray, shape (…)
        Between 0 and 100; 50 if catches do not decline, or if nothing was caught.
    """
    half = caught.shape[-1] // 2
    first, second = caught[..., :half].mean(axis=-1), caught[..., half:].mean(axis=-1)
    both = first + second
    return np.where(both > 0, 100.0 * second / np.where(both > 0, both, 1.0), 50.0)
