"""The runs of another gear that tell something, as arrays for the graph."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.parts.open_lake.times import DAYS_OF_YEAR

if TYPE_CHECKING:
    from collections.abc import Mapping

    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.models.priors import Prior
    from fishdown.typing import BoolArray, FloatArray, IntArray, Numbers

# Gauss–Hermite nodes of the odds of a gear, and of the variation between runs.
ODDS_NODES, VARIATION_NODES = 17, 9


@by_value
@dataclass(frozen=True, eq=False)
class Looks[A]:
    """Runs whose fish were looked at for marks while some were at large.

    Attributes
    ----------
    season : ndarray of int, shape (look,)
        Position of the season.
    sort : ndarray of int, shape (look,)
        Which lake and sort of gear a run belongs to: runs of one share their odds.
    looked_at, marked, gone_before : ndarray, shape (look,)
        Fish looked at, marked ones among them, and fish gone from the lake before.
    marks : ndarray, shape (look,)
        Marks of the season at large, if every one is there.
    open_years : ndarray, shape (look,)
        Since the season's first pull in connected lakes, 0 in others.
    odds_node : ndarray, shape (sort, odds_node)
        Logarithm of the odds at each node.
    """

    season: A = field(metadata=over("look"))
    sort: A = field(metadata=over("look"))
    looked_at: A = field(metadata=over("look", units="count"))
    marked: A = field(metadata=over("look", units="count"))
    gone_before: A = field(metadata=over("look", units="count"))
    marks: A = field(metadata=over("look", units="count"))
    open_years: A = field(metadata=over("look", units="year"))
    odds_node: A = field(metadata=over("sort", "odds_node"))


@by_value
@dataclass(frozen=True, eq=False)
class Efforts[A]:
    """Runs of a gear whose catch per effort can be compared with that of another run of it.

    Attributes
    ----------
    season, gear : ndarray of int, shape (effort,)
        Position of the season, and which lake and gear a run belongs to.
    log_rate : ndarray, shape (effort,)
        Logarithm of fish and a half per hour, times the lake's relative area.
    chance : ndarray, shape (effort,)
        Variance of it by chance alone.
    gone_before : ndarray, shape (effort,)
        Fish gone from the lake before.
    years, open_years : ndarray, shape (effort,)
        Since the season's first pull; and in connected lakes, 0 in others.
    gears : ndarray, shape (effort_gear,)
        Number of runs of each lake and gear.
    variation : ndarray, shape (variation_node,)
        Values of the variation at its nodes.
    """

    season: A = field(metadata=over("effort"))
    gear: A = field(metadata=over("effort"))
    log_rate: A = field(metadata=over("effort"))
    chance: A = field(metadata=over("effort"))
    gone_before: A = field(metadata=over("effort", units="count"))
    years: A = field(metadata=over("effort", units="year"))
    open_years: A = field(metadata=over("effort", units="year"))
    gears: A = field(metadata=over("effort_gear"))
    variation: A = field(metadata=over("variation_node"))


@by_value
@dataclass(frozen=True, eq=False)
class Surveys[A]:
    """What runs of another gear tell; either may be None.

    Attributes
    ----------
    looks : Looks or None
    efforts : Efforts or None
    """

    looks: Looks[A] | None
    efforts: Efforts[A] | None


def normal_nodes(count: int) -> tuple[FloatArray, FloatArray]:
    """Return nodes and log-weights of the expectation over a standard normal variable."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(count)
    return nodes, np.log(weights / weights.sum())


def any_run_tells(campaign: Campaign) -> bool:
    """Return whether some run tells the marked share, or may be compared with another."""
    return bool(_looked(campaign).any() or len(_compared(campaign)[0]))


def surveys(campaign: Campaign, priors: Mapping[str, Prior]) -> Surveys[Numbers]:
    """Gather the runs of a campaign.

    Parameters
    ----------
    campaign : Campaign
    priors : mapping of str to Prior
        Of the part's parameters.
    """
    return Surveys(_looks(campaign, priors), _efforts(campaign, priors["survey_variation"]))


def _looked(campaign: Campaign) -> BoolArray:
    runs = campaign.surveys
    told: BoolArray = (runs["examined"].values > 0) & (runs["marks_at_large"].values > 0)
    return told & (runs["season_index"].values >= 0)


def _looks(campaign: Campaign, priors: Mapping[str, Prior]) -> Looks[Numbers] | None:
    runs = campaign.surveys.isel(run=np.flatnonzero(_looked(campaign)))
    if not runs.sizes["run"]:
        return None
    season = runs["season_index"].values
    same = runs["marking_gear"].values
    sorts, sort = np.unique(
        [campaign.seasons["lake_index"].values[season], same], axis=1, return_inverse=True
    )
    nodes = normal_nodes(ODDS_NODES)[0]
    names = np.where(sorts[1] > 0, "same_gear_odds", "second_gear_odds")
    middle, spread = np.array([priors[name].numbers for name in names.tolist()]).T
    return Looks(
        season=season,
        sort=sort,
        looked_at=runs["examined"].values,
        marked=runs["marked"].values,
        gone_before=runs["gone_before"].values,
        marks=runs["marks_at_large"].values - campaign.seasons["carried_most"].values[season],
        open_years=_years(campaign, runs)[1],
        odds_node=np.log(middle)[:, None] + spread[:, None] * nodes,
    )


def _compared(campaign: Campaign) -> tuple[IntArray, IntArray]:
    """Return the runs that another run of their lake and gear can be compared with, and which."""
    runs = campaign.surveys
    with_effort = ~np.isnan(runs["effort"].values) & (runs["season_index"].values >= 0)
    of_gear: dict[tuple[int, str], list[int]] = defaultdict(list)
    for run in np.flatnonzero(with_effort).tolist():
        season = int(runs["season_index"].values[run])
        lake = int(campaign.seasons["lake_index"].values[season])
        of_gear[lake, str(runs["gear"].values[run]).casefold()].append(run)
    several = [
        group
        for group in of_gear.values()
        if len({(runs["season_index"].values[r], runs["gone_before"].values[r]) for r in group}) > 1
    ]
    which = [np.full(len(group), number) for number, group in enumerate(several)]
    none = np.zeros(0, dtype=np.int64)
    return np.concatenate([none, *several]).astype(np.int64), np.concatenate([none, *which])


def _efforts(campaign: Campaign, prior: Prior) -> Efforts[Numbers] | None:
    chosen, gear = _compared(campaign)
    if not len(chosen):
        return None
    runs = campaign.surveys.isel(run=chosen)
    fish = runs["caught"].values + 0.5
    middle, spread = prior.numbers
    return Efforts(
        season=runs["season_index"].values,
        gear=gear,
        # The gear fishes an area, so that its catch is by fish per hectare.
        log_rate=np.log(fish / runs["effort"].values * runs["relative_area"].values),
        chance=1.0 / fish,
        gone_before=runs["gone_before"].values,
        years=_years(campaign, runs)[0],
        open_years=_years(campaign, runs)[1],
        gears=np.bincount(gear).astype(float),
        variation=middle * np.exp(spread * normal_nodes(VARIATION_NODES)[0]),
    )


def _years(campaign: Campaign, runs: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """Return the time from the season's first pull to each run, and that in connected lakes."""
    season = runs["season_index"].values
    since = runs["date"].values - campaign.seasons["first_day"].values[season]
    years = np.maximum(since / np.timedelta64(1, "D"), 0.0) / DAYS_OF_YEAR
    lake = campaign.seasons["lake_index"].values[season]
    return years, np.where(campaign.lakes["connected"].values[lake], years, 0.0)
