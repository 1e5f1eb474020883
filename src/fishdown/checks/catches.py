"""Catch by pull: posterior predictive check of each catch, given the pulls before it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy import stats

from fishdown.checks.codes import Found
from fishdown.checks.result import FALSE_ALARM, CheckResult, Outcome
from fishdown.intervals import INTERVAL, POINTS
from fishdown.sentences import Said

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import IntArray

NAME = "catch by pull"


def catch_by_pull(campaign: Campaign, lakes: DrawnLakes, drawn: IntArray) -> CheckResult:
    """Compare each catch with its posterior predictive band, given the observed catches before it.

    Passed unless more catches lie outside their 90 % band than chance allows: binomial tail below
    0.01. With so few catches that all may lie outside by chance there is no pass mark. The
    posterior has used the catches, which makes the check slightly conservative.

    Parameters
    ----------
    drawn : ndarray of int, shape (draw, pull)
        From `replicates.catches_given_past`.
    """
    data = lakes.data
    low, median, high = np.quantile(drawn, POINTS, axis=0, method="inverted_cdf")
    outside = (data.catches.caught < low) | (data.catches.caught > high)
    speaks = ~campaign.pulls["spoiled"].values
    table = pd.DataFrame(
        {
            "lake": campaign.seasons["lake"].values[data.catches.season],
            "season": campaign.seasons["label"].values[data.catches.season],
            "date": campaign.pulls["date"].values[speaks],
            "net": campaign.pulls["net"].values[speaks],
            "caught_fish": data.catches.caught,
            "low_fish": low,
            "median_fish": median,
            "high_fish": high,
            "inside": ~outside,
        }
    )
    count = int(outside.sum())
    # A band of whole fish holds a little more than 90 %.
    allowed = allowed_outside(len(outside))
    outcome: Outcome = "passed" if count <= allowed else "not passed"
    few = allowed == len(outside)
    if few:
        outcome = "for information"
    counts = {"outside": count, "catches": len(outside), "allowed": allowed, "few": few}

    def draw(axes: Any) -> None:
        place = np.arange(len(table))
        axes.fill_between(place, low, high, alpha=0.25, step="mid", label="90 % band")
        axes.plot(place, median, linewidth=1.0, label="median")
        for which, colour, marker, words in (
            (~outside, "black", "o", "caught"),
            (outside, "C3", "D", "outside the band"),
        ):
            axes.scatter(
                place[which], data.catches.caught[which], s=9, c=colour, marker=marker, label=words
            )
        axes.set(xlabel="pull, in time order within each season", ylabel="catch, fish")
        axes.set_ylim(0.0, 1.35 * max(axes.get_ylim()[1], 1.0))
        axes.legend(loc="upper left", ncols=2)

    return CheckResult(NAME, outcome, table, Said(Found.CATCHES_OUTSIDE, counts), draw)


def allowed_outside(catches: int) -> int:
    """Return the largest number of catches outside their 90 % bands that passes."""
    count = np.arange(catches + 1)
    # As many or more, by the binomial distribution.
    return int(count[stats.binom.sf(count - 1, catches, 1.0 - INTERVAL) >= FALSE_ALARM].max())
