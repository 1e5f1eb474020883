"""Fish that came or went other than by the nets, season by season and pull by pull."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.records.movements import fish_gone
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from fishdown.typing import FloatArray, IntArray

MOVEMENT_LABELS: dict[str, tuple[str | None, str]] = {
    "moved": ("count", "fish that left other than by the nets while the season was netted, net"),
    "moved_error": ("count", "standard error of that number"),
    "marks_moved": ("count", "marked fish that left so since the season's marking began"),
    "moved_after": ("count", "fish that left so between this season's netting and the next, net"),
    "moved_after_error": ("count", "standard error of that number"),
    "marks_moved_after": ("count", "marked fish that left so before the next season's marking"),
    "winterkill": ("1", "share of the fish that a winterkill between the two took"),
    "winterkill_error": ("1", "standard error of that share"),
}


def season_movements(
    movements: pd.DataFrame, seasons: pd.DataFrame, marked: pd.DataFrame
) -> dict[str, FloatArray]:
    """Add up the movements of each season, and of the time until the next.

    Marked fish that leave between two seasons, when the marking for the second had begun, are not
    at large in it, and those of the first that lasted are.

    Parameters
    ----------
    movements : pandas.DataFrame
        Clean.
    seasons : pandas.DataFrame
        From `fishdown.records.lake_years.lake_seasons`.
    marked : pandas.DataFrame
        Clean, with ``season_index``, −1 outside every season.

    Returns
    -------
    dict of str to ndarray, shape (season,)
        The variables of `MOVEMENT_LABELS`.
    """
    if movements.empty:
        return {name: np.zeros(len(seasons)) for name in MOVEMENT_LABELS}
    while_netted, after = _places(movements, seasons)
    to_come = _marked_for(movements, seasons, marked, after)
    of_marks = np.where(while_netted >= 0, while_netted, to_come)
    gone, error = fish_gone(movements), movements["standard_error"].to_numpy(dtype=float)
    marks = movements["marks_removed"].to_numpy(dtype=float)
    by_share = movements["share"].notna().to_numpy()
    share = movements["share"].fillna(0.0).to_numpy(dtype=float)

    def total(values: Any, place: IntArray, chosen: Any = True) -> FloatArray:
        mine = (place >= 0) & chosen
        return np.bincount(place[mine], weights=values[mine], minlength=len(seasons))

    # Of several winterkills before the next netting each takes its share of those left by the last.
    alive = np.exp(total(np.log1p(-np.minimum(share, 1.0 - 1e-9)), after))
    return {
        "moved": total(gone, while_netted),
        "moved_error": np.sqrt(total(error**2, while_netted)),
        "marks_moved": total(marks, of_marks),
        "moved_after": total(gone, after),
        "moved_after_error": np.sqrt(total(error**2, after, ~by_share)),
        "marks_moved_after": total(marks, after, to_come < 0),
        "winterkill": 1.0 - alive,
        "winterkill_error": np.sqrt(total(error**2, after, by_share)),
    }


def moved_before_pulls(
    movements: pd.DataFrame, pulls: pd.DataFrame, season_index: IntArray
) -> FloatArray:
    """Return the fish that left other than by the nets before each pull of its season, net.

    Fish that come or go on a day count from the next day on.

    Parameters
    ----------
    movements : pandas.DataFrame
        Clean.
    pulls : pandas.DataFrame
        Clean pulls in the order of the campaign.
    season_index : ndarray of int, shape (pull,)
    """
    before = np.zeros(len(pulls))
    if movements.empty:
        return before
    day = pulls["date"].to_numpy()
    keys = zip(pulls["lake"], pulls["season"], strict=True)
    place = dict(zip(keys, season_index.tolist(), strict=True))
    while_netted = movements[movements["season"] != ""].sort_values("date")
    mine_of = pd.Series(season_index).groupby(season_index).indices
    for (lake, season), rows in while_netted.groupby(["lake", "season"]):
        mine = mine_of[place[lake, season]]
        so_far = np.concatenate([[0.0], np.cumsum(fish_gone(rows))])
        before[mine] = so_far[np.searchsorted(rows["date"].to_numpy(), day[mine], side="left")]
    return before


def _places(movements: pd.DataFrame, seasons: pd.DataFrame) -> tuple[IntArray, IntArray]:
    """Return the season netted on each movement's day, or else the one before; −1 for none."""
    keys = zip(seasons["lake"], seasons["season"], strict=True)
    place = {key: index for index, key in enumerate(keys)}
    here = zip(movements["lake"], movements["season"], strict=True)
    while_netted = np.array([place.get(key, -1) for key in here], dtype=np.int64)
    # A year without pulls is over from its first day: all of it lies before the next netting.
    new_year = (seasons["year"].to_numpy(dtype=np.int64) - 1970).astype("datetime64[Y]")
    ends = seasons["last_day"].fillna(pd.Series(new_year.astype("datetime64[s]")))
    ended = pd.DataFrame({"lake": seasons["lake"], "date": ends, "place": np.arange(len(seasons))})
    ended = ended.sort_values("date", kind="stable")
    dated = movements[["lake", "date"]].assign(row=np.arange(len(movements)))
    alike = {name: ended[name].dtype for name in ("date", "lake")}
    dated = dated.sort_values("date", kind="stable").astype(alike)
    joined = pd.merge_asof(dated, ended, on="date", by="lake", allow_exact_matches=True)
    after = joined.sort_values("row")["place"].fillna(-1).to_numpy(dtype=np.int64)
    return while_netted, np.where(while_netted >= 0, -1, after)


def _marked_for(
    movements: pd.DataFrame, seasons: pd.DataFrame, marked: pd.DataFrame, after: IntArray
) -> IntArray:
    """Return the season for which marking had begun when fish left between seasons; −1 for none.

    Marked fish that left before a lake's first season were marked for it.
    """
    following: dict[tuple[str, int], int] = {}
    last: dict[str, int] = {}
    for place, lake in enumerate(seasons["lake"]):
        following[lake, last.get(lake, -1)] = place
        last[lake] = place
    began = marked.groupby("season_index")["date"].min()
    found = []
    for row, before in zip(rows_of(movements), after.tolist(), strict=True):
        place = -1 if row.season else following.get((row.lake, before), -1)
        begun = before < 0 or (place in began.index and began[place] <= row.date)
        found.append(place if begun else -1)
    return np.array(found, dtype=np.int64)
