"""What each next measurement is worth, lake by lake."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.display.table import ABSENT, Cell, Column, Source, Table, words
from fishdown.words import percent_with_error

if TYPE_CHECKING:
    from collections.abc import Callable

_WORDS = {
    "pen": (" marked fish in a pen", ""),
    "antenna": (" tags", "antenna, "),
    "second_gear": (" fish", "second gear, "),
    "weights": (" fish weighed", ""),
}


def worth_table(worth: Source) -> Table:
    """Lay out the measurements of all lakes, the one that narrows most first."""
    frame = worth.frame
    rows: list[tuple[Cell, ...]] = []
    for row in range(len(frame)):
        again = row > 0 and frame["lake"].iloc[row] == frame["lake"].iloc[row - 1]
        absent = worth.missing(row)
        ratio = words(absent)
        if not pd.isna(frame["ratio_now"].iloc[row]):
            now, then = (
                worth.number(row, name, _one_digit) for name in ("ratio_now", "ratio_expected")
            )
            ratio = Cell(((now, " → ", then),))
        rows.append(
            (
                words("") if again else worth.words(row, "lake"),
                _measurement(worth, row),
                _with_error(worth, row, "narrower", _percent, absent),
                ratio,
                _with_error(worth, row, "firm_expected", percent_with_error, absent),
            )
        )
    return Table(
        "What one more measurement would tell of the biomass left",
        (
            Column("Lake"),
            Column("Measurement", "whole"),
            Column("Narrower by", "number"),
            Column("High over\nlow end", "number"),
            Column("Chance of a\nfirm verdict", "number"),
        ),
        tuple(rows),
        notes=(
            "Expected before the measurement is made. High over low end: how many times as high "
            "the high end of the 90 % interval is, now and then. Narrower: by how much the "
            "interval shrinks, in factors. Firm: surer than 90 %, below or above the threshold. "
            "± is the standard error of the computation."
        ),
    )


def measurement_words(worth: Source, row: int) -> str:
    """Return what would be measured, in words."""
    return str(_measurement(worth, row))


def _measurement(worth: Source, row: int) -> Cell:
    name = worth.frame["measurement"].iloc[row]
    if name not in _WORDS:
        return words("all together" if name == "all" else ABSENT)
    after, before = _WORDS[name]
    return Cell(((before, worth.number(row, "fish", _whole), after),))


def _with_error(
    worth: Source, row: int, name: str, show: Callable[[float, float], str], absent: str
) -> Cell:
    column = {"narrower": "narrower_mc_error", "firm_expected": "firm_mc_error"}[name]
    error = float(worth.frame[column].iloc[row])
    return worth.cell(row, name, show=lambda value: show(value, error), absent=absent)


def _percent(share: float, error: float) -> str:
    """Write a change in percent, which may be on either side of 0."""
    number = f"{100.0 * share:.0f}".replace("-0", "0").replace("-", "−")
    return f"{number} ± {max(100.0 * error, 1.0):.0f} %"


def _whole(value: float) -> str:
    return f"{value:.0f}"


def _one_digit(value: float) -> str:
    return f"{value:.1f}"
