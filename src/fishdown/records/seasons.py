"""Which season a row of the records belongs to."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from typing import TYPE_CHECKING

import pandas as pd

from fishdown.records.tables import TEXT

if TYPE_CHECKING:
    from collections.abc import Hashable

# A fish marked in autumn belongs to the netting of the next spring and summer.
LONGEST_WAIT_DAYS = 270


def seasons_of_pulls(pulls: pd.DataFrame) -> pd.Series[str]:
    """Give every pull its season.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Columns ``date`` and ``season``.

    Returns
    -------
    pandas.Series of str
        The season as written; the calendar year of the date where none is written, or a
        year that does not fit the date; the empty text where there is no date either.
    """
    years = _calendar_year(pulls["date"])
    seasons = [
        season if season and (not year or label_fits(season, int(year))) else year
        for season, year in zip(pulls["season"], years, strict=True)
    ]
    return pd.Series(seasons, index=pulls.index, dtype=TEXT)


def label_fits(season: str, year: int) -> bool:
    """Return whether a season may hold a pull of that year.

    Parameters
    ----------
    year : int
        Calendar year of the pull.

    Returns
    -------
    bool
        False only if the season is written as a year that is neither the calendar year nor
        the one before it (netting that goes on over the turn of the year).
    """
    if not re.fullmatch(r"\d{4}", season, re.ASCII):
        return True
    return 0 <= year - int(season) <= 1


def seasons_of_rows(rows: pd.DataFrame, pulls: pd.DataFrame) -> pd.Series[str]:
    """Give every row of another table the season of the netting it belongs to.

    Parameters
    ----------
    rows : pandas.DataFrame
        Columns ``date`` and ``lake``.
    pulls : pandas.DataFrame
        Columns ``date``, ``lake`` and ``season``, the season filled.

    Returns
    -------
    pandas.Series of str
        Per row: the season of a pull in that lake on that day; else of the first pull within
        270 days after it; else of the last pull before it in the same calendar year; else the
        calendar year.
    """
    if rows.empty:
        return pd.Series([], index=rows.index, dtype=TEXT)
    days: dict[Hashable, list[pd.Timestamp]] = defaultdict(list)
    labels: dict[Hashable, list[str]] = defaultdict(list)
    dated = pulls[pulls["date"].notna()].sort_values(["date", "row"], kind="stable")
    for lake, day, season in zip(dated["lake"], dated["date"], dated["season"], strict=True):
        days[lake].append(day)
        labels[lake].append(season)

    def season_of(lake: Hashable, day: pd.Timestamp, year: str) -> str:
        if pd.isna(day) or not days[lake]:
            return year
        following = bisect_left(days[lake], day)
        if following < len(days[lake]):
            wait = days[lake][following] - day
            if wait.days <= LONGEST_WAIT_DAYS:
                return labels[lake][following]
        if following > 0 and days[lake][following - 1].year == day.year:
            return labels[lake][following - 1]
        return year

    years = _calendar_year(rows["date"])
    found = [
        season_of(lake, day, year)
        for lake, day, year in zip(rows["lake"], rows["date"], years, strict=True)
    ]
    return pd.Series(found, index=rows.index, dtype=TEXT)


def _calendar_year(dates: pd.Series[pd.Timestamp]) -> pd.Series[str]:
    return dates.dt.strftime("%Y").fillna("").astype(TEXT)
