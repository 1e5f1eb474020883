"""One statistic per season compared with the same statistic of replicated records."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.checks.codes import Found
from fishdown.checks.result import FALSE_ALARM, CheckResult, Outcome
from fishdown.equality import by_value
from fishdown.intervals import low_median_high
from fishdown.sentences import Said
from fishdown.words import amount, percent

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fishdown.campaign import Campaign
    from fishdown.typing import BoolArray, FloatArray

# Seasons with a smaller tail than this are re-examined with more draws, only a few of them, so that
# the cost does not grow with seasons × seasons.
LOOK_AGAIN, MOST_AGAIN = 0.05, 3
# In place of a position: all seasons together.
ALL = -1


@by_value
@dataclass(frozen=True)
class Statistic:
    """A statistic of one season, observed and replicated.

    Attributes
    ----------
    season : int
        Position of the season, or `ALL`.
    observed : float
    drawn : ndarray, shape (draw,)
    """

    season: int
    observed: float
    drawn: FloatArray

    @property
    def tail(self) -> float:
        """Two-sided tail probability; ties count half, and it is never 0."""
        return min(1.0, 2.0 * min(self.tail_above, self._share(self.drawn < self.observed)))

    @property
    def tail_above(self) -> float:
        """Share of the draws above the number, counted in the same way."""
        return self._share(self.drawn > self.observed)

    def _share(self, beyond: BoolArray) -> float:
        count = beyond.sum() + 0.5 * (self.drawn == self.observed).sum()
        return float((count + 0.5) / (len(self.drawn) + 1.0))

    @property
    def above(self) -> bool:
        """Whether the number lies above the median of the draws."""
        return self.observed > float(np.median(self.drawn))

    @property
    def least_tail(self) -> float:
        """The smallest two-sided tail that so many draws can show; half of it is on one side."""
        return 1.0 / (len(self.drawn) + 1.0)

    @property
    def distance(self) -> float:
        """How far the number lies from the mean of the draws, in their standard deviations."""
        spread = float(self.drawn.std())
        return abs(self.observed - float(self.drawn.mean())) / spread if spread else 0.0


def judged(
    name: str,
    unit: str,
    campaign: Campaign,
    found: Sequence[Statistic],
    what: str,
    *,
    again: Callable[[int], Statistic] | None = None,
    departures: tuple[Found | None, Found] | None = None,
    together: bool = False,
) -> CheckResult | None:
    """Judge a number of several seasons.

    Passed unless a season's tail is below 0.01 divided by the number of seasons, or, where seasons
    are judged together too, by twice that number, and their common tail is below 0.005. Where
    the draws are too few to show so small a tail the check has no pass mark.

    Parameters
    ----------
    name, unit : str
        The unit is empty for correlations and the like.
    found : sequence of Statistic
    what : str
        The number in words, for the sentence.
    again : callable, optional
        The number of one season, by its position, with many more draws: a few hundred cannot show
        the small tails that the limit of many seasons asks for.
    departures : tuple, optional
        What a number that is too low, and one that is too high, means; None in place of the
        first if low numbers mean nothing, and only the upper tail is judged.
    together : bool
        Judge all seasons together too.

    Returns
    -------
    CheckResult or None
        None for no seasons at all.
    """
    if not found:
        return None
    labels = campaign.seasons["season"].values
    one_sided = departures is not None and departures[0] is None

    def tail(one: Statistic) -> float:
        return one.tail_above if one_sided else one.tail

    all_seasons = over_seasons(found) if together else None
    if again is not None:
        far = sorted(found, key=lambda one: (tail(one), -one.distance))[:MOST_AGAIN]
        nearer = {one.season: again(one.season) for one in far if tail(one) < LOOK_AGAIN}
        found = [nearer.get(one.season, one) for one in found]
    rows = [_row(one, campaign, unit, tail(one)) for one in found]
    limit = FALSE_ALARM / len(found)
    worst = min(found, key=lambda one: (tail(one), -one.distance))
    if all_seasons is not None:
        limit /= 2.0
        rows.append(_row(all_seasons, campaign, unit, tail(all_seasons)))
        # A season that departs by itself is named.
        if tail(worst) >= limit and tail(all_seasons) < FALSE_ALARM / 2.0:
            worst, limit = all_seasons, FALSE_ALARM / 2.0
    outcome: Outcome = "passed" if tail(worst) >= limit else "not passed"
    least = worst.least_tail / (2.0 if one_sided else 1.0)
    if tail(worst) <= least and limit <= least:
        outcome = "for information"
    low, _, high = low_median_high(worst.drawn)
    values = {
        "what": what,
        "season": "" if worst.season == ALL else str(labels[worst.season]),
        "together": worst.season == ALL,
        "seasons": len(found),
        "several": len(found) > 1,
        "observed": _shown(worst.observed, unit),
        "low": _shown(low, unit),
        "high": _shown(high, unit),
        "signed": bool(low < 0.0),
        "unit": unit,
        "tail": tail_words(tail(worst), limit, one_sided=one_sided),
        "few": outcome == "for information",
    }

    def draw(axes: Any) -> None:
        places = np.arange(len(found))
        table = pd.DataFrame(rows[: len(found)])
        axes.vlines(places, table["low"], table["high"], linewidth=4, alpha=0.4, label="90 % band")
        axes.scatter(places, table["observed"], color="black", zorder=3, label="observed")
        names = [str(labels[one.season]) for one in found]
        axes.set_xticks(places, names, rotation=30, ha="right", fontsize=8 if len(names) < 9 else 5)
        axes.set_xlim(-0.7, len(names) - 0.3)
        axes.set_ylabel(textwrap.fill(what, 34) + (f", {unit}" if unit else ""))
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.25 * (high - low))
        axes.legend(loc="upper left", ncols=2)

    code = Found.MOST_EXTREME_SEASON
    if departures is not None and outcome == "not passed":
        code = departures[worst.above] or code
    return CheckResult(name, outcome, pd.DataFrame(rows), Said(code, values), draw)


def over_seasons(found: Sequence[Statistic]) -> Statistic | None:
    """Return the mean difference of a number from its predictions, over several seasons.

    Each season counts with the inverse variance of its draws.

    Parameters
    ----------
    found : sequence of Statistic
        With as many draws each, of the same posterior.

    Returns
    -------
    Statistic or None
        None for a single season, or where the draws of all but one are the same number.
    """
    told = [one for one in found if one.drawn.std() > 0.0]
    if len(told) < 2:
        return None
    drawn = np.stack([one.drawn for one in told])
    mean = drawn.mean(axis=1)
    weight = drawn.var(axis=1) ** -1.0
    weight /= weight.sum()
    observed = np.array([one.observed for one in told])
    return Statistic(ALL, float(weight @ (observed - mean)), weight @ (drawn - mean[:, None]))


def _row(one: Statistic, campaign: Campaign, unit: str, tail: float) -> dict[str, Any]:
    low, median, high = low_median_high(one.drawn)
    lake, season = (
        "all" if one.season == ALL else str(campaign.seasons[name].values[one.season])
        for name in ("lake", "label")
    )
    return {
        "lake": lake,
        "season": season,
        "unit": unit,
        "observed": one.observed,
        "low": low,
        "median": median,
        "high": high,
        "tail": tail,
    }


def tail_words(tail: float, limit: float, *, one_sided: bool = False) -> str:
    """Return a tail and its limit as text, with enough digits to distinguish them."""
    for digits in range(2, 8):
        shown, its_limit = (f"{100.0 * share:.{digits}g}" for share in (tail, limit))
        if (float(shown) < float(its_limit)) == (tail < limit):
            break
    # A tail far from the limit is written like any probability.
    shown = percent(tail) if tail >= 0.05 else f"{shown} %"
    sides = "upper" if one_sided else "two-sided"
    return f"{sides} tail {shown}, not passed below {its_limit} %"


def _shown(value: float, unit: str) -> str:
    if unit == "fish":
        return f"{value:,.0f}"
    # Correlations and the like have no unit.
    return (amount(value) if unit else f"{value:.2f}").replace("-", "−")
