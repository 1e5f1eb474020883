"""The ledgers of all seasons, one behind the other, as flat arrays for the graph."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import FitError
from fishdown.models.inputs import over
from fishdown.models.parts.counting.ledger import season_ledger
from fishdown.models.parts.marks import all_marks_count
from fishdown.models.parts.marks.pools import examined, pools_of_season

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.campaign import Campaign
    from fishdown.models.parts.counting.ledger import Ledger
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
        As in `Ledger`.
    constant : array, shape ()
        Factorials without unknowns.
    examined : Examined
        The catches that were looked through, one by one.
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
    """Collect the ledgers of a campaign's seasons.

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
    ledgers = [
        ledger_of_season(
            campaign,
            season,
            evidence,
            all_marks_count=all_marks_count(parts),
            carried=bool(linked and carried[season]),
            pools=pool,
            by_lot=parts["recaptures"] == "by_lot",
        )
        for season, pool in enumerate(pools)
    ]
    looked = examined(campaign, pools)
    _refuse_mute(campaign, parts, ledgers, looked)
    if not linked:
        _refuse_marks_of_earlier_years(campaign, ledgers)
    return gather(ledgers, pools, looked)


def gather(
    ledgers: list[Ledger], pools_of: list[Pools], looked: Examined[Numbers]
) -> Counts[Numbers]:
    """Put ledgers one behind the other and number their unknowns through."""
    pools = [len(ledger.marks_at_start) for ledger in ledgers]
    first_pool = np.concatenate([[0], np.cumsum(pools)[:-1]]).astype(int)
    all_pools, count = sum(pools), len(ledgers)
    terms, unknowns, coefficients = [], [], []
    terms_before = 0
    for season, ledger in enumerate(ledgers):
        mine = first_pool[season] + np.arange(pools[season])
        number = np.concatenate([[season], count + mine, count + all_pools + mine])
        term, unknown = np.nonzero(ledger.coefficients)
        terms.append(terms_before + term)
        unknowns.append(number[unknown])
        coefficients.append(ledger.coefficients[term, unknown])
        terms_before += len(ledger.weights)
    return Counts(
        bound=np.array([ledger.bound for ledger in ledgers]),
        pool_season=np.repeat(np.arange(count), pools),
        marks_at_start=np.concatenate([ledger.marks_at_start for ledger in ledgers]),
        marks_released=np.concatenate([ledger.marks_released for ledger in ledgers]),
        pool_kinds=np.concatenate([pool.kinds for pool in pools_of]),
        smallest_share=np.concatenate([ledger.smallest_share for ledger in ledgers]),
        least_carried=np.concatenate([ledger.least_carried for ledger in ledgers]),
        entry_term=np.concatenate(terms).astype(np.int64),
        entry_unknown=np.concatenate(unknowns).astype(np.int64),
        entry_coefficient=np.concatenate(coefficients),
        term_offset=np.concatenate([ledger.offsets for ledger in ledgers]),
        term_weight=np.concatenate([ledger.weights for ledger in ledgers]),
        constant=np.array(sum(ledger.constant for ledger in ledgers)),
        examined=looked,
    )


def ledger_of_season(
    campaign: Campaign,
    season: int,
    evidence: Evidence,
    *,
    all_marks_count: bool = True,
    carried: bool = False,
    pools: Pools | None = None,
    by_lot: bool = True,
) -> Ledger:
    """Collect the log-factorials of one season of a campaign.

    Parameters
    ----------
    campaign : Campaign
    season : int
        Position of the season.
    evidence : {"both", "marks", "depletion"}
        Which part of the records speaks.
    all_marks_count, carried, by_lot : bool
        As in `season_ledger`.
    pools : Pools, optional
        The season's pools of marks; all marks together by default.
    """
    pools = pools or pools_of_season(campaign, season, apart=False)
    pulls = campaign.season_pulls(season)
    return season_ledger(
        pulls["caught"].values,
        pools.recaptured,
        pools.at_large,
        pools.removed,
        pulls["gone_before"].values,
        pulls["spoiled"].values,
        gone=float(campaign.seasons["gone"].values[season]),
        marks_left=pools.left,
        evidence=evidence,
        all_marks_count=all_marks_count,
        carried=carried,
        by_lot=by_lot,
    )


def _refuse_mute(
    campaign: Campaign, parts: Mapping[str, str], ledgers: list[Ledger], looked: Examined[Numbers]
) -> None:
    """Stop at seasons of which the records say nothing."""
    evidence = parts["evidence"]
    apart_from_ledger = evidence != "depletion" and parts["recaptures"] != "by_lot"
    mute = []
    for season, ledger in enumerate(ledgers):
        pulls = campaign.season_pulls(season)
        catch_speaks = evidence != "marks" and not pulls["spoiled"].values.all()
        marks_speak = apart_from_ledger and season in looked.season
        if not (catch_speaks or marks_speak or len(ledger.weights)):
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


def _refuse_marks_of_earlier_years(campaign: Campaign, ledgers: list[Ledger]) -> None:
    """Stop where catches held more marked fish than the season's own marks."""
    seasons = [
        str(campaign.seasons["season"].values[season])
        for season, ledger in enumerate(ledgers)
        if ledger.least_carried.any()
    ]
    if seasons:
        raise FitError(
            f"catches of {', '.join(seasons)} held marked fish of earlier years, which a model of "
            "single seasons cannot place; use --model many_years"
        )
