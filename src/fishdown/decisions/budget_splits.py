"""Splits of one budget among lakes, beside each other: the best, those like it, and simple ones."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fishdown.decisions.budget_choice import Limit, best_split, shared_out
from fishdown.decisions.budget_lakes import HALVES, alike, behind
from fishdown.equality import by_value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fishdown.decisions.budget_lakes import Aim, LakeDays
    from fishdown.typing import FloatArray

type Split = tuple[int, ...]

# How often the draws are weighted anew to find splits that they do not tell from the best, and how
# many smaller budgets are looked at.
RESAMPLED, SMALLER = 30, 40


@by_value
@dataclass(frozen=True)
class Splits:
    """A budget, the lakes that share it, and how it may be split.

    Attributes
    ----------
    lakes : tuple of LakeDays
        All that were netted.
    days : int or None
        Field days that there are.
    amount : float or None
        Money that there is.
    aim : {"lakes", "biomass"}
    currency : str
    seed : int
        Of the weights.
    """

    lakes: tuple[LakeDays, ...]
    days: int | None
    amount: float | None
    aim: Aim
    currency: str
    seed: int

    @cached_property
    def sharing(self) -> tuple[LakeDays, ...]:
        """The lakes that may have field days; splits are of these."""
        return tuple(lake for lake in self.lakes if not lake.reason)

    @cached_property
    def aimed(self) -> tuple[FloatArray, ...]:
        """What is to be large in each of these lakes, draw by draw and day by day."""
        return tuple(lake.aimed(self.aim) for lake in self.sharing)

    @cached_property
    def none(self) -> Split:
        """No more netting."""
        return (0,) * len(self.sharing)

    @cached_property
    def best(self) -> Split:
        """The split that is expected to bring most; of no lakes it is empty."""
        return self._best(self._limits())

    @cached_property
    def equal(self) -> Split:
        """A field day to each lake in turn, the nearest to its threshold first."""
        return self._equal(self._limits())

    @cached_property
    def nearest(self) -> Split:
        """All to the lake nearest to its threshold; what it cannot take to the next."""
        most = [lake.most for lake in self.sharing]
        return shared_out(self._order, most, self._limits(), max(most, default=1))

    @cached_property
    def alike(self) -> tuple[Split, ...]:
        """Splits that the draws do not tell from the best, itself first.

        Found among the equal split, the nearest lake first, and the splits that are best by draws
        weighted anew (Rubin 1981, The Bayesian bootstrap; reference from memory). There may be
        more.
        """
        rng = np.random.default_rng(self.seed)
        found = [self.equal, self.nearest]
        draws = [one.reshape(-1, one.shape[2]) for one in self.aimed]
        for _ in range(RESAMPLED if draws else 0):
            weight = rng.standard_exponential(len(draws[0]))
            gains = [weight @ one / weight.sum() for one in draws]
            found.append(best_split(gains, self._limits()))
        others = [split for split in dict.fromkeys(found) if split != self.best]
        return (self.best, *(one for one in others if not self.told_apart(one)))

    def behind(self, split: Split) -> tuple[float, float]:
        """Return by how much a split falls short of the best, and the Monte-Carlo error.

        Each half of the chains is compared with the split that the other half calls the best:
        draws that chose a split flatter it.
        """
        return (0.0, 0.0) if split == self.best else behind(self.aimed, self._by_others, split)

    @cached_property
    def _by_others(self) -> tuple[Split, Split]:
        """The best split of the draws that are not in each half."""
        chosen = (
            self._best(self._limits(), [draws[half] for draws in self.aimed])
            for half in reversed(HALVES)
        )
        first, second = chosen
        return first, second

    def told_apart(self, split: Split) -> bool:
        """Tell whether the draws tell a split from the best."""
        return not alike(self.behind(split))

    @property
    def smaller(self) -> list[tuple[float, Split, Split]]:
        """What is spent, best split and equal split of budgets from nothing to the whole.

        In field days if those are limited, else in money.
        """
        if self.days is None:
            assert self.amount is not None
            spent = np.linspace(0.0, self.amount, SMALLER + 1)
        else:
            most = min(self.days, sum(lake.most for lake in self.sharing))
            spent = np.unique(np.linspace(0, most, min(most, SMALLER) + 1).round())
        found = []
        for most_spent in spent.tolist():
            limits = self._limits(most_spent)
            found.append((most_spent, self._best(limits), self._equal(limits)))
        return found

    @property
    def _order(self) -> list[int]:
        return sorted(range(len(self.sharing)), key=lambda place: self.sharing[place].nearness)

    def _best(self, limits: list[Limit], aimed: Sequence[FloatArray] | None = None) -> Split:
        gains = [draws.mean(axis=(0, 1)) for draws in aimed or self.aimed]
        return best_split(gains, limits) if gains else ()

    def _equal(self, limits: list[Limit]) -> Split:
        return shared_out(self._order, [lake.most for lake in self.sharing], limits, 1)

    def _limits(self, first: float | None = None) -> list[Limit]:
        """Return the limits, the first of them lowered."""
        costs = np.array([lake.cost_a_day for lake in self.sharing])
        limits = []
        if self.days is not None:
            limits.append(Limit(np.ones(len(costs)), float(self.days)))
        if self.amount is not None:
            limits.append(Limit(costs, self.amount))
        if first is not None:
            limits[0] = Limit(limits[0].a_day, first)
        return limits
