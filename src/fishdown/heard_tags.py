"""Tags that antennas heard alive in the season they were released in, as capture histories."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.records.lake_years import lake_seasons
from fishdown.records.tables import rows_of
from fishdown.records.visits import Heard, code_of, heard

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.records.checked import Records

# Deaths of marking fall into the first week, after which published trials stop (N. Am. J. Fish.
# Manage. 1996, 16:192–200: seven days); a fish heard before may be dead after.
WAIT_DAYS = 7
# Whether a catch of a date was lifted before or after midnight is not on record, and a fish that
# is caught was at the net: neither night counts.
_BEFORE_CATCH_DAYS = 2

HEARD_LABELS: dict[str, tuple[str | None, str]] = {
    "nights_listened": ("count", "nights on which an antenna could have heard the tag"),
    "nights_heard": ("count", "of them, nights on which one did"),
    "still_there": (
        "1",
        "1 if a catch showed that the tag was there, -1 if it lies beside an antenna, else 0",
    ),
    "tags": ("count", "tags with this history"),
}


def heard_tags(records: Records) -> xr.Dataset:
    """Return `tag_histories` as arrays of dimension ``history``."""
    # Checking records needs no arrays with labels, whose import takes a while.
    import xarray as xr

    rows = tag_histories(records)
    return xr.Dataset({name: ("history", rows[name].to_numpy(np.int64)) for name in rows})


def tag_histories(records: Records, found: Heard | None = None) -> pd.DataFrame:
    """Count the tags of each season by the nights on which they were heard.

    A night counts from a week after release to the season's last pull, if any antenna of the lake
    read any tag on it; for a tag that was read in a catch, to the night before the one before that
    catch. If marks were removed of which no tag number is on record, nobody knows which tags are
    gone: then only the nights before count, and no catch shows that a tag was there.

    Parameters
    ----------
    found : Heard, optional
        What their antennas heard, if it is known already.

    Returns
    -------
    pandas.DataFrame
        Columns ``season_index`` and those of `HEARD_LABELS`, a row for each history; none without
        tags, detections or such nights. Batches of several seasons or marks are left out.
    """
    if records.tags.empty or records.detections.empty:
        return pd.DataFrame(columns=["season_index", *HEARD_LABELS], dtype="int64")
    found = found or heard(records)
    table = lake_seasons(records)
    visits = found.visits.assign(code=code_of(found.visits["tag_id"]))
    visits_at = {str(lake): rows for lake, rows in visits.groupby("lake")}
    nights_at = {str(lake): rows["night"] for lake, rows in found.nights.groupby("lake")}
    parts = [
        _of_season(
            records,
            visits_at.get(season.lake, visits.iloc[:0]),
            nights_at[season.lake].drop_duplicates(),
            place,
            season,
        )
        for place, season in enumerate(rows_of(table))
        if not pd.isna(season.last_day) and season.lake in nights_at
    ]
    tags = pd.concat([part for part in parts if part is not None] or [_no_tags()])
    columns = ["season_index", "nights_listened", "nights_heard", "still_there"]
    return tags.groupby(columns).size().rename("tags").reset_index()


def _of_season(
    records: Records,
    visited: pd.DataFrame,
    nights: pd.Series[pd.Timestamp],
    place: int,
    season: Any,
) -> pd.DataFrame | None:
    """Return a row for each tag of one season of a lake; None if none can tell anything.

    Visits and nights are those of the lake.
    """
    tags = _tags_of(records, season.lake, season.season)
    end, caught = _removals(records, season)
    on = np.sort(nights[nights <= end].to_numpy("datetime64[D]"))
    first = (tags["released"] + pd.Timedelta(days=WAIT_DAYS)).to_numpy("datetime64[D]")
    # A batch released too late for any night tells nothing.
    heard_of = len(on) - np.searchsorted(on, first) > 0
    tags, first = tags[heard_of].reset_index(drop=True), first[heard_of]
    if tags.empty:
        return None
    code = code_of(tags["tag_id"])
    day = pd.to_datetime(code.map(caught))
    last = (day - pd.Timedelta(days=_BEFORE_CATCH_DAYS)).to_numpy("datetime64[D]")
    last = np.where(np.isnat(last), np.datetime64(end, "D"), last)
    met = visited[["code", "night"]].drop_duplicates()
    met = met.merge(pd.DataFrame({"code": code, "first": first, "last": last}), on="code")
    inside = (met["night"] >= met["first"]) & (met["night"] <= met["last"])
    times = met[inside].groupby("code").size()
    lying = code.isin(visited.loc[visited["in_place"], "code"]).to_numpy()
    listened = np.searchsorted(on, last, side="right") - np.searchsorted(on, first)
    return pd.DataFrame(
        {
            "season_index": place,
            "nights_listened": np.where(lying, 0, np.maximum(listened, 0)),
            "nights_heard": np.where(lying, 0, code.map(dict(times)).fillna(0)).astype(np.int64),
            "still_there": np.where(lying, -1, day.notna().to_numpy().astype(np.int64)),
        }
    )


def _tags_of(records: Records, lake: str, season: str) -> pd.DataFrame:
    """Return the tags of a season's batches that have one season and one mark: tag_id, released."""
    marked = records.marked[records.marked["lake"] == lake]
    batches = marked.groupby("batch").agg(
        seasons=("season", "nunique"),
        marks=("mark", "nunique"),
        season=("season", "first"),
        mark=("mark", "first"),
        released=("date", "max"),
    )
    one = (batches["seasons"] == 1) & (batches["marks"] == 1)
    mine = batches[one & (batches["season"] == season) & (batches["mark"] != "fin_clip")]
    tags = records.tags[records.tags["lake"] == lake]
    return tags.merge(mine["released"], left_on="batch", right_index=True)[["tag_id", "released"]]


def _removals(records: Records, season: Any) -> tuple[pd.Timestamp, dict[str, pd.Timestamp]]:
    """Return the last night that counts, and when each tag was read in a catch of the season."""
    pulls, recaptures = (
        table[(table["lake"] == season.lake) & (table["season"] == season.season)]
        for table in (records.pulls, records.recaptures)
    )
    clipped = set(
        records.marked.loc[
            (records.marked["lake"] == season.lake) & (records.marked["mark"] == "fin_clip"),
            "batch",
        ]
    )
    # A fish whose tag was lost has no number to be known by.
    numbered = recaptures["tag_id"] != ""
    lost = recaptures["tag_read"].eq(other=False).fillna(value=False).astype(bool)
    known = recaptures[numbered | lost | recaptures["batch"].isin(clipped)]
    told = known.groupby("date")["count"].sum()
    removed = pulls.groupby("date")["marks_removed"].sum()
    unknown = removed[removed > told.reindex(removed.index, fill_value=0) + 1e-9]
    end = season.last_day
    if len(unknown):
        end = min(end, unknown.index.min() - pd.Timedelta(days=_BEFORE_CATCH_DAYS))
    named = recaptures[numbered & (recaptures["date"] <= end)]
    caught = named.assign(code=code_of(named["tag_id"])).groupby("code")["date"].min()
    return end, {str(code): day for code, day in caught.items()}


def _no_tags() -> pd.DataFrame:
    columns = ["season_index", "nights_listened", "nights_heard", "still_there"]
    return pd.DataFrame({name: pd.Series([], dtype="int64") for name in columns})
