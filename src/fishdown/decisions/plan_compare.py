"""Which designs the campaigns of a plan distinguish, and which they do not.

A design meets a target, or misses it, if the 90 % range that the Monte-Carlo error of its
campaigns leaves lies on one side of it; else its campaigns are too few to say. All designs are
tried on the same lakes, so that two of them are compared campaign by campaign: the error of a
difference is that of the mean of these differences, which is smaller than that of either.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from scipy import stats

from fishdown.equality import by_value
from fishdown.intervals import TAILS

if TYPE_CHECKING:
    from fishdown.decisions.plan_file import Plan
    from fishdown.typing import FloatArray

type Target = Literal["met", "open", "missed"]

# Normal quantile of the 90 % range of a share.
ERRORS = float(stats.norm.ppf(TAILS[1]))
# Standard errors of a paired difference below which two designs are alike, as pulls to come are.
ALIKE = 2.0


@by_value
@dataclass(frozen=True)
class Tried:
    """What the campaigns of one design showed, in the order of the simulated lakes.

    Attributes
    ----------
    half_width : ndarray, shape (campaign,)
        Of the 90 % interval of abundance, relative to its median.
    right : ndarray of bool, shape (campaign,)
        Whether the verdict was right and firm.
    """

    half_width: FloatArray
    right: np.ndarray[Any, np.dtype[np.bool_]]

    @property
    def chance(self) -> tuple[float, float]:
        """Share of right and firm verdicts and its standard error; never 0 or 1."""
        count = len(self.right)
        share = float((self.right.sum() + 0.5) / (count + 1.0))
        return share, float(np.sqrt(share * (1.0 - share) / count))

    def target(self, plan: Plan) -> Target:
        """Tell whether the design meets the target of a plan, as far as its campaigns can."""
        said: list[Target] = []
        if plan.half_width is not None:
            low, high = median_range(self.half_width)
            said.append(_side(high <= plan.half_width, low > plan.half_width))
        if plan.right_and_firm is not None:
            share, error = self.chance
            low, high = share - ERRORS * error, share + ERRORS * error
            said.append(_side(low >= plan.right_and_firm, high < plan.right_and_firm))
        if "missed" in said:
            return "missed"
        return "open" if "open" in said else "met"

    def like(self, other: Tried, plan: Plan) -> bool:
        """Tell whether the campaigns part two designs in nothing that the target is about."""
        differences = []
        if plan.half_width is not None:
            differences.append(np.log(self.half_width) - np.log(other.half_width))
        if plan.right_and_firm is not None:
            differences.append(self.right.astype(float) - other.right)
        return all(
            abs(one.mean()) <= ALIKE * one.std(ddof=1) / np.sqrt(len(one)) for one in differences
        )


def median_range(numbers: FloatArray) -> tuple[float, float]:
    """Return the range that holds the median of their distribution with at least 90 %.

    From one of the ordered numbers to its counterpart, by the binomial distribution of how many lie
    below the median (David & Nagaraja 2003, Order Statistics, section 7.1; from memory).

    Parameters
    ----------
    numbers : ndarray, shape (number,)

    Returns
    -------
    low, high : float
        Without limits for fewer than five numbers.
    """
    ordered = np.sort(numbers)
    count = len(ordered)
    # The k-th lowest lies above the median if fewer than k are below it.
    k = int(stats.binom.ppf(TAILS[0], count, 0.5))
    k = k if stats.binom.cdf(k - 1, count, 0.5) <= TAILS[0] else k - 1
    if k < 1:
        return -np.inf, np.inf
    return float(ordered[k - 1]), float(ordered[-k])


def campaigns_to_tell(tried: Tried, plan: Plan) -> int | None:
    """Return how many campaigns would part a design's share of firm verdicts from the target.

    By the share as it is now; None where that is not what the target asks for, or where no number
    would do.
    """
    if plan.right_and_firm is None:
        return None
    share, error = tried.chance
    gap = abs(share - plan.right_and_firm)
    if gap == 0.0 or ERRORS * error <= gap:
        return None
    needed = len(tried.right) * (ERRORS * error / gap) ** 2
    # Two digits: it is no more than a guide.
    step = 10.0 ** max(0, int(np.floor(np.log10(needed))) - 1)
    return int(np.ceil(needed / step) * step)


def _side(met: bool, missed: bool) -> Target:
    return "met" if met else "missed" if missed else "open"
