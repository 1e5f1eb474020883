"""The counting part of a season's log-density: which fish could have been in which catch.

The unknowns of a season are the unmarked fish before the first pull, and for each pool of marks
the share that counts (1 unless marks may be lost or marked fish not vulnerable to the gear) and the
number carried over from earlier years (0 unless years are linked). A pool holds the marks whose
recaptures are counted together: all of the season, or one batch. Each pull contributes the binomial
coefficients of the groups of fish that its catch came from. Once telescoped the season is short,
however many pulls were made: two terms in a plain season.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.models.parts.counting.terms import Group, Term, telescoped, ways

if TYPE_CHECKING:
    from fishdown.models.parts.marks.pools import Pools
    from fishdown.typing import BoolArray, Evidence, FloatArray


@by_value
@dataclass(frozen=True)
class SeasonPulls:
    """The pulls of one season, in time order.

    Attributes
    ----------
    caught : ndarray, shape (pull,)
        Target fish in each pull.
    gone_before : ndarray, shape (pull,)
        Fish removed or found dead since the season's start, before the pull.
    spoiled : ndarray of bool, shape (pull,)
        Void lifts: their catch is removed, but its size carries no information.
    gone : float
        Fish gone at the season's end.
    """

    caught: FloatArray
    gone_before: FloatArray
    spoiled: BoolArray
    gone: float


@dataclass(frozen=True)
class CountingModel:
    """What a model assumes about the fish of a season and their catches.

    Attributes
    ----------
    evidence : {"both", "marks", "depletion"}
        The data in use: recaptures given the catches, catches whatever marks they carry, or both.
    all_marks_count : bool
        The share of each pool's marks that counts is 1 and no unknown.
    carried : bool
        Marks of earlier years may be at large.
    at_random : bool
        Marked fish are in each catch at random (hypergeometric). If not, their number in the catch
        has a density of its own (`fishdown.models.parts.recaptures`); the pools that they belong
        to are still at random among the marked.
    """

    evidence: Evidence = "both"
    all_marks_count: bool = True
    carried: bool = False
    at_random: bool = True


@by_value
@dataclass(frozen=True)
class CountingTerms:
    """The counting part of one season's log-density, and the limits that the records set.

    Attributes
    ----------
    coefficients : ndarray, shape (term, 1 + 2 × pool)
        Whole numbers that the unknowns are multiplied by: the unmarked fish before the first pull,
        then the share of each pool that counts, then the marks carried over of each pool.
    offsets, weights : ndarray, shape (term,)
        As in `Term`.
    constant : float
        Sum of the factorials without unknowns.
    bound : float
        Smallest number of unmarked fish before the first pull that the records allow.
    marks_at_start : ndarray, shape (pool,)
        The season's own marked fish at large before the first pull, if all of them count.
    marks_released : ndarray, shape (pool,)
        Those of the whole season, released before the first pull or later.
    smallest_share : ndarray, shape (pool,)
        Smallest share of a pool's marks that the recaptures allow.
    least_carried : ndarray, shape (pool,)
        Fewest marks carried over that the recaptures allow.
    """

    coefficients: FloatArray
    offsets: FloatArray
    weights: FloatArray
    constant: float
    bound: float
    marks_at_start: FloatArray
    marks_released: FloatArray
    smallest_share: FloatArray
    least_carried: FloatArray


def season_terms(
    pulls: SeasonPulls, pools: Pools, model: CountingModel | None = None
) -> CountingTerms:
    """Return the counting part of a season's log-density.

    Parameters
    ----------
    pulls : SeasonPulls
    pools : Pools
        The marks of the same season.
    model : CountingModel, optional
        Marks and catches, and every mark counts, by default.
    """
    model = model or CountingModel()
    if model.evidence == "depletion":
        # Catches whatever marks they carry: all fish are unmarked fish.
        pools, model = pools.without_marks(), replace(model, carried=False)
    terms, constant = telescoped(
        term for pull in range(len(pulls.caught)) for term in _pull_terms(pulls, pools, model, pull)
    )
    bound, smallest_share, least_carried = _limits(pulls, pools, model)
    return CountingTerms(
        coefficients=np.array([t.form for t in terms]).reshape(-1, 1 + 2 * len(pools.left)),
        offsets=np.array([t.offset for t in terms], dtype=float),
        weights=np.array([t.weight for t in terms], dtype=float),
        constant=constant,
        bound=bound,
        marks_at_start=pools.at_start,
        marks_released=pools.released,
        smallest_share=smallest_share,
        least_carried=least_carried,
    )


def _pull_terms(pulls: SeasonPulls, pools: Pools, model: CountingModel, pull: int) -> list[Term]:
    """Return the terms of one pull: of its catch, and of the marked fish in it."""
    caught, recaptured = float(pulls.caught[pull]), pools.recaptured[:, pull]
    groups = _Groups(pools, model, pull, float(pulls.gone_before[pull]))
    terms: list[Term] = []
    if model.evidence != "marks" and not pulls.spoiled[pull]:
        terms += ways(groups.all_fish(), caught)
    if pools.examined[pull]:
        each_pool = np.eye(len(recaptured))
        for pool, number in zip(each_pool, recaptured.tolist(), strict=True):
            terms += ways(groups.marked(pool), number)
        marked = float(recaptured.sum())
        if model.at_random:
            terms += ways(groups.unmarked(), caught - marked)
            terms += ways(groups.all_fish(), caught, sign=-1)
        else:
            terms += ways(groups.marked(each_pool.sum(axis=0)), marked, sign=-1)
    return terms


@dataclass(frozen=True)
class _Groups:
    """The groups of fish in the lake just before a pull, `gone` fish having left by then."""

    pools: Pools
    model: CountingModel
    pull: int
    gone: float

    def all_fish(self) -> Group:
        everyone = np.ones(len(self.pools.left))
        return self._group(1.0, self.pools.at_start, everyone, self.gone)

    def unmarked(self) -> Group:
        """Fish marked since the first pull were unmarked before it."""
        not_yet = self.pools.at_start - self.pools.released_before[:, self.pull]
        gone = self.gone - self.pools.removed_before[:, self.pull].sum()
        return self._group(1.0, not_yet, np.zeros(len(not_yet)), gone)

    def marked(self, pools: FloatArray) -> Group:
        """Those of some pools, each 1 or 0."""
        marks = self.pools.released_before[:, self.pull] * pools
        gone = float(self.pools.removed_before[:, self.pull] @ pools)
        return self._group(0.0, marks, pools, gone)

    def _group(self, unmarked: float, marks: FloatArray, carried: FloatArray, gone: float) -> Group:
        if not self.model.carried:
            carried = np.zeros(len(carried))
        if self.model.all_marks_count:
            gone, marks = gone - marks.sum(), np.zeros(len(marks))
        return Group((unmarked, *marks.tolist(), *carried.tolist()), float(gone))


def _limits(
    pulls: SeasonPulls, pools: Pools, model: CountingModel
) -> tuple[float, FloatArray, FloatArray]:
    """Return the fewest unmarked fish, and of each pool the smallest share and fewest carried."""
    seen = pools.removed_before + pools.recaptured
    late = pools.released - pools.at_start
    at_the_end = pulls.gone - pools.removed.sum() + late.sum()
    # Unmarked fish gone, caught or marked since the first pull; where the catch was not examined
    # all fish less the marked ones, of which marks of earlier years would be unknown.
    marked_since = (pools.released_before - pools.at_start[:, None]).sum(axis=0)
    examined = pulls.gone_before + pulls.caught - seen.sum(axis=0) + marked_since
    otherwise = pulls.gone_before + pulls.caught - pools.at_start.sum()
    unknown = np.full(len(otherwise), -np.inf) if model.carried else otherwise
    bound = np.where(pools.examined, examined, unknown).max(initial=at_the_end)
    seen, released = seen[:, pools.examined], pools.released_before[:, pools.examined]
    smallest_share = (seen / np.maximum(released, 1.0)).max(axis=1, initial=0.0)
    return float(bound), smallest_share, (seen - released).max(axis=1, initial=0.0)
