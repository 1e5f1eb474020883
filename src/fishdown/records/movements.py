"""Fish that came or went other than by the nets, and the marks among them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.records.cells import COME, GO
from fishdown.records.tables import TEXT, empty_frame, rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

_OTHER_SIDE = {"moved_in": "moved_out", "moved_out": "moved_in"}


def no_movements() -> pd.DataFrame:
    """Return the table of a campaign in which fish came and went by the nets alone."""
    return empty_frame("movements").assign(
        season=pd.Series(dtype=TEXT), marks_removed=pd.Series(dtype="float64")
    )


def from_both_sides(movements: pd.DataFrame, lakes: set[str]) -> pd.DataFrame:
    """Give fish that went from one lake of the campaign to another a row in each of the two.

    Marked fish of another lake count as unmarked.

    Parameters
    ----------
    movements : pandas.DataFrame
        As written.
    lakes : set of str
        The lakes of the campaign.
    """
    between = movements[movements["other_lake"].isin(lakes)]
    other = between.assign(
        lake=between["other_lake"],
        other_lake=between["lake"],
        movement=between["movement"].map(_OTHER_SIDE),
    )
    other["marked"] = other["marked"].where(other["movement"].isin(GO))
    return pd.concat([movements, other], ignore_index=True)


def seasons_netted(movements: pd.DataFrame, pulls: pd.DataFrame) -> pd.Series[str]:
    """Return the season that was being netted on the day of each movement, or the empty text.

    Parameters
    ----------
    movements : pandas.DataFrame
        Columns ``date`` and ``lake``.
    pulls : pandas.DataFrame
        Columns ``date``, ``lake`` and ``season``.
    """
    if movements.empty:
        return pd.Series([], index=movements.index, dtype=TEXT)
    spans = pulls.groupby(["lake", "season"])["date"].agg(["min", "max"]).reset_index()
    rows = movements[["lake", "date"]].reset_index(names="place").merge(spans, on="lake")
    netted = rows[rows["date"].between(rows["min"], rows["max"])]
    found = pd.Series("", index=movements.index, dtype=TEXT)
    found[netted["place"]] = netted["season"].to_numpy()
    return found


def fish_gone(movements: pd.DataFrame) -> Any:
    """Return the fish that left the lake by each movement; negative for those that came."""
    sign = np.where(movements["movement"].isin(COME), -1.0, 1.0)
    return sign * movements["fish"].fillna(0.0).to_numpy(dtype=float)


def marks_gone(movements: pd.DataFrame) -> pd.Series[float]:
    """Return the marked fish that are known to have left the lake by each movement."""
    return movements["marked"].where(movements["movement"].isin(GO)).fillna(0.0)


def marks_gone_before(movements: pd.DataFrame, days: pd.Series[pd.Timestamp]) -> Any:
    """Return the marked fish known to have left a lake by movements before each of some days.

    Parameters
    ----------
    movements : pandas.DataFrame
        Of the lake.
    days : pandas.Series of datetime
    """
    in_time = movements.sort_values("date")
    before = np.concatenate([[0.0], marks_gone(in_time).cumsum()])
    return before[np.searchsorted(in_time["date"], days, side="left")]


def same_fish_twice(movements: pd.DataFrame) -> Iterator[tuple[Any, int]]:
    """Find rows that another row has from the other lake's side.

    Yields
    ------
    row : namedtuple
    other : int
        The line of the earlier row.
    """
    first: dict[tuple[Any, ...], int] = {}
    for row in rows_of(movements[movements["movement"].isin(_OTHER_SIDE)]):
        if not row.other_lake or pd.isna(row.date):
            continue
        mirrored = (row.date, row.other_lake, row.lake, _OTHER_SIDE[row.movement])
        if mirrored in first:
            yield row, first[mirrored]
        first.setdefault((row.date, row.lake, row.other_lake, row.movement), row.row)
