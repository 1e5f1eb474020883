"""What the campaigns of a plan say of its designs, and which are worth more campaigns.

A target is a share of campaigns: of right and firm verdicts, or of intervals that are narrow
enough, half of them where the middle campaign has to be. What n campaigns, s of them good, say of
the share is the beta distribution that they leave of Jeffreys' prior. All designs are tried on the
same lakes, so that two of them are compared campaign by campaign.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from scipy import stats

from fishdown.equality import by_value
from fishdown.intervals import TAILS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.decisions.plan_design import Plan
    from fishdown.typing import BoolArray, FloatArray

type Target = Literal["met", "open", "missed"]

# Surer than this that a design meets the target, or that it misses it, it is decided.
SURE = TAILS[1]
# Normal quantile of that.
ERRORS = float(stats.norm.ppf(SURE))
# Standard errors of a paired difference below which two designs are alike, as pulls to come are.
ALIKE = 2.0


@dataclass(frozen=True)
class Share:
    """A share of campaigns, and what it is to be.

    Attributes
    ----------
    good, campaigns : int
    standard : float
        The least share that is wanted.
    """

    good: int
    campaigns: int
    standard: float

    @property
    def value(self) -> float:
        """The share, half a campaign towards the middle: never 0 or 1."""
        return (self.good + 0.5) / (self.campaigns + 1.0)

    @property
    def error(self) -> float:
        """Its standard error."""
        return float(np.sqrt(self.value * (1.0 - self.value) / self.campaigns))

    @property
    def enough(self) -> float:
        """Probability that the share of all campaigns there could be is the standard or more."""
        missed = self.campaigns - self.good
        return float(stats.beta.sf(self.standard, self.good + 0.5, missed + 0.5))

    @property
    def need(self) -> float:
        """Campaigns that it needs, relative to others: variance over squared gap.

        Chen, Lin, Yücesan and Chick 2000, Discrete Event Dyn. Syst. 10:251–270, the ratio of two
        that are not the best, with the standard in the place of the best. A gap within its own
        error is taken for that error.
        """
        gap = max(abs(self.value - self.standard), self.error)
        return self.value * (1.0 - self.value) / gap**2


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
    right: BoolArray

    def shares(self, plan: Plan) -> list[Share]:
        """Return the shares that the target of a plan is about."""
        campaigns, found = len(self.right), []
        if plan.half_width is not None:
            found.append(Share(int((self.half_width <= plan.half_width).sum()), campaigns, 0.5))
        if plan.right_and_firm is not None:
            found.append(Share(int(self.right.sum()), campaigns, plan.right_and_firm))
        return found

    @property
    def chance(self) -> tuple[float, float]:
        """Share of right and firm verdicts and its standard error; never 0 or 1."""
        share = Share(int(self.right.sum()), len(self.right), 0.5)
        return share.value, share.error

    def meets(self, plan: Plan) -> tuple[float, float]:
        """Return limits of the probability that the design meets the target (Bonferroni)."""
        enough = [share.enough for share in self.shares(plan)]
        return max(0.0, sum(enough) - (len(enough) - 1)), min(enough)

    def target(self, plan: Plan) -> Target:
        """Tell whether the design meets the target of a plan, as far as its campaigns can."""
        least, most = self.meets(plan)
        return "met" if least >= SURE else "missed" if most <= 1.0 - SURE else "open"

    def like(self, other: Tried, plan: Plan) -> bool:
        """Tell whether the lakes of both part two designs in nothing that the target is about."""
        both = slice(min(len(self.right), len(other.right)))
        differences: list[np.ndarray[Any, Any]] = []
        if plan.half_width is not None:
            differences.append(np.log(self.half_width[both]) - np.log(other.half_width[both]))
        if plan.right_and_firm is not None:
            differences.append(self.right[both].astype(float) - other.right[both])
        return all(
            abs(one.mean()) <= ALIKE * one.std(ddof=1) / np.sqrt(len(one)) for one in differences
        )

    def need(self, plan: Plan) -> float:
        """Return how many campaigns it needs, relative to others, for what is hardest to tell."""
        return max(share.need for share in self.shares(plan))


def campaigns_to_tell(tried: Tried, plan: Plan) -> int | None:
    """Return how many campaigns would part an open design's shares from the target.

    By the shares as they are now; None where none is open, or no number would do.
    """
    needed = [
        (ERRORS / gap) ** 2 * share.value * (1.0 - share.value)
        for share in tried.shares(plan)
        if 1.0 - SURE < share.enough < SURE and (gap := abs(share.value - share.standard)) > 0.0
    ]
    if not needed or tried.target(plan) != "open":
        return None
    most = max(*needed, len(tried.right) + 1)
    # Two digits: it is no more than a guide.
    step = 10.0 ** max(0, int(np.floor(np.log10(most))) - 1)
    return int(np.ceil(most / step) * step)


def more_campaigns(plan: Plan, tried: Sequence[Tried]) -> list[int]:
    """Return how many campaigns each design is given next; all 0 if the rest would not change much.

    Only designs that are open have more, up to the plan's most, and only if they come before the
    second of those that meet the target: the cheapest and the next-best are what is asked. They
    get as many as they had together, shared so that all come near to what they need.
    """
    said = [one.target(plan) for one in tried]
    in_order = sorted(
        range(len(tried)), key=lambda place: (*plan.order(plan.candidates[place]), place)
    )
    met = [place for place in in_order if said[place] == "met"]
    wanted = in_order[: in_order.index(met[1])] if len(met) > 1 else in_order
    campaigns = np.array([len(one.right) for one in tried])
    room = plan.most_simulations - campaigns
    asked = (np.array(said) == "open") & np.isin(np.arange(len(tried)), wanted) & (room > 0)
    if not asked.any():
        return [0] * len(tried)
    need = np.where(asked, [one.need(plan) for one in tried], 0.0)
    spent = campaigns[asked].sum()
    lacking = np.where(asked, np.maximum(2 * spent * need / need.sum() - campaigns, 0.0), 0.0)
    given = np.ceil(spent * lacking / lacking.sum()).astype(int)
    found: list[int] = np.minimum(given, room).clip(0).tolist()
    return found
