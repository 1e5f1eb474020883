"""A lake's fish year by year, draw by draw, and the yearly removal that keeps them few.

`models/README.md`, section "Years ahead", has the mathematics. Arrays of draws in, arrays of draws
out; nothing here knows of fits or files.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal, Protocol

import numpy as np

from fishdown.decisions.recruitment import by_stock, compensated
from fishdown.equality import by_value
from fishdown.models.parts.years.growth import final_weight, next_weight
from fishdown.models.parts.years.transition import Transition, survival_of_winter
from fishdown.statements.probability import probability_below

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fishdown.typing import FloatArray

    type RemovalKind = Literal["none", "fish", "kg", "share"]

# A removal is found to this share of itself, or to half a fish or half a kilogram.
CLOSE_ENOUGH = 1e-3
HALF = 0.5


@by_value
@dataclass(frozen=True)
class Stock:
    """One lake at the end of its last season, and what drives it; arrays of one draw each.

    Attributes
    ----------
    fish : ndarray, shape (chain, draw)
        Fish that the last season left.
    weight : ndarray, shape (chain, draw)
        Mean weight of these fish, kg; NaN where nothing tells it.
    own_weight : ndarray, shape (chain, draw)
        Mean weight before the lake's first netting, kg.
    growth, young_weight : ndarray, shape (chain, draw)
        As in `fishdown.models.parts.years.growth`.
    area : float
        ha.
    survival, winter_spread, recruit_variation, process_error : ndarray, shape (chain, draw)
        As in `fishdown.models.parts.years.transition`.
    exchange, outside_fish : ndarray, shape (chain, draw)
        Share of fish that connected waters exchange in a year, and the fish that the lake would
        hold at their density; 0 in a closed lake.
    steps : ndarray, shape (2, year, chain, draw)
        Standard normal luck of each year: of survival, and of all else. The same luck meets every
        scenario and every removal, so that they differ by what they are and not by chance.
    level : ndarray, shape (chain, draw)
        Fish of the lake's own level, above 0 where recruits depend on the stock.
    netted : ndarray, shape (chain, draw)
        Share of the fish that was netted in the last season.
    stock_shape : ndarray, shape (chain, draw), or None
        As in `fishdown.decisions.recruitment.by_stock`; None where recruits do not depend on the
        stock.
    compensation : ndarray, shape (chain, draw), or None
        As in `fishdown.decisions.recruitment.compensated`; None for none.
    """

    fish: FloatArray
    weight: FloatArray
    own_weight: FloatArray
    growth: FloatArray
    young_weight: FloatArray
    area: float
    survival: FloatArray
    winter_spread: FloatArray
    recruit_variation: FloatArray
    process_error: FloatArray
    exchange: FloatArray
    outside_fish: FloatArray
    steps: FloatArray
    level: FloatArray
    netted: FloatArray
    stock_shape: FloatArray | None = None
    compensation: FloatArray | None = None

    def recruits(self, usual: FloatArray, left: FloatArray) -> FloatArray:
        """Return the recruits to be expected of the fish left, of those at the lake's own level."""
        if self.stock_shape is None:
            return usual
        adults = (1.0 - self.exchange) * left + self.exchange * self.outside_fish
        return usual * by_stock(adults, self.level, self.stock_shape)

    def survivors(self, year: int, netted: FloatArray) -> FloatArray:
        """Return natural survival in the winter before a year, after netting of a share."""
        natural = survival_of_winter(self.survival, self.winter_spread, self.steps[0, year])
        if self.compensation is None:
            return natural  # type: ignore[no-any-return]
        return compensated(natural, netted, self.compensation)


class Netting(Protocol):
    """What netting leaves, year by year."""

    def leaves(self, fish: FloatArray, weight: FloatArray, year: int) -> FloatArray:
        """Return the fish that are left of those at the start of a season.

        Parameters
        ----------
        fish, weight : ndarray, shape (chain, draw)
            Fish and their mean weight, kg.
        year : int
            0 for the first year ahead.
        """
        ...


@dataclass(frozen=True)
class Removal:
    """What netting takes in every year, or as many fish as nets can take if there are fewer.

    Attributes
    ----------
    kind : {"none", "fish", "kg", "share"}
    amount : float
        Fish, kg or share of the fish a year.
    most : float
        Largest share of the fish that nets can take in a year; it limits fish and kg.
    """

    kind: RemovalKind = "none"
    amount: float = 0.0
    most: float = 1.0

    def leaves(self, fish: FloatArray, weight: FloatArray, year: int) -> FloatArray:
        """Return the fish that are left of those at the start of a season, in any year."""
        match self.kind:
            case "fish":
                return np.maximum(fish - self.amount, fish * (1.0 - self.most))
            case "kg":
                return np.maximum(fish - self.amount / weight, fish * (1.0 - self.most))
            case "share":
                return fish * (1.0 - self.amount)
            case _:
                return fish


@by_value
@dataclass(frozen=True)
class Ends:
    """A lake at the end of each year, after its netting; arrays of shape (year, chain, draw).

    Attributes
    ----------
    fish : ndarray
    weight : ndarray
        Mean weight, kg; NaN where nothing tells it.
    netted : ndarray
        Fish that netting removed in the year.
    """

    fish: FloatArray
    weight: FloatArray
    netted: FloatArray

    @property
    def kg(self) -> FloatArray:
        """Weight of all fish."""
        return self.fish * self.weight


def project(stock: Stock, recruits: FloatArray, netting: Netting) -> Ends:
    """Carry a lake through the years.

    Parameters
    ----------
    recruits : ndarray, shape (year, chain, draw)
        Young fish to be expected each year, fish, at the lake's own level; above 0.
    netting : Netting
        Takes fish of any weight alike.
    """
    left, weight, netted = stock.fish, stock.weight, stock.netted
    final = final_weight(stock.own_weight, stock.survival, stock.growth, stock.young_weight)
    young_kg = stock.young_weight * stock.own_weight
    ends = Ends(*(np.empty_like(recruits) for _ in range(3)))
    for year, young in enumerate(recruits):
        winter = Transition(
            left=left,
            survival=stock.survivors(year, netted),
            recruits=stock.recruits(young, left),
            recruit_variation=stock.recruit_variation,
            exchanged=stock.exchange,
            outside=stock.outside_fish,
            process_error=stock.process_error,
        )
        start = np.exp(winter.centre + winter.spread * stock.steps[1, year])
        share = winter.share_of_recruits(start)
        weight = next_weight(weight, share, final, stock.growth, young_kg)
        left = netting.leaves(start, weight, year)
        netted = 1.0 - left / start
        ends.fish[year], ends.weight[year], ends.netted[year] = left, weight, start - left
    return ends


def shares_below(stock: Stock, ends: Ends, threshold: float) -> FloatArray:
    """Return the share of draws below a biomass density (kg/ha) at the end of each year.

    Drawn half a draw towards the middle, as in `fishdown.statements.verdicts`.
    """
    below = ends.kg / stock.area < threshold
    shares: FloatArray = (below.sum(axis=(1, 2)) + 0.5) / (below[0].size + 1.0)
    return shares


def least_removals(
    below: Callable[[float], FloatArray], wanted: Sequence[float] | FloatArray, start: float
) -> FloatArray:
    """Find by bisection the least yearly removal for each wanted probability and year.

    Parameters
    ----------
    below : callable
        Takes a yearly removal; returns, year by year, the probability to be below the threshold
        at the year's end if that much is taken in every year up to it. Rises with the removal.
    wanted : sequence of float, or ndarray of shape (wanted, year)
        Probabilities, each below the largest that `below` can reach.
    start : float
        First guess of a removal that is enough, above 0.

    Returns
    -------
    ndarray, shape (wanted, year)
        0 where nothing need be taken; else at most 0.1 % (or a half) above the least.
    """
    at = cache(below)
    goals = np.asarray(wanted, dtype=float)
    goals = goals if goals.ndim == 2 else np.repeat(goals[:, None], len(at(0.0)), axis=1)
    found = np.zeros(goals.shape)
    enough = start
    while (at(enough) < goals.max(axis=0)).any():
        enough *= 2.0
    for (row, year), probability in np.ndenumerate(goals):
        if at(0.0)[year] >= probability:
            continue
        low, high = 0.0, enough
        while high - low > max(HALF, CLOSE_ENOUGH * high):
            middle = 0.5 * (low + high)
            if at(middle)[year] >= probability:
                high = middle
            else:
                low = middle
        found[row, year] = high
    return found


def held_removals(
    stock: Stock,
    recruits: FloatArray,
    kind: RemovalKind,
    threshold: float,
    wanted: Sequence[float],
    start: float,
) -> tuple[FloatArray, FloatArray]:
    """Find the least yearly removals that hold a lake below a threshold, and their errors.

    The error of a removal is that of the probability at it (from the effective number of draws
    that lie below), carried over: half the way between the removals for that much less and that
    much more.

    Parameters
    ----------
    recruits : ndarray, shape (year, chain, draw)
        As in `project`.
    kind : {"fish", "kg"}
    threshold : float
        kg/ha.
    start : float
        First guess of a removal that is enough, above 0.

    Returns
    -------
    least, error : ndarray, shape (wanted, year)
        Fish or kg a year; the Monte-Carlo standard error is 0 where the draws leave no doubt that
        nothing need be taken.
    """

    @cache
    def below(removed: float) -> FloatArray:
        ends = project(stock, recruits, Removal(kind, removed))
        return shares_below(stock, ends, threshold)

    least = least_removals(below, wanted, start)
    chance = np.empty(least.shape)
    for (row, year), removed in np.ndenumerate(least):
        ends = project(stock, recruits[: year + 1], Removal(kind, removed))
        chance[row, year] = probability_below(ends.kg[-1] / stock.area, threshold)[1]
    goals = np.asarray(wanted)[:, None]
    # No share of draws is larger than this.
    most = (stock.fish.size + 0.5) / (stock.fish.size + 1.0)
    less, more = (
        least_removals(below, np.clip(goals + side * chance, 0.0, most), start)
        for side in (-1.0, 1.0)
    )
    return least, 0.5 * (more - less)
