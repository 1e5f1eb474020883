"""Which pull a row of another table refers to, and what recaptures.csv says of each pull."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.equality import by_value
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator


def pulls_meant(rows: pd.DataFrame, pulls: pd.DataFrame) -> Iterator[tuple[Any, list[Any]]]:
    """Find the pulls of the same date, lake and net (and order, where given).

    Parameters
    ----------
    rows : pandas.DataFrame
        Columns ``date``, ``lake``, ``net`` and perhaps ``order``; a row that lacks one of the
        first three is passed over.
    pulls : pandas.DataFrame
        Columns ``date``, ``lake``, ``net`` and ``turn``.

    Yields
    ------
    row : namedtuple
        The row.
    found : list of namedtuple
        The pulls it may mean: none, one or several.
    """
    if rows.empty:
        return
    of_day: dict[tuple[Any, ...], list[Any]] = defaultdict(list)
    of_turn: dict[tuple[Any, ...], list[Any]] = defaultdict(list)
    for pull in rows_of(pulls):
        of_day[pull.date, pull.lake, pull.net].append(pull)
        of_turn[pull.date, pull.lake, pull.net, pull.turn].append(pull)
    for row in rows_of(rows):
        if pd.isna(row.date) or not row.lake or not row.net:
            continue
        order = getattr(row, "order", None)
        key = (row.date, row.lake, row.net)
        yield row, of_day.get(key, []) if pd.isna(order) else of_turn.get((*key, order), [])


@by_value
@dataclass(frozen=True)
class Recaptured:
    """What recaptures.csv says of each pull.

    Attributes
    ----------
    all_marks : pandas.Series
        Marked fish in the catch, whenever and wherever they were marked.
    own_marks : pandas.Series
        Those that were marked in the pull's lake, for its season or an earlier one.
    first_row : dict of int to int
        Index label of each pull that has recaptures to the line of the first of them.
    """

    all_marks: pd.Series[float]
    own_marks: pd.Series[float]
    first_row: dict[int, int]


def recaptured_of_pulls(
    pulls: pd.DataFrame, recaptures: pd.DataFrame, marked: pd.DataFrame
) -> Recaptured:
    """Sum recaptures.csv over the rows of each pull.

    Parameters
    ----------
    pulls : pandas.DataFrame
        The pulls, with ``turn``.
    recaptures : pandas.DataFrame
        The recaptures; a row without a count is one fish.
    marked : pandas.DataFrame
        The marked fish. A fish of a batch that was marked in other lakes only is no mark of
        this lake.

    Returns
    -------
    Recaptured
        Two columns indexed like `pulls`; a pull without rows has 0.
    """
    all_marks = pd.Series(0.0, index=pulls.index)
    own_marks = pd.Series(0.0, index=pulls.index)
    first_row: dict[int, int] = {}
    places = batch_places(marked)
    for row, found in pulls_meant(recaptures, pulls):
        if len(found) != 1:
            continue
        pull = found[0]
        first_row.setdefault(pull.Index, row.row)
        count = 1.0 if pd.isna(row.count) else row.count
        all_marks[pull.Index] += count
        if row.batch not in places or pull.lake in places[row.batch]:
            own_marks[pull.Index] += count
    return Recaptured(all_marks, own_marks, first_row)


def batch_places(marked: pd.DataFrame) -> dict[str, set[str]]:
    """Collect where each batch was marked.

    Parameters
    ----------
    marked : pandas.DataFrame
        Columns ``batch`` and ``lake``.
    """
    places: dict[str, set[str]] = defaultdict(set)
    for row in rows_of(marked):
        if row.batch:
            places[row.batch].add(row.lake)
    return dict(places)
