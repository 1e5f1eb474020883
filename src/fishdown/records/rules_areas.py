"""Rules on the area of a lake by date."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.records.codes import Odd, Wrong
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem

# Water that falls to half its area, or doubles, between two entries is worth a look; acres for
# hectares are a factor of 2.5 (our judgement, no source).
FACTOR = 2.0
# Entries further than this from all pulls of the lake are more likely a wrong year (judgement).
_YEARS_AWAY, _DAYS_A_YEAR = 2.0, 365.25


def areas_given_twice(draft: Draft) -> Iterator[Problem]:
    """Find lakes with two areas on one day."""
    first: dict[tuple[str, pd.Timestamp], int] = {}
    for row in rows_of(draft.frames["areas"]):
        if not row.lake or pd.isna(row.date):
            continue
        if (row.lake, row.date) in first:
            said = {"first": first[row.lake, row.date]}
            yield draft.problem(Wrong.AREA_TWICE, "areas", row, "date", **said)
        first.setdefault((row.lake, row.date), row.row)


def areas_that_leap(draft: Draft) -> Iterator[Problem]:
    """Find areas over twice, or less than half, of the area on the date before."""
    for _, rows in _by_lake(draft):
        last = None
        for row in rows_of(rows):
            if last is not None and _times(row.area_ha, last.area_ha) > FACTOR:
                said = {"before": last.area_ha, "day": last.date}
                said |= {"larger": row.area_ha > last.area_ha}
                said |= {"times": _times(row.area_ha, last.area_ha)}
                yield draft.problem(Odd.AREA_LEAPS, "areas", row, "area_ha", **said)
            last = row


def areas_unlike_usual(draft: Draft) -> Iterator[Problem]:
    """Find lakes whose areas by date are all far from the one in the table of lakes."""
    lakes = draft.frames["lakes"].drop_duplicates("lake").set_index("lake")["area_ha"]
    for lake, rows in _by_lake(draft):
        usual = float(lakes.get(lake, np.nan))
        least, most = float(rows["area_ha"].min()), float(rows["area_ha"].max())
        larger = least > FACTOR * usual
        if larger or most * FACTOR < usual:
            said = {"lake": lake, "least": least, "most": most, "usual": usual}
            said |= {"times": FACTOR, "larger": larger}
            row = int(rows["row"].iloc[0])
            yield draft.problem(Odd.AREA_UNLIKE_USUAL, "areas", row, "area_ha", **said)


def areas_years_away(draft: Draft) -> Iterator[Problem]:
    """Find areas dated years away from all netting of their lake, once a lake."""
    pulls = draft.frames["pulls"]
    days = {lake: group["date"].dropna() for lake, group in pulls.groupby("lake", sort=False)}
    for lake, rows in _by_lake(draft):
        netted = days.get(lake)
        if netted is None or netted.empty:
            continue
        away = [float((netted - day).abs().min().days) / _DAYS_A_YEAR for day in rows["date"]]
        far = [row for row, years in zip(rows["row"].tolist(), away, strict=True)
               if years > _YEARS_AWAY]  # fmt: skip
        if far:
            said = {"lake": lake, "years": max(away), "rows": far}
            yield draft.problem(Odd.AREA_YEARS_AWAY, "areas", far[0], "date", **said)


def _by_lake(draft: Draft) -> Iterator[tuple[str, pd.DataFrame]]:
    """Yield the complete rows of each lake, in time order."""
    areas = draft.frames["areas"]
    whole = areas[areas["date"].notna() & areas["area_ha"].notna() & (areas["lake"] != "")]
    for lake, rows in whole.sort_values(["date", "row"]).groupby("lake", sort=False):
        yield str(lake), rows


def _times(one: float, other: float) -> float:
    return max(one / other, other / one)
