"""One number a season held against the same number of records drawn anew."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.checks.result import FALSE_ALARM, CheckResult
from fishdown.intervals import low_median_high
from fishdown.statements.words import amount, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.campaign import Campaign
    from fishdown.typing import FloatArray


@dataclass(frozen=True)
class Statistic:
    """A number of one season, as it is and as draws have it.

    Attributes
    ----------
    season : int
        Position of the season.
    observed : float
    drawn : ndarray, shape (draw,)
    """

    season: int
    observed: float
    drawn: FloatArray

    @property
    def tail(self) -> float:
        """Two-sided tail probability; ties count half, and it is never 0."""
        count = len(self.drawn)
        below = (self.drawn < self.observed).sum() + 0.5 * (self.drawn == self.observed).sum()
        share = (below + 0.5) / (count + 1.0)
        return float(min(1.0, 2.0 * min(share, 1.0 - share)))


def judged(
    name: str, unit: str, campaign: Campaign, found: Sequence[Statistic], what: str
) -> CheckResult | None:
    """Judge a number of several seasons.

    Passed unless a season's two-sided tail is below 0.01 divided by the number of seasons.

    Parameters
    ----------
    name, unit : str
    campaign : Campaign
    found : sequence of Statistic
    what : str
        The number in words, for the sentence.

    Returns
    -------
    CheckResult or None
        None for no seasons at all.
    """
    if not found:
        return None
    labels = campaign.seasons["season"].values
    rows = []
    for one in found:
        low, median, high = low_median_high(one.drawn)
        rows.append(
            {
                "lake": str(campaign.seasons["lake"].values[one.season]),
                "season": str(campaign.seasons["label"].values[one.season]),
                "unit": unit,
                "observed": one.observed,
                "low": low,
                "median": median,
                "high": high,
                "tail": one.tail,
            }
        )
    worst = min(found, key=lambda one: one.tail)
    passed = worst.tail >= FALSE_ALARM / len(found)
    low, _, high = low_median_high(worst.drawn)
    place = f"in {labels[worst.season]}" if len(found) == 1 else f"of {labels[worst.season]}, the "
    place += "" if len(found) == 1 else "season furthest off"
    said = (
        f"{what} {place}: {_shown(worst.observed, unit)} {unit}, the fit says "
        f"{_shown(low, unit)}–{_shown(high, unit)} {unit} (tail {percent(worst.tail)})"
    )

    def draw(axes: Any) -> None:
        places = np.arange(len(found))
        table = pd.DataFrame(rows)
        axes.vlines(places, table["low"], table["high"], linewidth=4, alpha=0.4, label="90 % band")
        axes.scatter(places, table["observed"], color="black", zorder=3, label="observed")
        names = [str(labels[one.season]) for one in found]
        axes.set_xticks(places, names, rotation=30, ha="right", fontsize=8 if len(names) < 9 else 5)
        axes.set_xlim(-0.7, len(names) - 0.3)
        axes.set_ylabel(f"{textwrap.fill(what, 34)}, {unit}")
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.25 * (high - low))
        axes.legend(loc="upper left", ncols=2)

    return CheckResult(name, "passed" if passed else "not passed", pd.DataFrame(rows), said, draw)


def _shown(value: float, unit: str) -> str:
    return f"{value:,.0f}" if unit == "fish" else amount(value)
