"""A rule with checks and a constant removal, each set so that a lake stays below its threshold.

`models/README.md`, section "Years ahead", has the mathematics. Arrays of draws in, arrays of draws
out; nothing here knows of fits or files.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from fishdown.decisions.projection import Removal, least_removals, project, shares_below
from fishdown.equality import by_value
from fishdown.statements.probability import probability_below

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.decisions.projection import Ends, Stock
    from fishdown.typing import FloatArray

    type RuleName = Literal["checks", "constant"]

# A target is found to this share of the threshold.
CLOSE_ENOUGH = 1e-3


@dataclass(frozen=True)
class Checks:
    """When a lake is checked, how well, and how much nets can take.

    Attributes
    ----------
    every : int
        Years from one check to the next; the first is before the netting of year 1.
    error : float
        Coefficient of variation of the estimate of biomass, 0 or more.
    most : float
        Largest share of the fish that nets can remove in a year, above 0 and at most 1.
    """

    every: int
    error: float
    most: float


class CheckedNetting:
    """Netting in the years of one projection, as far as the last check asks for it.

    Parameters
    ----------
    checks : Checks
    target : float
        Biomass density down to which the lake is netted, kg/ha.
    area : float
        ha.
    luck : ndarray, shape (year, chain, draw)
        Standard normal luck of a check in each year.
    """

    def __init__(self, checks: Checks, target: float, area: float, luck: FloatArray) -> None:
        self._checks, self._target, self._area, self._luck = checks, target, area, luck
        self._asked: FloatArray = np.zeros(luck.shape[1:])

    def leaves(self, fish: FloatArray, weight: FloatArray, year: int) -> FloatArray:
        """Return the fish that are left of those at the start of a season; year by year."""
        kg = fish * weight
        if year % self._checks.every == 0:
            sd = np.sqrt(np.log1p(self._checks.error**2))
            estimate = kg * np.exp(sd * self._luck[year] - 0.5 * sd**2)
            self._asked = np.maximum(estimate - self._target * self._area, 0.0)
        taken = np.minimum(self._asked, self._checks.most * kg)
        self._asked = self._asked - taken
        return fish - taken / weight


@by_value
@dataclass(frozen=True)
class Rule:
    """A way of netting, set at what it needs, and what comes of it.

    Attributes
    ----------
    name : {"checks", "constant"}
    amount : float
        Target density, kg/ha, infinite where no netting is needed; or fish a year, infinite where
        nets take all that they can.
    amount_error : float
        Its Monte-Carlo standard error; 0 at an end of the range that was searched.
    reached : bool
        Whether the lake is below its threshold with the wanted probability in each year.
    ends : Ends
    below, below_error : ndarray, shape (year,)
        Probability of being below the threshold at the end of each year, and its Monte-Carlo
        standard error.
    """

    name: RuleName
    amount: float
    amount_error: float
    reached: bool
    ends: Ends
    below: FloatArray
    below_error: FloatArray


def compared_rules(
    stock: Stock,
    recruits: FloatArray,
    checks: Checks,
    threshold: float,
    wanted: float,
    luck: FloatArray,
) -> tuple[Rule, Rule]:
    """Set the rule with checks and the constant removal to the same probability, and play both.

    Parameters
    ----------
    recruits : ndarray, shape (year, chain, draw)
        As in `project`.
    threshold : float
        kg/ha.
    wanted : float
        Probability of being below the threshold at the end of each year.
    luck : ndarray, shape (year, chain, draw)
        Standard normal luck of a check in each year.
    """

    def with_checks(target: float) -> Ends:
        return project(stock, recruits, CheckedNetting(checks, target, stock.area, luck))

    def constant(fish: float) -> Ends:
        return project(stock, recruits, Removal("fish", fish, checks.most))

    def chance(ends: Ends) -> float:
        return float(shares_below(stock, ends, threshold).min())

    def target_for(probability: float) -> float:
        return highest_target(lambda target: chance(with_checks(target)), probability, threshold)

    first = max(1.0, float(np.quantile(stock.fish, 0.9)))
    most = chance(constant(np.inf))

    def fish_for(probability: float) -> float:
        if most < probability:
            return np.inf
        found = least_removals(
            lambda fish: np.array([chance(constant(fish))]), (probability,), first
        )
        return float(found[0, 0])

    def set_at(
        name: RuleName, play: Callable[[float], Ends], needed: Callable[[float], float]
    ) -> Rule:
        amount = needed(wanted)
        ends = play(amount)
        density = ends.kg / stock.area
        below, error = np.array([probability_below(year, threshold) for year in density]).T
        off = float(error[int(below.argmin())])
        away = abs(needed(wanted + off) - needed(wanted - off))
        # At an end of its range, or where nets take all they can, it cannot stray both ways.
        doubt = 0.5 * away if np.isfinite(away) else 0.0
        reached = chance(ends) >= wanted
        return Rule(name, amount, doubt, reached, ends, below, error)

    return (
        set_at("checks", with_checks, target_for),
        set_at("constant", constant, fish_for),
    )


def highest_target(below: Callable[[float], float], wanted: float, threshold: float) -> float:
    """Find by bisection the highest target density that is low enough, kg/ha.

    Parameters
    ----------
    below : callable
        Takes a target; returns the smallest of the years' probabilities of being below the
        threshold, which falls as the target rises.
    wanted : float
        Probability.
    threshold : float
        kg/ha; no target is higher.

    Returns
    -------
    float
        Infinite where no netting is needed; 0 where even that is not low enough.
    """
    for target in (np.inf, threshold):
        if below(target) >= wanted:
            return target
    low, high = 0.0, threshold
    while high - low > CLOSE_ENOUGH * threshold:
        middle = 0.5 * (low + high)
        if below(middle) >= wanted:
            low = middle
        else:
            high = middle
    return low
