"""How long fish had to die or to arrive, by the dates on record."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from fishdown.equality import by_value
from fishdown.models.inputs import over
from fishdown.models.parts.marks.release_groups import examined_pulls

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.typing import BoolArray, FloatArray, Numbers

DAYS_OF_YEAR = 365.25


class Spell(NamedTuple):
    """Times at which the fish of a lake are counted.

    Attributes
    ----------
    years : array
        Since the season's first pull, in years.
    open_years : array
        The same in connected lakes, 0 in others.
    gone_years : array
        Since the fish that were taken out of the lake before went, on average, in years.
    """

    years: Any
    open_years: Any
    gone_years: Any

    def at(self, place: Any) -> Spell:
        """Return the times at some places."""
        return Spell(*(one[place] for one in self))

    def over(self, dimension: str) -> Spell:
        """Return the same with its dimension named."""
        import xarray as xr

        return Spell(*(xr.DataArray(one, dims=dimension) for one in self))


@by_value
@dataclass(frozen=True, eq=False)
class Times[A]:
    """The times of a campaign, in years, and the fish taken out.

    Attributes
    ----------
    pull_years, pull_open_years, pull_gone_years : array, shape (pull,)
        Of the pulls whose catch is in the likelihood, as in `Spell`.
    examined_open_years : array, shape (examined,)
        Of the catches examined for marks.
    end_years, end_open_years, end_gone_years : array, shape (season,)
        Of the last pull.
    marked_years : array, shape (season,)
        From marking to the first pull, on average over the marks at large; 0 for those of earlier
        years, whose winters are in the model of years.
    gone : array, shape (season,)
        Fish taken out of the lake by the last pull.
    """

    pull_years: A = field(metadata=over("pull", units="year"))
    pull_open_years: A = field(metadata=over("pull", units="year"))
    pull_gone_years: A = field(metadata=over("pull", units="year"))
    examined_open_years: A = field(metadata=over("examined", units="year"))
    end_years: A = field(metadata=over("season", units="year"))
    end_open_years: A = field(metadata=over("season", units="year"))
    end_gone_years: A = field(metadata=over("season", units="year"))
    marked_years: A = field(metadata=over("season", units="year"))
    gone: A = field(metadata=over("season", units="count"))

    @property
    def pulls(self) -> Spell:
        """Of the pulls whose catch is in the likelihood."""
        return Spell(self.pull_years, self.pull_open_years, self.pull_gone_years)

    @property
    def end(self) -> Spell:
        """Of the last pull of each season."""
        return Spell(self.end_years, self.end_open_years, self.end_gone_years)


def times(campaign: Campaign, in_likelihood: BoolArray) -> Times[Numbers]:
    """Return the times of a campaign.

    Parameters
    ----------
    campaign : Campaign
    in_likelihood : ndarray of bool, shape (pull,)
    """
    every, end = of_pulls(campaign), of_ends(campaign)
    return Times(
        *every.at(in_likelihood),
        # As `release_groups.examined` has them: season by season, and in order.
        every.open_years[examined_pulls(campaign)],
        *end,
        since_marking(campaign),
        campaign.seasons["gone"].values,
    )


def of_pulls(campaign: Campaign) -> Spell:
    """Return the times of all pulls, arrays of shape (pull,)."""
    season = campaign.pulls["season_index"].values
    years = _years(campaign.pulls["date"].values, campaign, season)
    lake = campaign.seasons["lake_index"].values[season]
    removed = campaign.pulls["removed"].values
    before = _sums_before(removed, season)
    went = _sums_before(removed * years, season) / np.maximum(before, 1.0)
    return Spell(
        years,
        np.where(campaign.lakes["connected"].values[lake], years, 0.0),
        np.where(before > 0, years - went, 0.0),
    )


def of_ends(campaign: Campaign) -> Spell:
    """Return the times of the last pull of all seasons, arrays of shape (season,)."""
    count = campaign.seasons.sizes["season"]
    seasons = np.arange(count)
    years = _years(campaign.seasons["last_day"].values, campaign, seasons)
    lake = campaign.seasons["lake_index"].values
    season, removed = campaign.pulls["season_index"].values, campaign.pulls["removed"].values
    of_pull = _years(campaign.pulls["date"].values, campaign, season)
    total = np.bincount(season, weights=removed, minlength=count)
    went = np.bincount(season, weights=removed * of_pull, minlength=count)
    went = went / np.maximum(total, 1.0)
    return Spell(
        years,
        np.where(campaign.lakes["connected"].values[lake], years, 0.0),
        np.where(total > 0, years - went, 0.0),
    )


def since_marking(campaign: Campaign) -> FloatArray:
    """Return years from marking to the first pull, on average over the marks, shape (season,)."""
    batches, seasons = campaign.batches, campaign.seasons
    season = batches["season_index"].values
    mine = season >= 0
    season, released = season[mine], batches["released_alive"].values[mine]
    waited = np.maximum(-_years(batches["marked_on"].values[mine], campaign, season), 0.0)
    count = seasons.sizes["season"]
    marks = np.bincount(season, weights=released, minlength=count)
    total = np.bincount(season, weights=released * waited, minlength=count)
    older = seasons["carried_most"].values
    found: FloatArray = total / np.maximum(marks + older, 1.0)
    return found


def _years(days: Any, campaign: Campaign, season: Any) -> FloatArray:
    """Return years since the first pull of the season; 0 in seasons without pulls."""
    since = (days - campaign.seasons["first_day"].values[season]) / np.timedelta64(1, "D")
    found: FloatArray = np.nan_to_num(since.astype(float)) / DAYS_OF_YEAR
    return found


def _sums_before(values: FloatArray, season: Any) -> FloatArray:
    """Return the sum of the values before each pull in its season."""
    before = np.cumsum(values) - values
    starts = np.unique(season, return_index=True)[1]
    first = np.zeros(int(season.max()) + 1 if len(season) else 0)
    first[season[starts]] = before[starts]
    found: FloatArray = before - first[season]
    return found
