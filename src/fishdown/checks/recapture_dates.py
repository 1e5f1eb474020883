"""Recaptures by date: posterior predictive check of when in the season marked fish are recaptured.

Where unmarked fish immigrate or marks are shed, the share of marked fish in the catches falls, and
recaptures come early for the catches there were; where trap-shyness wears off they come late.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.codes import Found
from fishdown.checks.tails import Statistic, judged
from fishdown.models.parts.marks.release_groups import examined_pulls

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.checks.result import CheckResult
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import FloatArray, IntArray

NAME = "recaptures by date"
DEPARTURES = (Found.MARKED_SHARE_FALLS, Found.MARKED_SHARE_RISES)


def recaptures_by_date(
    campaign: Campaign,
    lakes: DrawnLakes,
    anew: Callable[[int], IntArray],
    more: Callable[[int], IntArray] | None = None,
) -> CheckResult | None:
    """Compare the mean day of the recaptures of each season with replicated ones.

    Parameters
    ----------
    campaign, lakes, anew, more
        As for `fishdown.checks.recaptures.total_recaptures`.

    Returns
    -------
    CheckResult or None
        None where no season has recaptures and catches examined for marks on two days.
    """
    looks = lakes.data.counts.examined
    days = campaign.pulls["date"].values[examined_pulls(campaign)].astype("datetime64[D]")

    def statistic(season: int, drawn: IntArray) -> Statistic:
        mine = looks.season == season
        day = (days[mine] - days[mine].min()).astype(float)
        return Statistic(season, *mean_day(looks.recaptured[mine], drawn, day))

    seasons = np.unique(looks.season[looks.recaptured > 0]).tolist()
    found = [
        statistic(season, anew(season))
        for season in seasons
        if len(np.unique(days[looks.season == season])) > 1
    ]
    what = "mean time from the first catch examined to recapture"
    again = None if more is None else lambda season: statistic(season, more(season))
    return judged(
        NAME, "days", campaign, found, what, again=again, departures=DEPARTURES, together=True
    )


def mean_day(observed: FloatArray, drawn: IntArray, day: FloatArray) -> tuple[float, FloatArray]:
    """Return the mean day of recaptures, as observed and as drawn.

    The score statistic of a log-linear change of the share of marked fish, given the catches and
    the total of recaptures, up to constants.

    Parameters
    ----------
    observed : ndarray, shape (catch,)
        Recaptures, at least one.
    drawn : ndarray of int, shape (draw, catch)
    day : ndarray, shape (catch,)

    Returns
    -------
    float, and ndarray of shape (draw,)
        Draws without any recapture have the mean over all draws.
    """
    total = drawn.sum(axis=1)
    usual = float((drawn @ day).sum() / max(int(total.sum()), 1))
    anew = np.where(total > 0, drawn @ day / np.maximum(total, 1), usual)
    return float(observed @ day / observed.sum()), anew
