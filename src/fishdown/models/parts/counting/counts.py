"""The counting terms of all seasons as flat arrays for the graph."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import FitError
from fishdown.models.inputs import over
from fishdown.models.parts.counting.season import CountingModel, SeasonPulls, season_terms
from fishdown.models.parts.marks import marks_known
from fishdown.models.parts.marks.pens import Pens, pens
from fishdown.models.parts.marks.release_groups import (
    examined,
    groups_of_season,
    groups_of_seasons,
    kinds_at_large,
)
from fishdown.models.parts.recaptures import hypergeometric

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.campaign import Campaign
    from fishdown.models.parts.counting.season import CountingTerms
    from fishdown.models.parts.marks.release_groups import Examined, ReleaseGroups
    from fishdown.typing import Evidence, FloatArray, Numbers


@by_value
@dataclass(frozen=True, eq=False)
class Counts[A]:
    """What is counted: bounds, marks, and the log-factorials of all seasons.

    The unknowns are numbered through: the unmarked fish of each season, then the counting share
    of each release group, then the marks carried over of each group.

    Attributes
    ----------
    bound : ndarray, shape (season,)
        Smallest number of unmarked fish before the first pull that the records allow, fish.
    group_season : ndarray of int, shape (release_group,)
        Season of each release group.
    marks_at_start : ndarray, shape (release_group,)
        The season's own marked fish at large before the first pull, if all marks count.
    marks_released : ndarray, shape (release_group,)
        Those of the whole season.
    group_kinds : ndarray, shape (release_group, kind)
        Share of each kind of mark.
    kinds_at_large : ndarray, shape (season, kind)
        The same among the marks of each season, those of earlier years included.
    smallest_share : ndarray, shape (release_group,)
        Smallest share of the marks that counts, by what was seen of them again.
    least_carried : ndarray, shape (release_group,)
        Fewest marks carried over from earlier years, likewise.
    entry_term, entry_unknown, entry_coefficient : ndarray, shape (entry,)
        The linear forms of all terms: which unknown stands in which term, how often.
    term_offset, term_weight : ndarray, shape (term,)
        As in `CountingTerms`.
    constant : array, shape ()
        Sum of the factorials without unknowns.
    examined : Examined
        The catches that were examined for marks.
    pens : Pens
        Marked fish kept in pens.
    """

    least_carried: FloatArray
    bound: A = field(metadata=over("season", units="count"))
    group_season: A = field(metadata=over("release_group"))
    marks_at_start: A = field(metadata=over("release_group", units="count"))
    marks_released: A = field(metadata=over("release_group", units="count"))
    group_kinds: A = field(metadata=over("release_group", "kind"))
    kinds_at_large: A = field(metadata=over("season", "kind"))
    smallest_share: A = field(metadata=over("release_group"))
    entry_term: A = field(metadata=over("entry"))
    entry_unknown: A = field(metadata=over("entry"))
    entry_coefficient: A = field(metadata=over("entry"))
    term_offset: A = field(metadata=over("term", units="count"))
    term_weight: A = field(metadata=over("term"))
    constant: A = field(metadata=over())
    examined: Examined[A]
    pens: Pens[A]


def count(campaign: Campaign, parts: Mapping[str, str]) -> Counts[Numbers]:
    """Collect bounds, marks and counting terms of a campaign's seasons.

    Raises
    ------
    FitError
        If the recaptures of a season exceed the marks that the model knows of, or no record
        carries information on its abundance.
    """
    evidence: Evidence = parts["evidence"]  # type: ignore[assignment]
    linked = parts["years"] == "linked"
    carried = campaign.seasons["carried_most"].values > 0
    groups = groups_of_seasons(campaign, parts)
    model = CountingModel(
        evidence,
        all_marks_count=marks_known(parts),
        at_random=hypergeometric(parts),
        marks_may_be_gone=parts["marks"] == "effective",
    )
    seasons = [
        counting_terms(campaign, season, replace(model, carried=bool(linked and older)), group)
        for season, (group, older) in enumerate(zip(groups, carried, strict=True))
    ]
    examined_catches = examined(campaign, groups)
    _refuse_uninformed(campaign, parts, seasons, examined_catches)
    if not linked:
        _refuse_marks_of_earlier_years(campaign, seasons)
    return gather(seasons, groups, examined_catches, kinds_at_large(campaign), pens(campaign))


def count_without_marks(
    campaign: Campaign, parts: Mapping[str, str], looks: Examined[Numbers]
) -> Counts[Numbers]:
    """Return the same as if no fish had been marked; `looks` says what was looked at."""
    groups = groups_of_seasons(campaign, parts)
    model = CountingModel("depletion")
    seasons = [
        counting_terms(campaign, season, model, group) for season, group in enumerate(groups)
    ]
    return gather(seasons, groups, looks, kinds_at_large(campaign), pens(campaign))


def gather(
    seasons: list[CountingTerms],
    groups_of: list[ReleaseGroups],
    examined_catches: Examined[Numbers],
    kinds: FloatArray,
    kept: Pens[Numbers],
) -> Counts[Numbers]:
    """Concatenate the terms of all seasons and number their unknowns through."""
    groups = [len(one.marks_at_start) for one in seasons]
    first_group = np.concatenate([[0], np.cumsum(groups)[:-1]]).astype(int)
    all_groups, count = sum(groups), len(seasons)
    terms, unknowns, coefficients = [], [], []
    terms_before = 0
    for season, one in enumerate(seasons):
        mine = first_group[season] + np.arange(groups[season])
        number = np.concatenate([[season], count + mine, count + all_groups + mine])
        term, unknown = np.nonzero(one.coefficients)
        terms.append(terms_before + term)
        unknowns.append(number[unknown])
        coefficients.append(one.coefficients[term, unknown])
        terms_before += len(one.weights)
    return Counts(
        bound=np.array([one.bound for one in seasons]),
        group_season=np.repeat(np.arange(count), groups),
        marks_at_start=np.concatenate([one.marks_at_start for one in seasons]),
        marks_released=np.concatenate([one.marks_released for one in seasons]),
        kinds_at_large=kinds,
        group_kinds=np.concatenate([group.kinds for group in groups_of]),
        smallest_share=np.concatenate([one.smallest_share for one in seasons]),
        least_carried=np.concatenate([one.least_carried for one in seasons]),
        entry_term=np.concatenate(terms).astype(np.int64),
        entry_unknown=np.concatenate(unknowns).astype(np.int64),
        entry_coefficient=np.concatenate(coefficients),
        term_offset=np.concatenate([one.offsets for one in seasons]),
        term_weight=np.concatenate([one.weights for one in seasons]),
        constant=np.array(sum(one.constant for one in seasons)),
        examined=examined_catches,
        pens=kept,
    )


def counting_terms(
    campaign: Campaign, season: int, model: CountingModel, groups: ReleaseGroups | None = None
) -> CountingTerms:
    """Return the counting part of the log-density of one season of a campaign.

    Parameters
    ----------
    campaign : Campaign
    season : int
        Position of the season.
    model : CountingModel
    groups : ReleaseGroups, optional
        The season's release groups; all marks together by default.
    """
    columns = campaign.season_pulls(season)
    pulls = SeasonPulls(
        caught=columns["caught"].values,
        looked_at=columns["examined"].values,
        gone_before=columns["gone_before"].values,
        spoiled=columns["spoiled"].values,
        gone=float(campaign.seasons["gone"].values[season]),
    )
    return season_terms(pulls, groups or groups_of_season(campaign, season, apart=False), model)


def marks_inform(campaign: Campaign, season: int) -> bool:
    """Return whether a season's recaptures carry information on its abundance."""
    return len(counting_terms(campaign, season, CountingModel("marks")).weights) > 0


def _refuse_uninformed(
    campaign: Campaign,
    parts: Mapping[str, str],
    seasons: list[CountingTerms],
    examined_catches: Examined[Numbers],
) -> None:
    """Stop at seasons on whose abundance the records carry no information."""
    evidence = parts["evidence"]
    recaptures_apart = evidence != "depletion" and not hypergeometric(parts)
    uninformed = []
    for season, one in enumerate(seasons):
        pulls = campaign.season_pulls(season)
        catches_inform = evidence != "marks" and not pulls["spoiled"].values.all()
        recaptures_inform = recaptures_apart and season in examined_catches.season
        if not (catches_inform or recaptures_inform or len(one.weights)):
            uninformed.append(season)
    if parts["years"] == "linked":
        # Another year of the lake is enough.
        lake = campaign.seasons["lake_index"].values
        informed = set(np.delete(lake, uninformed))
        uninformed = [season for season in uninformed if lake[season] not in informed]
    if uninformed:
        words = {
            "both": "neither recaptures nor catches",
            "marks": "no recaptures",
            "depletion": "no catches",
        }
        names = ", ".join(str(campaign.seasons["season"].values[season]) for season in uninformed)
        raise FitError(
            f"the abundance of {names} cannot be estimated: {words[evidence]} carry information "
            "on it; see fishdown check"
        )


def _refuse_marks_of_earlier_years(campaign: Campaign, seasons: list[CountingTerms]) -> None:
    """Stop where recaptures exceed the season's own marks."""
    names = [
        str(campaign.seasons["season"].values[season])
        for season, one in enumerate(seasons)
        if one.least_carried.any()
    ]
    if names:
        raise FitError(
            f"catches of {', '.join(names)} held marked fish of earlier years, which this model "
            "does not carry over from year to year; use --model many_years"
        )
