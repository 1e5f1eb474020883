"""Runs of catches: catches that are high or low several pulls, or several nights, in a row.

The autocorrelation at lag 1 of randomised quantile residuals (Dunn & Smyth 1996, Journal of
Computational and Graphical Statistics 5:236–244, citation from memory), pull by pull or of their
means by night. Nights and drift are drawn anew in the replicates: those that were fitted follow the
catches, and would explain any run.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from fishdown.checks.codes import Found
from fishdown.checks.tails import Statistic, judged
from fishdown.models.pull_table import by_night

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.checks.result import CheckResult
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import FloatArray, IntArray

PULLS, NIGHTS = "runs of pulls", "runs of nights"
# Where catches run less than the model allows, nights and drift are smaller than their priors.
DEPARTURES = (None, Found.CATCHES_IN_RUNS)
# Of fewer the correlation says nothing (our judgement, no source).
FEWEST = 4


def runs_of_pulls(
    campaign: Campaign,
    lakes: DrawnLakes,
    drawn: IntArray,
    rng: np.random.Generator,
    again: Callable[[], IntArray] | None = None,
) -> CheckResult | None:
    """Compare the correlation of each catch with the next one with replicated seasons.

    Parameters
    ----------
    drawn : ndarray of int, shape (draw, pull)
        Catches given those before them, nights and drift drawn anew.
    rng : numpy.random.Generator
        Breaks ties.
    again : callable, optional
        The same by many more draws, for the most extreme seasons.

    Returns
    -------
    CheckResult or None
        None where no season has four valid pulls.
    """
    season = lakes.data.catches.season
    place = np.arange(len(season))
    what = "correlation between residuals of successive pulls"
    return _judged(PULLS, what, campaign, lakes, place, drawn, rng, again)


def runs_of_nights(
    campaign: Campaign,
    lakes: DrawnLakes,
    drawn: IntArray,
    rng: np.random.Generator,
    again: Callable[[], IntArray] | None = None,
) -> CheckResult | None:
    """Compare the correlation of each night's catches with the next night's.

    Parameters
    ----------
    campaign, lakes, drawn, rng, again
        As for `runs_of_pulls`.

    Returns
    -------
    CheckResult or None
        None where no season has four nights, or where each has one pull: `runs_of_pulls` sees them.
    """
    night = by_night(lakes.data.pulls)[1]
    if len(np.unique(night)) == len(night):
        return None
    what = "correlation between mean residuals of successive nights"
    return _judged(NIGHTS, what, campaign, lakes, night, drawn, rng, again)


def _judged(
    name: str,
    what: str,
    campaign: Campaign,
    lakes: DrawnLakes,
    group: IntArray,
    drawn: IntArray,
    rng: np.random.Generator,
    again: Callable[[], IntArray] | None,
) -> CheckResult | None:
    season, caught = lakes.data.catches.season, lakes.data.catches.caught

    def statistic(one: int, drawn: IntArray) -> Statistic:
        mine = np.flatnonzero(season == one)
        observed, anew = normal_scores(caught[mine], drawn[:, mine], rng)
        # Nights are numbered by lake and date, which is time order within a season.
        _, first, pulls = np.unique(group[mine], return_index=True, return_counts=True)

        def in_a_row(scores: FloatArray) -> FloatArray:
            return autocorrelation(np.add.reduceat(scores, first, axis=-1) / pulls)

        return Statistic(one, float(in_a_row(observed)), in_a_row(anew))

    places = np.unique(np.stack([season, group]), axis=1)[0]
    enough = np.flatnonzero(np.bincount(places) >= FEWEST).tolist()
    found = [statistic(one, drawn) for one in enough]
    more = None if again is None else lambda one: statistic(one, again())
    return judged(name, "", campaign, found, what, again=more, departures=DEPARTURES, together=True)


def normal_scores(
    observed: FloatArray, drawn: IntArray, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Return randomised quantile residuals of numbers among draws, and of each draw among all.

    Parameters
    ----------
    observed : ndarray, shape (number,)
    drawn : ndarray of int, shape (draw, number)

    Returns
    -------
    ndarrays, shapes (number,) and (draw, number)
        Standard normal where observed and drawn numbers have one distribution.
    """
    # Ties are broken by a random fraction of one fish.
    all_of_them = np.vstack([observed, drawn]) + rng.uniform(size=(len(drawn) + 1, len(observed)))
    rank = all_of_them.argsort(axis=0).argsort(axis=0)
    scores: FloatArray = stats.norm.ppf((rank + 0.5) / len(rank))
    return scores[0], scores[1:]


def autocorrelation(scores: FloatArray) -> FloatArray:
    """Return the autocorrelation at lag 1, shape (…), of numbers, shape (…, number).

    0 where all numbers are equal.
    """
    off = scores - scores.mean(axis=-1, keepdims=True)
    squares = (off**2).sum(axis=-1)
    products = (off[..., 1:] * off[..., :-1]).sum(axis=-1)
    return np.where(squares > 0, products / np.where(squares > 0, squares, 1.0), 0.0)
