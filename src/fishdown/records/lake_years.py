"""The seasons of every lake in time order, years without netting among them."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from fishdown.records.checked import Records


def lake_seasons(records: Records) -> pd.DataFrame:
    """List the seasons of each netted lake.

    A lake's seasons are those of its pulls; the years in which it was not netted but fish were
    marked or measured; and every year in between, when fish lived and died unseen.

    Returns
    -------
    pandas.DataFrame
        lake, season (its label), year, first_day and last_day (of its pulls, missing without
        any), lakes in the order of their table, seasons in time order.
    """
    pulls = records.pulls.groupby(["lake", "season"], sort=False)["date"]
    netted = pulls.agg(first_day="min", last_day="max").reset_index()
    netted["year"] = [
        _year(season, day)
        for season, day in zip(netted["season"], netted["first_day"], strict=True)
    ]
    unnetted: dict[str, set[str]] = defaultdict(set)
    for other in (records.marked, records.measured):
        for lake, season in other[["lake", "season"]].drop_duplicates().itertuples(index=False):
            unnetted[lake].add(season)
    parts = [netted]
    for lake, seasons in netted.groupby("lake"):
        seen = {int(season) for season in unnetted[str(lake)] - set(seasons["season"])}
        years = set(seasons["year"]) | seen
        idle = sorted(set(range(min(years), max(years) + 1)) - set(seasons["year"]))
        parts.append(pd.DataFrame({"lake": lake, "season": map(str, idle), "year": idle}))
    table = pd.concat(parts, ignore_index=True)
    table["place"] = table["lake"].map(
        {name: place for place, name in enumerate(records.lakes["lake"])}
    )
    table = table.sort_values(["place", "year", "first_day"], ignore_index=True)
    return table[["lake", "season", "year", "first_day", "last_day"]]


def _year(season: str, first_day: pd.Timestamp) -> int:
    """Return the year that a season is called by, or that of its first pull."""
    return int(season) if re.fullmatch(r"\d{4}", season, re.ASCII) else first_day.year
