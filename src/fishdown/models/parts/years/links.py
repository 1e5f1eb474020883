"""Which seasons of a lake follow each other, and the marks carried over from one to the next."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.errors import FitError
from fishdown.models.inputs import over

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.models.parts.counting.counts import Counts
    from fishdown.typing import IntArray, Numbers


@by_value
@dataclass(frozen=True, eq=False)
class Winters[A]:
    """Which seasons follow each other, and the limits on the marks carried over.

    Attributes
    ----------
    starts : ndarray of int, shape (lake,)
        First season of each lake.
    before, after : ndarray of int, shape (winter,)
        Season that ends, and the next one of the same lake.
    gone : ndarray, shape (season,)
        Fish gone in the course of each season.
    moved_after, moved_variance : ndarray, shape (season,)
        Fish that left other than by the nets between the season's netting and the next, net; and
        the variance of all fish that came or went so since the season's first pull.
    winterkill, winterkill_variance : ndarray, shape (season,)
        Share of the fish that a winterkill on record took after the season, and its variance.
    connected, young_eaten : ndarray, shape (lake,)
        1 for lakes with connected waters, and with recruitment suppressed by predators; else 0.
    marks_gained : ndarray, shape (season,)
        Marks released in the season less marks removed in it.
    marks_needed : ndarray, shape (season,)
        Fewest marks carried over into the season that its and later recaptures allow.
    carrying : tuple of ndarray of int
        Winters after which marks may be at large: the first of each lake, then the second of each,
        and so on, since the marks of a year depend on those of the year before.
    """

    starts: IntArray
    before: IntArray
    after: IntArray
    carrying: tuple[IntArray, ...]
    gone: A = field(metadata=over("season", units="count"))
    moved_after: A = field(metadata=over("season", units="count"))
    moved_variance: A = field(metadata=over("season"))
    winterkill: A = field(metadata=over("season"))
    winterkill_variance: A = field(metadata=over("season"))
    connected: A = field(metadata=over("lake"))
    young_eaten: A = field(metadata=over("lake"))
    marks_gained: A = field(metadata=over("season", units="count"))
    marks_needed: A = field(metadata=over("season", units="count"))

    @property
    def any_connected(self) -> bool:
        """Whether some lake has connected waters."""
        return bool(np.asarray(self.connected).any())

    @property
    def any_young_eaten(self) -> bool:
        """Whether recruitment is suppressed in some lake."""
        return bool(np.asarray(self.young_eaten).any())


def winters(campaign: Campaign, counts: Counts[Numbers], *, with_marks: bool) -> Winters[Numbers]:
    """Return the winters of a campaign.

    Parameters
    ----------
    campaign : Campaign
        With every year of each lake.
    counts : Counts
        Of the same campaign, one release group a season.
    with_marks : bool
        Whether recaptures are in the likelihood.

    Raises
    ------
    FitError
        If a lake has two seasons in one year.
    """
    seasons = {name: variable.values for name, variable in campaign.seasons.items()}
    lake, year = seasons["lake_index"], seasons["year"]
    before = np.flatnonzero(lake[1:] == lake[:-1])
    after = before + 1
    twice = after[year[after] == year[before]]
    if len(twice):
        names = ", ".join(str(campaign.seasons["season"].values[season]) for season in twice)
        raise FitError(
            f"{names}: a second season in one year; a model of linked years needs one season a "
            "lake and year (leave the column season empty, or write the year)"
        )
    left = campaign.seasons["marks_left"].values
    carried_most = campaign.seasons["carried_most"].values
    gained = left - carried_most - seasons["marks_moved_after"]
    needed = np.maximum(counts.least_carried, 0.0)
    for winter in reversed(range(len(before))):
        still_needed = needed[after[winter]] - gained[before[winter]]
        needed[before[winter]] = max(needed[before[winter]], still_needed)
    levels: list[list[int]] = []
    level = 0
    for winter in range(len(before)):
        follows = winter > 0 and after[winter - 1] == before[winter]
        level = level + 1 if follows else 0
        if with_marks and carried_most[after[winter]] > 0:
            while len(levels) <= level:
                levels.append([])
            levels[level].append(winter)
    return Winters(
        starts=np.setdiff1d(np.arange(len(lake)), after),
        before=before,
        after=after,
        gone=seasons["gone"],
        moved_after=seasons["moved_after"],
        moved_variance=seasons["moved_error"] ** 2 + seasons["moved_after_error"] ** 2,
        winterkill=seasons["winterkill"],
        winterkill_variance=seasons["winterkill_error"] ** 2,
        connected=campaign.lakes["connected"].values.astype(float),
        young_eaten=campaign.lakes["young_eaten"].values.astype(float),
        marks_gained=gained,
        marks_needed=needed,
        carrying=tuple(np.array(found, dtype=np.int64) for found in levels if found),
    )
