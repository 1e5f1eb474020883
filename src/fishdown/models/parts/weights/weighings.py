"""Weighings: the fish measured from one catch, or on one day of electrofishing."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fishdown.equality import by_value
from fishdown.models.parts.weights.left import DAYS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.campaign import Campaign
    from fishdown.typing import BoolArray, FloatArray, IntArray


@by_value
@dataclass(frozen=True)
class Weighings:
    """The weighings of a campaign, season by season in time order.

    Attributes
    ----------
    of_fish : ndarray of int, shape (fish,)
        Position of the weighing of each measured fish that belongs to a season.
    season : ndarray of int, shape (weighing,)
        Position of each weighing's season.
    netted : ndarray of bool, shape (weighing,)
        Whether its fish come from nets; else from electrofishing.
    time : ndarray, shape (weighing,)
        Days since the season's first pull, divided by `DAYS`.
    gone : ndarray, shape (weighing,)
        Fish gone from the lake since then.
    """

    of_fish: IntArray
    season: IntArray
    netted: BoolArray
    time: FloatArray
    gone: FloatArray


def weighings(campaign: Campaign, parts: Mapping[str, str]) -> Weighings:
    """Return the weighings of a campaign.

    A fish measured on a day on which no net of its lake was pulled comes from electrofishing.

    Parameters
    ----------
    campaign : Campaign
    parts : mapping of str to str
        The choices of a model. Where fish are weighed at random each season is one weighing.
    """
    index = campaign.fish["season_index"].values
    mine = index >= 0
    season = index[mine]
    seasons = campaign.seasons.sizes["season"]
    if parts["weighed"] == "at_random":
        nought = np.zeros(seasons)
        return Weighings(season, np.arange(seasons), nought > 0.0, nought, nought)
    day = campaign.fish["date"].values[mine].astype("datetime64[D]").astype(np.int64)
    net = campaign.fish["net"].values[mine]
    keys = list(zip(season.tolist(), day.tolist(), net.tolist(), strict=True))
    different = sorted(set(keys))
    place = {key: position for position, key in enumerate(different)}
    pulls = _Pulls(campaign)
    first_day = _first_days(campaign)
    return Weighings(
        of_fish=np.array([place[key] for key in keys], dtype=np.int64),
        season=np.array([season for season, _, _ in different], dtype=np.int64),
        netted=np.array([pulls.netted(season, day) for season, day, _ in different], dtype=bool),
        time=np.array([(day - first_day.get(season, day)) / DAYS for season, day, _ in different]),
        gone=np.array([pulls.gone_before(*key) for key in different]),
    )


def days_netted(campaign: Campaign) -> FloatArray:
    """Return the days from the first pull of each season to its last, shape (season,)."""
    days = campaign.seasons["last_day"].values - campaign.seasons["first_day"].values
    found: FloatArray = np.nan_to_num(days / np.timedelta64(1, "D"))
    return found


def _first_days(campaign: Campaign) -> dict[int, int]:
    """Return the day of each season's first pull; seasons without pulls have none."""
    days = campaign.seasons["first_day"].values.astype("datetime64[D]")
    return {
        season: int(day.astype(np.int64)) for season, day in enumerate(days) if not np.isnat(day)
    }


class _Pulls:
    """The pulls of each season by their day, to look up what was gone when fish were measured."""

    def __init__(self, campaign: Campaign) -> None:
        pulls = campaign.pulls
        season = pulls["season_index"].values.tolist()
        day = pulls["date"].values.astype("datetime64[D]").astype(np.int64).tolist()
        before = pulls["gone_before"].values.tolist()
        self._days: dict[int, list[int]] = {}
        self._gone: dict[int, list[float]] = {}
        self._of_net: dict[tuple[int, int, str], float] = {}
        # Pulls are in time order within each season.
        for one, when, net, gone in zip(season, day, pulls["net"].values.tolist(), before,
                                        strict=True):  # fmt: skip
            self._days.setdefault(one, []).append(when)
            self._gone.setdefault(one, []).append(gone)
            self._of_net.setdefault((one, when, net), gone)
        self._in_all = campaign.seasons["gone"].values

    def netted(self, season: int, day: int) -> bool:
        """Tell whether a net of the lake was pulled on this day."""
        days = self._days.get(season, [])
        place = bisect_left(days, day)
        return place < len(days) and days[place] == day

    def gone_before(self, season: int, day: int, net: str) -> float:
        """Return the fish gone before the pull of this net, or else before the day's first."""
        if (season, day, net) in self._of_net:
            return self._of_net[season, day, net]
        days = self._days.get(season, [])
        place = bisect_left(days, day)
        return self._gone[season][place] if place < len(days) else float(self._in_all[season])
