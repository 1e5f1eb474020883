"""Weights by date and by catch: posterior predictive checks of the fish that were weighed.

Growth, loss of weight, and nets that take some fish first make mean weights change in the course of
the season; schools of fish alike, and fish chosen for weighing, make them differ between catches.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.codes import Found
from fishdown.checks.tails import Statistic, judged
from fishdown.models.parts.weights.left import DAYS

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.checks.result import CheckResult
    from fishdown.posterior.weight_replicates import Weighed
    from fishdown.typing import FloatArray

BY_DATE, BY_CATCH = "weights by date", "weights by catch"


def weights_by_date(
    campaign: Campaign, weighed: Weighed, more: Callable[[], Weighed] | None = None
) -> CheckResult | None:
    """Compare the change of mean weight in each season with replicated weighings.

    Parameters
    ----------
    weighed : Weighed
        From `fishdown.posterior.weight_replicates.weighed_again`.
    more : callable, optional
        The same by many more draws, for the most extreme seasons.

    Returns
    -------
    CheckResult or None
        None where no season has fish weighed on two days.
    """

    def statistic(season: int, drawn: Weighed) -> Statistic:
        mine = drawn.of_season(season)
        weight = precision(mine)
        away = mine.days - np.average(mine.days, weights=weight)
        # Of generalised least squares, against time.
        by = weight * away / (weight * away**2).sum()

        def change(log_mean: FloatArray) -> FloatArray:
            return 100.0 * np.expm1(DAYS * (log_mean @ by))

        return Statistic(season, float(change(mine.log_mean)), change(mine.drawn))

    days = np.unique(np.stack([weighed.season, weighed.days]), axis=1)[0].astype(int)
    found = [statistic(one, weighed) for one in np.flatnonzero(np.bincount(days) > 1).tolist()]
    again = None if more is None else lambda season: statistic(season, more())
    return judged(
        BY_DATE, "%", campaign, found, "change of mean weight in 30 days", again=again,
        departures=(Found.FISH_LIGHTER_LATER, Found.FISH_HEAVIER_LATER), together=True,
    )  # fmt: skip


def weights_by_catch(
    campaign: Campaign, weighed: Weighed, more: Callable[[], Weighed] | None = None
) -> CheckResult | None:
    """Compare how much mean weights differ between catches with replicated weighings.

    Where they differ less than the model allows, its prior for the differences is too wide.

    Parameters
    ----------
    campaign, weighed, more
        As for `weights_by_date`.

    Returns
    -------
    CheckResult or None
        None where no season has fish weighed from two catches.
    """

    def statistic(season: int, drawn: Weighed) -> Statistic:
        mine = drawn.of_season(season)
        weight, expected = precision(mine), mine.expected.mean(axis=0)

        def chi_square(log_mean: FloatArray) -> FloatArray:
            off = log_mean - expected
            off = off - np.average(off, axis=-1, weights=weight)[..., None]
            return off**2 @ weight

        return Statistic(season, float(chi_square(mine.log_mean)), chi_square(mine.drawn))

    counted = np.bincount(weighed.season)
    found = [statistic(one, weighed) for one in np.flatnonzero(counted > 1).tolist()]
    again = None if more is None else lambda season: statistic(season, more())
    return judged(
        BY_CATCH, "", campaign, found, "chi-square of mean weights by catch",
        again=again, departures=(None, Found.WEIGHTS_DIFFER), together=True,
    )  # fmt: skip


def precision(weighed: Weighed) -> FloatArray:
    """Return 1 / variance of the logarithm of each mean weight about its expectation."""
    off = weighed.drawn - weighed.expected
    return 1.0 / np.maximum((off**2).mean(axis=0), 1e-12)
