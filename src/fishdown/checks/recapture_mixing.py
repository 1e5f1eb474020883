"""Recaptures by net and by batch: posterior predictive check of whether marked fish have mixed.

Given their total, recaptures are shared among nets in proportion to the marked fish expected in
their catches, and among batches in proportion to their marks at large, but for chance.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.checks.codes import Found
from fishdown.checks.tails import Statistic, judged
from fishdown.models.parts.marks.release_groups import (
    batches_of_season,
    examined_pulls,
    groups_of_season,
    tells_apart,
)
from fishdown.posterior.replicates import whole
from fishdown.posterior.urn import marked_in_catch

if TYPE_CHECKING:
    from collections.abc import Callable

    from fishdown.campaign import Campaign
    from fishdown.checks.result import CheckResult
    from fishdown.models.parts.marks.release_groups import ReleaseGroups
    from fishdown.posterior.at_draws import DrawnLakes
    from fishdown.typing import FloatArray, IntArray

NETS, BATCHES = "recaptures by net", "recaptures by batch"


def recaptures_by_net(
    campaign: Campaign,
    lakes: DrawnLakes,
    anew: Callable[[int], IntArray],
    more: Callable[[int], IntArray] | None = None,
) -> CheckResult | None:
    """Compare how unevenly the nets of each season share its recaptures with replicated seasons.

    Parameters
    ----------
    campaign, lakes, anew, more
        As for `fishdown.checks.recaptures.total_recaptures`.

    Returns
    -------
    CheckResult or None
        None where no season has recaptures and examined catches of two nets.
    """
    looks = lakes.data.counts.examined
    nets = campaign.pulls["net"].values[examined_pulls(campaign)]

    def statistic(season: int, drawn: IntArray) -> Statistic:
        mine = looks.season == season
        _, net = np.unique(nets[mine], return_inverse=True)
        of_net = np.eye(net.max() + 1, dtype=np.int64)[net]
        return Statistic(season, *unevenness(looks.recaptured[mine] @ of_net, drawn @ of_net))

    seasons = np.unique(looks.season[looks.recaptured > 0]).tolist()
    found = [
        statistic(season, anew(season))
        for season in seasons
        if len(np.unique(nets[looks.season == season])) > 1
    ]
    # Where recaptures vary less than a model with clumping allows, its prior of it is too wide.
    alike = Found.NETS_ALIKE if lakes.clumping is None else None
    return judged(
        NETS, "", campaign, found, "chi-square of recaptures by net",
        again=None if more is None else lambda season: statistic(season, more(season)),
        departures=(alike, Found.NETS_DIFFER), together=True,
    )  # fmt: skip


def recaptures_by_batch(
    campaign: Campaign,
    lakes: DrawnLakes,
    rng: np.random.Generator,
    more: Callable[[], DrawnLakes] | None = None,
) -> CheckResult | None:
    """Compare how unevenly batches share the recaptures of each season with replicated shares.

    Parameters
    ----------
    campaign, lakes, rng, more
        As for `fishdown.checks.drop.drop_of_catches`.

    Returns
    -------
    CheckResult or None
        None where no season has several batches, recaptures that all name theirs, and no marks of
        earlier years.
    """
    looks = lakes.data.counts.examined
    marked_before = campaign.seasons["carried_most"].values > 0

    def statistic(season: int, drawn: DrawnLakes) -> Statistic:
        groups = groups_of_season(campaign, season, apart=True)
        observed = groups.recaptured[:, groups.recaptured.sum(axis=0) > 0].sum(axis=1)
        anew = batches_given_recaptures(season, groups, drawn, rng)
        return Statistic(season, *unevenness(observed, anew))

    found = [
        statistic(season, lakes)
        for season in np.unique(looks.season[looks.recaptured > 0]).tolist()
        if not marked_before[season] and tells_apart(batches_of_season(campaign, season))
    ]
    return judged(
        BATCHES, "", campaign, found, "chi-square of recaptures by batch",
        again=None if more is None else lambda season: statistic(season, more()),
        departures=(Found.BATCHES_ALIKE, Found.BATCHES_DIFFER), together=True,
    )  # fmt: skip


def batches_given_recaptures(
    season: int, groups: ReleaseGroups, lakes: DrawnLakes, rng: np.random.Generator
) -> IntArray:
    """Draw of which batch the recaptures of a season are, given how many each catch had.

    Multivariate hypergeometric: each marked fish at large is as likely as any other.

    Parameters
    ----------
    groups : ReleaseGroups
        Its batches.

    Returns
    -------
    ndarray of int, shape (draw, batch)
        Over all catches.
    """
    recaptured = groups.recaptured.sum(axis=0)
    some = recaptured > 0
    # Of batches that a model counts together the same share is still marked.
    share = lakes.share[:, lakes.data.counts.group_season == season]
    share = np.broadcast_to(share, (len(share), len(groups.left)))
    released, removed = groups.released_before[:, some], groups.removed_before[:, some]
    at_large = whole(share[:, :, None] * released - removed)
    left = np.minimum(whole(recaptured[some]), at_large.sum(axis=1))
    found = np.zeros(share.shape, dtype=np.int64)
    for batch in range(share.shape[1]):
        others = at_large[:, batch + 1 :].sum(axis=1)
        taken = marked_in_catch(at_large[:, batch], others, left, rng)
        found[:, batch] = taken.sum(axis=1)
        left = left - taken
    return found


def unevenness(observed: FloatArray, drawn: IntArray) -> tuple[float, FloatArray]:
    """Return Pearson's chi-square of recaptures by group, given their total.

    Parameters
    ----------
    observed : ndarray, shape (group,)
        Recaptures.
    drawn : ndarray of int, shape (draw, group)

    Returns
    -------
    float, and ndarray of shape (draw,)
        Σ (R − E)² / E; E is the total shared as the mean of the draws is.
    """
    # Half a recapture in all draws, so that a group without any in them expects some.
    mean = drawn.mean(axis=0) + 0.5 / len(drawn)
    share = mean / mean.sum()

    def chi_square(recaptured: FloatArray) -> FloatArray:
        expected = recaptured.sum(axis=-1, keepdims=True) * share
        off: FloatArray = (recaptured - expected) ** 2 / np.maximum(expected, 1e-300)
        return off.sum(axis=-1)

    return float(chi_square(observed)), chi_square(drawn.astype(float))
