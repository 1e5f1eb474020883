"""The counting part of a season's log-density: which fish could have been in which catch.

The unknowns of a season are the unmarked fish before the first pull, and for each release group
the share of its marks that counts (1 unless marks may be lost or marked fish not vulnerable to the
gear) and the number carried over from earlier years (0 unless years are linked). A release group
holds the marks whose recaptures are counted together: all of the season, or one batch. Each pull
contributes the binomial coefficients of the fish that its catch was taken from. Telescoping leaves
few terms, however many pulls were made: two in a plain season.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.models.parts.counting.terms import Fish, Term, telescoped, ways

if TYPE_CHECKING:
    from fishdown.models.parts.marks.release_groups import ReleaseGroups
    from fishdown.typing import BoolArray, Evidence, FloatArray


@by_value
@dataclass(frozen=True)
class SeasonPulls:
    """The pulls of one season, in time order.

    Attributes
    ----------
    caught, looked_at : ndarray, shape (pull,)
        Target fish in each pull, and how many of them were looked at for marks.
    gone_before : ndarray, shape (pull,)
        Fish removed or found dead since the season's start, before the pull.
    spoiled : ndarray of bool, shape (pull,)
        Void lifts: their catch is removed, but its size carries no information.
    gone : float
        Fish gone at the season's end.
    """

    caught: FloatArray
    looked_at: FloatArray
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
        The share of each group's marks that counts is 1 and no unknown.
    carried : bool
        Marks of earlier years may be at large.
    marks_may_be_gone : bool
        Marks at large by the records may be on no living fish.
    at_random : bool
        Marked fish are in each catch at random (hypergeometric). If not, their number in the catch
        has a density of its own (`fishdown.models.parts.recaptures`); which release groups they
        belong to is still random among the marked.
    """

    evidence: Evidence = "both"
    all_marks_count: bool = True
    carried: bool = False
    at_random: bool = True
    marks_may_be_gone: bool = False


@by_value
@dataclass(frozen=True)
class CountingTerms:
    """The counting part of one season's log-density, and the limits that the records set.

    Attributes
    ----------
    coefficients : ndarray, shape (term, 1 + 2 × release_group)
        Whole numbers that the unknowns are multiplied by: the unmarked fish before the first pull,
        then the share of each group that counts, then the marks carried over of each group.
    offsets, weights : ndarray, shape (term,)
        As in `Term`.
    constant : float
        Sum of the factorials without unknowns.
    bound : float
        Smallest number of unmarked fish before the first pull that the records allow.
    marks_at_start : ndarray, shape (release_group,)
        The season's own marked fish at large before the first pull, if all of them count.
    marks_released : ndarray, shape (release_group,)
        Those of the whole season, released before the first pull or later.
    smallest_share : ndarray, shape (release_group,)
        Smallest share of a group's marks that the recaptures allow.
    least_carried : ndarray, shape (release_group,)
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
    pulls: SeasonPulls, groups: ReleaseGroups, model: CountingModel | None = None
) -> CountingTerms:
    """Return the counting part of a season's log-density.

    Parameters
    ----------
    pulls : SeasonPulls
    groups : ReleaseGroups
        Of the same season.
    model : CountingModel, optional
        Marks and catches, and every mark counts, by default.
    """
    model = model or CountingModel()
    if model.evidence == "depletion":
        # Catches whatever marks they carry: all fish are unmarked fish.
        groups, model = groups.without_marks(), replace(model, carried=False)
    terms, constant = telescoped(
        term
        for pull in range(len(pulls.caught))
        for term in _pull_terms(pulls, groups, model, pull)
    )
    bound, smallest_share, least_carried = _limits(pulls, groups, model)
    return CountingTerms(
        coefficients=np.array([t.form for t in terms]).reshape(-1, 1 + 2 * len(groups.left)),
        offsets=np.array([t.offset for t in terms], dtype=float),
        weights=np.array([t.weight for t in terms], dtype=float),
        constant=constant,
        bound=bound,
        marks_at_start=groups.at_start,
        marks_released=groups.released,
        smallest_share=smallest_share,
        least_carried=least_carried,
    )


def _pull_terms(
    pulls: SeasonPulls, groups: ReleaseGroups, model: CountingModel, pull: int
) -> list[Term]:
    """Return the terms of one pull: of its catch, and of the marked fish in it."""
    caught, recaptured = float(pulls.caught[pull]), groups.recaptured[:, pull]
    present = _FishPresent(groups, model, pull, float(pulls.gone_before[pull]))
    terms: list[Term] = []
    if model.evidence != "marks" and not pulls.spoiled[pull]:
        terms += ways(present.all_fish(), caught)
    if groups.examined[pull]:
        each_group = np.eye(len(recaptured))
        for group, number in zip(each_group, recaptured.tolist(), strict=True):
            terms += ways(present.marked(group), number)
        marked = float(recaptured.sum())
        if model.at_random:
            looked_at = float(pulls.looked_at[pull])
            terms += ways(present.unmarked(), looked_at - marked)
            terms += ways(present.all_fish(), looked_at, sign=-1)
        else:
            terms += ways(present.marked(each_group.sum(axis=0)), marked, sign=-1)
    return terms


@dataclass(frozen=True)
class _FishPresent:
    """The fish in the lake just before a pull, `gone` fish having left by then."""

    groups: ReleaseGroups
    model: CountingModel
    pull: int
    gone: float

    def all_fish(self) -> Fish:
        everyone = np.ones(len(self.groups.left))
        return self._fish(1.0, self.groups.at_start, everyone, self.gone)

    def unmarked(self) -> Fish:
        """Return the unmarked fish, less those marked since the first pull."""
        not_yet = self.groups.at_start - self.groups.released_before[:, self.pull]
        gone = self.gone - self.groups.removed_before[:, self.pull].sum()
        return self._fish(1.0, not_yet, np.zeros(len(not_yet)), gone)

    def marked(self, groups: FloatArray) -> Fish:
        """Return the marked fish of some release groups, each 1 or 0."""
        marks = self.groups.released_before[:, self.pull] * groups
        gone = float(self.groups.removed_before[:, self.pull] @ groups)
        return self._fish(0.0, marks, groups, gone)

    def _fish(self, unmarked: float, marks: FloatArray, carried: FloatArray, gone: float) -> Fish:
        if not self.model.carried:
            carried = np.zeros(len(carried))
        if self.model.all_marks_count:
            gone, marks = gone - marks.sum(), np.zeros(len(marks))
        return Fish((unmarked, *marks.tolist(), *carried.tolist()), float(gone))


def _limits(
    pulls: SeasonPulls, groups: ReleaseGroups, model: CountingModel
) -> tuple[float, FloatArray, FloatArray]:
    """Return the fewest unmarked fish, and of each group the smallest share and fewest carried."""
    seen = groups.removed_before + groups.recaptured
    late = groups.released - groups.at_start
    at_the_end = pulls.gone - groups.removed.sum() + late.sum()
    # Unmarked fish gone, seen or marked since the first pull; of the whole catch, all fish less
    # the marked ones, of which marks of earlier years would be unknown.
    marked_since = (groups.released_before - groups.at_start[:, None]).sum(axis=0)
    told = pulls.gone_before + pulls.looked_at - seen.sum(axis=0) + marked_since
    bound = told[groups.examined].max(initial=at_the_end)
    if model.marks_may_be_gone and not model.carried:
        # All that is known to have been there was taken out, or looked at.
        bound = pulls.gone - groups.at_start.sum()
    if not model.carried:
        caught = pulls.gone_before + pulls.caught - groups.at_start.sum()
        bound = caught.max(initial=bound)
    seen, released = seen[:, groups.examined], groups.released_before[:, groups.examined]
    smallest_share = (seen / np.maximum(released, 1.0)).max(axis=1, initial=0.0)
    return float(bound), smallest_share, (seen - released).max(axis=1, initial=0.0)
