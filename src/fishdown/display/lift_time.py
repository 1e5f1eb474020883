"""Tagged fish at the nets hour by hour about the best time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.decisions.lift_presence import SLOTS, clock
from fishdown.display.table import Cell, Column, Table, interval, words
from fishdown.words import amount

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from fishdown.decisions.lift_time import LakeLift

_HOURS_ABOUT = 4


def lift_table(lake: LakeLift, frame: pd.DataFrame) -> Table:
    """Lay out the hours about the best time at the net with most tagged fish."""
    nets = lake.seen.nets
    here = frame[(frame["lake"] == lake.seen.lake) & (frame["time"] == clock(lake.best))]
    net = str(here["net"].iloc[int(here["tagged_fish_median"].to_numpy().argmax())])
    mine = frame[(frame["lake"] == lake.seen.lake) & (frame["net"] == net)].set_index("time")
    at: dict[str, Any] = {str(time): row for time, row in mine.iterrows()}
    with_catch = lake.fish_per_tag is not None
    rows = []
    for hours in range(-_HOURS_ABOUT, _HOURS_ABOUT + 1):
        time = clock((lake.best + 2 * hours) % SLOTS)
        row = at[time]
        cells = [
            words(time),
            _cell(row, "tagged_fish"),
            _cell(row, "share_of_tags", times=100.0),
            _cell(row, "relative_to_best", times=100.0, show=lambda value: f"{value:.0f}"),
            *([_cell(row, "catch", show=lambda value: f"{value:,.0f}")] if with_catch else []),
        ]
        rows.append(tuple(cells))
    headings = (
        "Tagged fish",
        "Of all tagged, %",
        "Of the best, %",
        *(["Catch, fish"] if with_catch else []),
    )
    others = "" if len(nets) == 1 else " (the other nets have the same hours)"
    return Table(
        f"{lake.seen.lake}, net {net}: fish at the net by hour, median and 90 % interval{others}",
        (Column("Time", "whole"), *(Column(heading, "number") for heading in headings)),
        tuple(rows),
        heads=1,
        dense=True,
    )


def _cell(
    row: Any, name: str, *, times: float = 1.0, show: Callable[[float], str] = amount
) -> Cell:
    low, median, high = (times * float(row[f"{name}_{end}"]) for end in ("low", "median", "high"))
    return interval(low, median, high, show)
