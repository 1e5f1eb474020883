"""The counting terms of all seasons as flat arrays for the graph."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import FitError
from fishdown.models.inputs import over
from fishdown.models.parts.counting.season import CountingModel, SeasonPulls, season_terms
from fishdown.models.parts.marks import all_marks_count
from fishdown.models.parts.marks.pools import examined, pools_of_season

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.campaign import Campaign
    from fishdown.models.parts.counting.season import CountingTerms
    from fishdown.models.parts.marks.pools import Examined, Pools
    from fishdown.typing import Evidence, FloatArray, Numbers


@by_value
@dataclass(frozen=True, eq=False)
class Counts[A]:
    """What is counted: bounds, marks, and the log-factorials of all seasons.

    The unknowns are numbered through: the unmarked fish of each season, then the counting share
    of each pool of marks, then the marks carried over of each pool.

    Attributes
    ----------
    bound : ndarray, shape (season,)
        Smallest number of unmarked fish before the first pull that the records allow, fish.
    pool_season : ndarray of int, shape (pool,)
        Season of each pool of marks.
    marks_at_start : ndarray, shape (pool,)
        The season's own marked fish at large before the first pull, if all marks count.
    marks_released : ndarray, shape (pool,)
        Those of the whole season.
    pool_kinds : ndarray, shape (pool, kind)
        Share of each kind of mark.
    smallest_share : ndarray, shape (pool,)
        Smallest share of the marks that counts, by what was seen of them again.
    least_carried : ndarray, shape (pool,)
        Fewest marks carried over from earlier years, likewise.
    entry_term, entry_unknown, entry_coefficient : ndarray, shape (entry,)
        The linear forms of all terms: which unknown stands in which term, how often.
    term_offset, term_weight : ndarray, shape (term,)
        As in `CountingTerms`.
    constant : array, shape ()
        Sum of the factorials without unknowns.
    examined : Examined
        The catches that were examined for marks.
    """

    least_carried: FloatArray
    bound: A = field(metadata=over("season"))
    pool_season: A = field(metadata=over("pool"))
    marks_at_start: A = field(metadata=over("pool"))
    marks_released: A = field(metadata=over("pool"))
    pool_kinds: A = field(metadata=over("pool", "kind"))
    smallest_share: A = field(metadata=over("pool"))
    entry_term: A = field(metadata=over("entry"))
    entry_unknown: A = field(metadata=over("entry"))
    entry_coefficient: A = field(metadata=over("entry"))
    term_offset: A = field(metadata=over("term"))
    term_weight: A = field(metadata=over("term"))
    constant: A = field(metadata=over())
    examined: Examined[A]


def count(campaign: Campaign, parts: Mapping[str, str]) -> Counts[Numbers]:
    """Collect bounds, marks and counting terms of a campaign's seasons.

    Raises
    ------
    FitError
        If the records of a season hold more recaptures than the model has marks for, or nothing
        that could tell its abundance.
    """
    evidence: Evidence = parts["evidence"]  # type: ignore[assignment]
    linked = parts["years"] == "linked"
    carried = campaign.seasons["carried_most"].values > 0
    apart = parts["batches"] == "apart" and evidence != "depletion" and not linked
    pools = [
        # Of marks of earlier years nobody tells the batch.
        pools_of_season(campaign, season, apart=apart and not older)
        for season, older in enumerate(carried)
    ]
    model = CountingModel(
        evidence,
        all_marks_count=all_marks_count(parts),
        at_random=parts["recaptures"] == "random",
    )
    seasons = [
        counting_terms(campaign, season, replace(model, carried=bool(linked and older)), pool)
        for season, (pool, older) in enumerate(zip(pools, carried, strict=True))
    ]
    looked = examined(campaign, pools)
    _refuse_mute(campaign, parts, seasons, looked)
    if not linked:
        _refuse_marks_of_earlier_years(campaign, seasons)
    return gather(seasons, pools, looked)


def gather(
    seasons: list[CountingTerms], pools_of: list[Pools], looked: Examined[Numbers]
) -> Counts[Numbers]:
    """Concatenate the terms of all seasons and number their unknowns through."""
    pools = [len(one.marks_at_start) for one in seasons]
    first_pool = np.concatenate([[0], np.cumsum(pools)[:-1]]).astype(int)
    all_pools, count = sum(pools), len(seasons)
    terms, unknowns, coefficients = [], [], []
    terms_before = 0
    for season, one in enumerate(seasons):
        mine = first_pool[season] + np.arange(pools[season])
        number = np.concatenate([[season], count + mine, count + all_pools + mine])
        term, unknown = np.nonzero(one.coefficients)
        terms.append(terms_before + term)
        unknowns.append(number[unknown])
        coefficients.append(one.coefficients[term, unknown])
        terms_before += len(one.weights)
    return Counts(
        bound=np.array([one.bound for one in seasons]),
        pool_season=np.repeat(np.arange(count), pools),
        marks_at_start=np.concatenate([one.marks_at_start for one in seasons]),
        marks_released=np.concatenate([one.marks_released for one in seasons]),
        pool_kinds=np.concatenate([pool.kinds for pool in pools_of]),
        smallest_share=np.concatenate([one.smallest_share for one in seasons]),
        least_carried=np.concatenate([one.least_carried for one in seasons]),
        entry_term=np.concatenate(terms).astype(np.int64),
        entry_unknown=np.concatenate(unknowns).astype(np.int64),
        entry_coefficient=np.concatenate(coefficients),
        term_offset=np.concatenate([one.offsets for one in seasons]),
        term_weight=np.concatenate([one.weights for one in seasons]),
        constant=np.array(sum(one.constant for one in seasons)),
        examined=looked,
    )


def counting_terms(
    campaign: Campaign, season: int, model: CountingModel, pools: Pools | None = None
) -> CountingTerms:
    """Return the counting part of the log-density of one season of a campaign.

    Parameters
    ----------
    campaign : Campaign
    season : int
        Position of the season.
    model : CountingModel
    pools : Pools, optional
        The season's pools of marks; all marks together by default.
    """
    columns = campaign.season_pulls(season)
    pulls = SeasonPulls(
        caught=columns["caught"].values,
        gone_before=columns["gone_before"].values,
        spoiled=columns["spoiled"].values,
        gone=float(campaign.seasons["gone"].values[season]),
    )
    return season_terms(pulls, pools or pools_of_season(campaign, season, apart=False), model)


def marks_inform(campaign: Campaign, season: int) -> bool:
    """Return whether a season's recaptures carry information on its abundance."""
    return len(counting_terms(campaign, season, CountingModel("marks")).weights) > 0


def _refuse_mute(
    campaign: Campaign,
    parts: Mapping[str, str],
    seasons: list[CountingTerms],
    looked: Examined[Numbers],
) -> None:
    """Stop at seasons of which the records say nothing."""
    evidence = parts["evidence"]
    recaptures_apart = evidence != "depletion" and parts["recaptures"] != "random"
    mute = []
    for season, one in enumerate(seasons):
        pulls = campaign.season_pulls(season)
        catch_speaks = evidence != "marks" and not pulls["spoiled"].values.all()
        marks_speak = recaptures_apart and season in looked.season
        if not (catch_speaks or marks_speak or len(one.weights)):
            mute.append(season)
    if parts["years"] == "linked":
        # A year of its own may be mute; its lake may not.
        lake = campaign.seasons["lake_index"].values
        speaking = set(np.delete(lake, mute))
        mute = [season for season in mute if lake[season] not in speaking]
    if mute:
        words = {"both": "marks and catches", "marks": "marks", "depletion": "catches"}
        names = ", ".join(str(campaign.seasons["season"].values[season]) for season in mute)
        raise FitError(
            f"nothing in the records tells the abundance of {names} "
            f"when only {words[evidence]} may speak; see fishdown check"
        )


def _refuse_marks_of_earlier_years(campaign: Campaign, seasons: list[CountingTerms]) -> None:
    """Stop where catches held more marked fish than the season's own marks."""
    names = [
        str(campaign.seasons["season"].values[season])
        for season, one in enumerate(seasons)
        if one.least_carried.any()
    ]
    if names:
        raise FitError(
            f"catches of {', '.join(names)} held marked fish of earlier years, which a model of "
            "single seasons cannot place; use --model many_years"
        )
