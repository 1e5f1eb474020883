"""The marks of each season alone: those released in it, without the ones of earlier seasons.

How many fish marked in earlier seasons still live and keep their mark is for a model to estimate.
A classical estimator cannot, so it counts the marks of the season alone.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.records.ledger import keep_ledger, marked_before_pulls
from fishdown.records.matching import pulls_meant
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.typing import FloatArray, IntArray

SEASON_MARK_LABELS: dict[str, tuple[str | None, str]] = {
    "marks_of_season": ("count", "fish marked in the season and at large just before the pull"),
    "recaptured_of_season": (
        "count",
        "fish marked in the season among the catch; missing if not examined or not distinguished",
    ),
}


def season_marks(
    pulls: pd.DataFrame, season_index: IntArray, marked: pd.DataFrame, recaptures: pd.DataFrame
) -> dict[str, FloatArray]:
    """Follow the marks of each season from pull to pull, without those of earlier seasons.

    The two are distinguished if no marks of earlier seasons were at large, if it had no marked
    fish, if no fish had been marked in the season yet, or if the recaptures name the batch of
    every marked fish and no batch was marked in several seasons.

    Parameters
    ----------
    pulls : pandas.DataFrame
        Clean pulls in the order of the campaign.
    season_index : ndarray of int, shape (pull,)
        Position of each pull's season.
    marked, recaptures : pandas.DataFrame
        Clean tables; `marked` with ``season_index``, −1 outside every season.

    Returns
    -------
    dict of str to ndarray, shape (pull,)
        The variables of `SEASON_MARK_LABELS`.
    """
    pulls = pulls.reset_index(drop=True).assign(turn=pulls["order"].to_numpy())
    told = _told(pulls, marked, recaptures)
    at_large, seen = np.zeros(len(pulls)), pulls["recaptured"].to_numpy(dtype=float).copy()
    marked_in: dict[Any, pd.DataFrame] = dict(list(marked.groupby("season_index")))
    for season, mine in pulls.groupby(season_index).indices.items():
        rows = pulls.iloc[mine]
        before = marked_before_pulls(rows, marked_in.get(season, marked.iloc[:0]))
        if rows["marks_at_large"].iloc[0] <= before[0]:
            at_large[mine] = rows["marks_at_large"].to_numpy(dtype=float)
            continue
        nothing_of_season = (before == 0) & ~np.isnan(seen[mine])
        seen[mine] = np.where(seen[mine] == 0, 0.0, told[mine])
        seen[mine[nothing_of_season]] = 0.0
        ledger = keep_ledger(
            rows["caught"].to_numpy(dtype=float),
            seen[mine],
            rows["examined"].to_numpy(dtype=float),
            rows["released_again"].to_numpy(dtype=float),
            before,
        )
        at_large[mine], seen[mine] = ledger.at_large, ledger.recaptured
    return {"marks_of_season": at_large, "recaptured_of_season": seen}


def _told(pulls: pd.DataFrame, marked: pd.DataFrame, recaptures: pd.DataFrame) -> FloatArray:
    """Count the recaptures of the pull's own season, NaN where some may be of another."""
    seasons: dict[tuple[str, str], set[str]] = defaultdict(set)
    for row in rows_of(marked):
        seasons[row.lake, row.batch].add(row.season)
    own, sure = np.zeros(len(pulls)), np.zeros(len(pulls))
    for row, meant in pulls_meant(recaptures, pulls):
        for pull in meant:
            of_batch: Any = seasons.get((pull.lake, row.batch), set())
            if of_batch == {pull.season}:
                own[pull.Index] += row.count
            if len(of_batch) > 0 and (pull.season not in of_batch or len(of_batch) == 1):
                sure[pull.Index] += row.count
    all_told = sure == pulls["recaptured"].to_numpy(dtype=float)
    return np.where(all_told, own, np.nan)
