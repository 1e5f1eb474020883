"""Rules on pulls: no pull twice, seasons that make sense, days that have been."""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.records.problems import listed_rows
from fishdown.records.rules_unread import rows_of_other_species
from fishdown.records.seasons import label_fits
from fishdown.records.tables import TABLES, rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem


def pulls_given_twice(draft: Draft) -> Iterator[Problem]:
    """Find pulls of one net on one day that no order tells apart."""
    pulls = draft.frames["pulls"]
    named = pulls[pulls["date"].notna() & (pulls["lake"] != "") & (pulls["net"] != "")]
    named = named[~named["row"].isin(rows_of_other_species(draft, "pulls"))]
    first: dict[tuple[Any, ...], dict[float | None, int]] = defaultdict(dict)
    # Pulls with an order come first, so that it is the row without one that is reported.
    for pull in rows_of(named.sort_values(["order", "row"])):
        seen = first[pull.date, pull.lake, pull.net]
        order = None if pd.isna(pull.order) else pull.order
        if order in seen or (order is None and seen):
            other = seen.get(order, next(iter(seen.values())))
            wrong = f"this net has a pull on this day already (row {other})"
            mend = "delete the row if it is the same pull, else number both in column order"
            yield draft.problem("pulls", pull.row, "net", wrong, mend)
        seen.setdefault(order, pull.row)


def labels_out_of_season(draft: Draft) -> Iterator[Problem]:
    """Find seasons written as a year that is not the year of the date or the one before."""
    for pull in rows_of(draft.frames["pulls"]):
        if pd.notna(pull.date) and not label_fits(pull.label, pull.date.year):
            year = pull.date.year
            wrong = f"the season does not fit the date {pull.date:%Y-%m-%d}"
            mend = f"write {year}, or {year - 1} if the season began the year before"
            yield draft.problem("pulls", pull.row, "season", wrong, mend)


def seasons_that_overlap(draft: Draft) -> Iterator[Problem]:
    """Find seasons of one lake that begin before the one before has ended."""
    pulls = draft.frames["pulls"]
    dated = pulls[pulls["date"].notna() & (pulls["lake"] != "")].sort_values("date", kind="stable")
    # Sorted by date, so seasons come in the order of their first pulls.
    seasons = dated.groupby(["lake", "season"], sort=False).agg(
        first=("date", "first"), last=("date", "last"), pulls=("row", "size"), row=("row", "first")
    )
    of_lake: dict[str, list[Any]] = defaultdict(list)
    for season in rows_of(seasons.reset_index()):
        of_lake[season.lake].append(season)
    for lake, in_time in of_lake.items():
        for one, other in pairwise(in_time):
            if other.first > one.last:
                continue
            # The season with fewer pulls is more likely the slip.
            fewer, more = (one, other) if one.pulls < other.pulls else (other, one)
            wrong = f"season {fewer.season} of {lake} overlaps season {more.season}"
            mend = "give each season of a lake dates of its own"
            yield draft.problem("pulls", fewer.row, "season", wrong, mend)


def put_back_above_catch(draft: Draft) -> Iterator[Problem]:
    """Find pulls that put back more fish than they caught."""
    pulls = draft.frames["pulls"]
    for pull in rows_of(pulls[pulls["released_again"] > pulls["caught"]]):
        wrong = f"more fish put back than the {pull.caught:.0f} caught"
        mend = "correct one of the two; caught counts all fish of the catch"
        yield draft.problem("pulls", pull.row, "released_again", wrong, mend)


def days_to_come(draft: Draft) -> Iterator[Problem]:
    """Find dates later than today, once a table."""
    # A crew far to the west may be a day behind, one far to the east a day ahead.
    now = pd.Timestamp(datetime.now(UTC)) + pd.Timedelta(days=1)
    for name in TABLES:
        if name == "lakes":
            continue
        column = "time" if name == "detections" else "date"
        frame = draft.frames[name]
        limit = now if name == "detections" else now.tz_localize(None).normalize()
        rows = frame.loc[frame[column] > limit, "row"].tolist()
        if rows:
            wrong = "later than today" + (f" ({listed_rows(rows)})" if len(rows) > 1 else "")
            mend = "correct it, unless the clock of this computer is wrong"
            yield draft.problem(name, rows[0], column, wrong, mend, "warning")
