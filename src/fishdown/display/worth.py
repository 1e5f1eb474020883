"""What each next measurement is worth, lake by lake."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fishdown.display.table import ABSENT, WITHHELD, Cell, Column, Table, words
from fishdown.records.tables import rows_of
from fishdown.words import percent_with_error

if TYPE_CHECKING:
    import pandas as pd

NAMES = {
    "pen": "{fish:.0f} marked fish in a pen",
    "antenna": "antenna, {fish:.0f} tags",
    "second_gear": "second gear, {fish:.0f} fish",
    "weights": "{fish:.0f} fish weighed",
    "all": "all together",
}


def worth_table(frame: pd.DataFrame) -> Table:
    """Lay out the measurements of all lakes, the one that narrows most first."""
    rows, last = [], None
    for row in rows_of(frame):
        lake = words("" if row.lake == last else str(row.lake))
        last = row.lake
        if not isinstance(row.measurement, str):
            why = words(WITHHELD if row.gate != "passed" else ABSENT)
            rows.append((lake, words(ABSENT), why, words(ABSENT), words(ABSENT)))
            continue
        rows.append((lake, words(measurement_words(row)), *_numbers(row)))
    return Table(
        "What one more measurement would tell of the biomass left",
        (
            Column("Lake"),
            Column("Measurement", "whole"),
            Column("Narrower\nby, %", "number"),
            Column("High over\nlow end", "number"),
            Column("Firm verdict\nthen, %", "number"),
        ),
        tuple(rows),
        notes=(
            "Expected before the measurement is made. Narrower: by how much the logarithm of the "
            "ratio of the ends of the 90 % interval falls. Firm: surer than 90 %, either way. ± is "
            "the Monte-Carlo standard error."
        ),
        heads=2,
    )


def measurement_words(row: Any) -> str:
    """Return what would be measured, in words."""
    return NAMES[row.measurement].format(fish=row.fish)


def _numbers(row: Any) -> tuple[Cell, Cell, Cell]:
    narrower, error = 100.0 * row.narrower, 100.0 * row.narrower_mc_error
    return (
        words(f"{narrower:.0f} ± {max(error, 1.0):.0f}"),
        words(f"{row.ratio_now:.1f} → {row.ratio_expected:.1f}"),
        words(percent_with_error(row.firm_expected, row.firm_mc_error)),
    )
