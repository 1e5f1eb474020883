"""Rules on fish that came or went other than by the nets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.records.cells import COME
from fishdown.records.codes import Odd, Wrong
from fishdown.records.movements import same_fish_twice, seasons_netted
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fishdown.records.draft import Draft
    from fishdown.records.problems import Problem


def movement_numbers(draft: Draft) -> Iterator[Problem]:
    """Find movements without a number of fish, or with numbers that contradict each other."""
    movements = draft.frames["movements"]
    season = seasons_netted(movements, draft.frames["pulls"])
    for row in rows_of(movements.assign(season=season)):
        fish_told, share_told = (
            draft.says("movements", row.row, column) != "" for column in ("fish", "share")
        )
        at = ("movements", row)
        if not fish_told and not share_told:
            yield draft.problem(Wrong.MOVEMENT_WITHOUT_NUMBER, *at, "fish")
        elif fish_told and share_told:
            yield draft.problem(Wrong.MOVEMENT_IN_TWO_WAYS, *at, "share")
        elif share_told and row.movement not in {"winterkill", ""}:
            yield draft.problem(Wrong.SHARE_OF_NO_WINTER, *at, "share")
        elif share_told and row.season:
            yield draft.problem(Wrong.SHARE_WITHIN_SEASON, *at, "share")
        if row.marked > 0 and row.movement in COME:
            yield draft.problem(Wrong.MARKED_FISH_CAME, *at, "marked")
        elif row.marked > row.fish:
            yield draft.problem(Wrong.MARKED_ABOVE_MOVED, *at, "marked")
        if row.other_lake and row.movement not in {"moved_in", "moved_out", ""}:
            yield draft.problem(Wrong.OTHER_LAKE_OF_NO_MOVE, *at, "other_lake")


def fish_moved_twice(draft: Draft) -> Iterator[Problem]:
    """Find fish that are entered from both lakes' sides."""
    for row, other in same_fish_twice(draft.frames["movements"]):
        yield draft.problem(Wrong.MOVED_TWICE, "movements", row, "other_lake", other=other)


def movements_outside_records(draft: Draft) -> Iterator[Problem]:
    """Find movements before the first pull of their lake or after its last."""
    pulls, movements = draft.frames["pulls"], draft.frames["movements"]
    if not draft.whole("pulls") or movements.empty:
        return
    span = pulls[pulls["date"].notna()].groupby("lake")["date"].agg(["min", "max"])
    for row in rows_of(movements):
        if row.lake not in span.index or pd.isna(row.date):
            continue
        # Marks that are gone before the first pull are not at large at it.
        if row.date < span.loc[row.lake, "min"] and not row.marked > 0:
            yield draft.problem(Odd.MOVED_BEFORE_NETTING, "movements", row, "date")
        elif row.date > span.loc[row.lake, "max"]:
            yield draft.problem(Odd.MOVED_AFTER_NETTING, "movements", row, "date")
