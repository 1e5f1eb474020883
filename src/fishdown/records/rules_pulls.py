"""Rules on pulls: no pull twice, seasons that make sense, days that have been."""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pandas as pd

from fishdown.records.codes import Odd, Wrong
from fishdown.records.rules_unread import rows_of_other_species
from fishdown.records.seasons import label_fits
from fishdown.records.tables import TABLES, rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

_HOURS_A_DAY = 24.0


def pulls_given_twice(draft: Draft) -> Iterator[Problem]:
    """Find pulls of one net on one day that no order distinguishes."""
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
            yield draft.problem(Wrong.PULL_TWICE, "pulls", pull, "net", first=other)
        seen.setdefault(order, pull.row)


def labels_out_of_season(draft: Draft) -> Iterator[Problem]:
    """Find seasons written as a year that is not the year of the date or the one before."""
    for pull in rows_of(draft.frames["pulls"]):
        if pd.notna(pull.date) and not label_fits(pull.label, pull.date.year):
            at, year_before = ("pulls", pull, "season"), pull.date.year - 1
            yield draft.problem(Wrong.SEASON_OFF_DATE, *at, year_before=year_before)


def seasons_that_overlap(draft: Draft) -> Iterator[Problem]:
    """Find seasons of one lake that begin before the one before has ended."""
    pulls = draft.frames["pulls"]
    dated = pulls[pulls["date"].notna() & (pulls["lake"] != "")].sort_values("date", kind="stable")
    # Sorted by date, so seasons come in the order of their first pulls.
    of_lake: dict[str, dict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))
    for pull in rows_of(dated):
        of_lake[pull.lake][pull.season].append(pull)
    for in_time in of_lake.values():
        for one, other in pairwise(in_time.values()):
            if other[0].date > one[-1].date:
                continue
            # The season with fewer pulls is more likely the error.
            fewer, more = (one, other) if len(one) < len(other) else (other, one)
            at = ("pulls", fewer[0], "season")
            yield draft.problem(Wrong.SEASONS_OVERLAP, *at, other=more[0].season)


def put_back_above_catch(draft: Draft) -> Iterator[Problem]:
    """Find pulls that put back more fish than they caught."""
    pulls = draft.frames["pulls"]
    for pull in rows_of(pulls[pulls["released_again"] > pulls["caught"]]):
        yield draft.problem(Wrong.PUT_BACK_ABOVE_CATCH, "pulls", pull, "released_again")


def days_to_come(draft: Draft) -> Iterator[Problem]:
    """Find dates later than today, once a table."""
    # A crew far to the west may be a day behind, one far to the east a day ahead.
    now = pd.Timestamp(datetime.now(UTC)) + pd.Timedelta(days=1)
    for name in TABLES:
        frame = draft.frames[name]
        column = "time" if "time" in frame else "date"
        if column not in frame:
            continue
        limit = now if column == "time" else now.tz_localize(None).normalize()
        rows = frame.loc[frame[column] > limit, "row"].tolist()
        if rows:
            yield draft.problem(Odd.DAY_TO_COME, name, rows[0], column, rows=rows)


def hours_in_part(draft: Draft) -> Iterator[Problem]:
    """Find seasons in which some pulls that fished have no hours, and others have."""
    pulls = draft.frames["pulls"]
    fished = pulls[~pulls["spoiled"].fillna(value=False) & pulls["caught"].notna()]
    for (lake, season), group in fished.groupby(["lake", "season"], sort=False):
        rows = group.loc[group["effort_h"].isna(), "row"].tolist()
        rows = [row for row in rows if not draft.says("pulls", row, "effort_h")]
        if rows and len(rows) < len(group):
            said = {"lake": lake, "season": season, "lacking": len(rows), "rows": rows}
            yield draft.problem(Odd.HOURS_IN_PART, "pulls", rows[0], "effort_h", **said)


def hours_above_time(draft: Draft) -> Iterator[Problem]:
    """Find pulls whose net fished longer than since the day on which it was pulled before."""
    pulls = draft.frames["pulls"]
    dated = pulls[pulls["date"].notna() & (pulls["net"] != "")].sort_values(["date", "turn"])
    last: dict[tuple[str, str], pd.Timestamp] = {}
    for pull in rows_of(dated):
        before = last.get((pull.lake, pull.net))
        last[pull.lake, pull.net] = pull.date
        if before is None:
            continue
        # The dates have no time of day: up to a day more.
        most = _HOURS_A_DAY * ((pull.date - before).days + 1)
        if pull.effort_h > most:
            yield draft.problem(Odd.HOURS_ABOVE_TIME, "pulls", pull, "effort_h", most=most)
